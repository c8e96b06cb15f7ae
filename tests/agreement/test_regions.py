"""The explorer on region clocks against the oracle on a finer grid; and faults planted there are noticed."""

from __future__ import annotations

from collections import Counter

import pytest
from compare import Case, verdict_differences
from finer import Strict, Timely, fine_case

from prioritylogic.engines import regions
from prioritylogic.engines.check import check
from prioritylogic.engines.clockwork import Clockwork
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.errors import DisagreementError

ALONE = Options(engines=("explorer",))
MAKERS = {"strict bounds": Strict, "own timed conditions": Timely}


def differences(case: Case, seen: Counter[str]) -> list[str]:
    """What the explorer says otherwise than the oracle; a disagreement with the reference, too."""
    try:
        result = check(case.system, (), Limits(states=30_000), ALONE)
    except DisagreementError as error:
        return [str(error)]
    seen.update(answer.verdict for answer in result.requirements)
    return [found for found in verdict_differences(case, result) if "takes more than" not in found]


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("stretch", [0, 1])
def test_agree(kind: str, stretch: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(5_000 + 45 * stretch, 5_045 + 45 * stretch):
        case = fine_case(MAKERS[kind](seed).spec(), seed)
        if case is not None:
            assert not differences(case, seen), (kind, seed)
    assert min(seen["holds"], seen["fails"]) >= 30
    if kind == "strict bounds":
        assert seen["undecided"] <= 0.05 * sum(seen.values())


def never_barred(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(regions.Explorer, "clockwork", _changed(lambda work: work._replace(barred=())))


def offered_at_once(patch: pytest.MonkeyPatch) -> None:
    def early(work: Clockwork) -> Clockwork:
        return work._replace(
            offers=tuple((place, low - low % 64, bit) for place, low, bit in work.offers)
        )

    patch.setattr(regions.Explorer, "clockwork", _changed(early))


def _changed(change):  # type: ignore[no-untyped-def]
    real = regions.Explorer.clockwork
    return lambda explorer, still: change(real(explorer, still))


def all_come_together(patch: pytest.MonkeyPatch) -> None:
    def passed(figures, running):  # type: ignore[no-untyped-def]
        moving = regions.live(figures, running)
        if any(figures[place] % 64 == 0 for place in moving):
            for place in moving:
                figures[place] += 1
        else:
            for place in moving:
                figures[place] += 64 - figures[place] % 64
        return figures

    patch.setattr(regions, "passed", passed)


@pytest.mark.parametrize("fault", [never_barred, offered_at_once, all_come_together])
def test_a_fault_is_noticed(fault, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    fault(monkeypatch)
    for seed in range(5_000, 5_200):
        case = fine_case(Strict(seed).spec(), seed)
        if case is not None and differences(case, Counter()):
            return
    pytest.fail("nothing was noticed")
