"""Runs without an end: the engine against an oracle that walks the reference on quarter ticks; on whole
ticks, on region clocks, without reductions; and faults planted in the engine are noticed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from functools import cache

import pytest
from forever import Case, case_of, cases
from phrases import Spec
from shrink import shrunk
from systems import text_of

from prioritylogic.engines import cycles, joint
from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options, has_strict_bounds

ALONE = Options(engines=("explorer",))
PLAIN = Options(engines=("explorer",), project=False, lazily=False, cones=False)


def differences(case: Case, options: Options, seen: Counter[str]) -> Iterator[str]:
    """What the engine says otherwise than the oracle. With strict bounds there are runs between the
    oracle's ticks; one that is found is replayed and judged, so only what holds is compared."""
    try:
        result = check(case.system, (), Limits(states=20_000), options)
    except Exception as error:  # whatever it is, it is the finding
        yield f"check raises {type(error).__name__}: {error}"
        return
    for answer in result.requirements:
        true = case.verdicts[answer.id]
        seen[answer.verdict] += answer.engine == "cycles"
        seen["loops"] += answer.trace is not None and answer.trace.loop is not None
        missed = answer.verdict == "fails" and has_strict_bounds(case.system)
        if answer.verdict not in ("undecided", true) and true is not None and not missed:
            yield f"{answer.id} {answer.form}: {answer.verdict}, the oracle says it {true}"


def agree(found: Iterable[Case], options: Options = ALONE) -> Counter[str]:
    """Checks all these systems; shows the smallest that still differs, if one does."""
    seen: Counter[str] = Counter()
    for case in found:
        if any(differences(case, options, seen)):

            def fails(spec: Spec) -> bool:
                smaller = case_of(spec)
                return smaller is not None and any(differences(smaller, options, Counter()))

            pytest.fail(f"seed {case.seed}:\n{text_of(shrunk(case.spec, fails, 300))}")
    return seen


@cache
def systems(stretch: int) -> tuple[Case, ...]:
    """Some systems of a stretch; the oracle is asked about them once."""
    return tuple(cases(stretch, 27))


@pytest.mark.parametrize("stretch", [90, 91, 92])
def test_agrees(stretch: int) -> None:
    seen = agree(systems(stretch))
    assert min(seen["holds"], seen["fails"], seen["loops"]) >= 15


def test_agrees_on_region_clocks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cycles, "needs_regions", lambda system, asked: True)
    seen = agree(systems(90)[:20])
    assert min(seen["holds"], seen["fails"], seen["loops"]) >= 8


def test_agrees_without_reductions() -> None:
    seen = agree(systems(90)[20:], PLAIN)
    assert min(seen["holds"], seen["fails"], seen["loops"]) >= 5


# --------------------------------------------------------------------------- planted faults


def fairness_does_not_bind(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(joint, "strong_rules", lambda system: [])


def delays_may_last_for_ever(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(joint, "weak_rules", lambda system: [])


def rest_frees_no_rule(patch: pytest.MonkeyPatch) -> None:
    real = joint.Joint.waiting

    def waiting(self, joined, ready):  # type: ignore[no-untyped-def]
        return real(self, joined, ready) & ~sum(can for can, _ in self.pairs)

    patch.setattr(joint.Joint, "waiting", waiting)


def reactions_free_no_rule(patch: pytest.MonkeyPatch) -> None:
    real = joint.Joint._met

    def met(self, course):  # type: ignore[no-untyped-def]
        return real(self, course) & ~sum(can for can, _ in self.pairs)

    patch.setattr(joint.Joint, "_met", met)


def time_may_stand_still(patch: pytest.MonkeyPatch) -> None:
    real = cycles.fair_components
    patch.setattr(
        cycles, "fair_components", lambda steps, goals, pairs: real(steps, goals & ~joint.TIME, pairs)
    )


def starved_components_are_given_up(patch: pytest.MonkeyPatch) -> None:
    real = cycles.fair_components

    def found(steps, goals, pairs):  # type: ignore[no-untyped-def]
        return [
            inner
            for inner in real(steps, goals, [])
            if all(
                not any(s.marks & can for s in inner) or any(s.marks & does for s in inner)
                for can, does in pairs
            )
        ]

    patch.setattr(cycles, "fair_components", found)


def assumed_answers_may_be_owed(patch: pytest.MonkeyPatch) -> None:
    real = joint.Joint.__init__

    def made(self, *given):  # type: ignore[no-untyped-def]
        real(self, *given)
        self.goals = [goal for goal in self.goals if goal not in self._answer_bits]

    patch.setattr(joint.Joint, "__init__", made)


def assumed_figures_do_not_matter(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        joint.Joint, "judged", lambda self, joined, clocks: (joined, (0,) * len(clocks), False)
    )


def nothing_need_come_again(patch: pytest.MonkeyPatch) -> None:
    real = joint.Joint.__init__

    def made(self, *given):  # type: ignore[no-untyped-def]
        real(self, *given)
        self.goals = [goal for goal in self.goals if goal not in self.again_bits]

    patch.setattr(joint.Joint, "__init__", made)


FAULTS: list[Callable[[pytest.MonkeyPatch], None]] = [
    fairness_does_not_bind,
    delays_may_last_for_ever,
    rest_frees_no_rule,
    reactions_free_no_rule,
    time_may_stand_still,
    starved_components_are_given_up,
    assumed_answers_may_be_owed,
    assumed_figures_do_not_matter,
    nothing_need_come_again,
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_is_noticed(
    fault: Callable[[pytest.MonkeyPatch], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    known = (case for stretch in (90, 91, 92) for case in systems(stretch))
    with monkeypatch.context() as patch:
        fault(patch)
        assert any(any(differences(case, ALONE, Counter())) for case in known)
