"""Strict bounds, and timed conditions that only a requirement reads: what an exploration on whole ticks
declines, both Z3 engines decide. The oracle is asked on a finer grid (`finer.py` says why that is exact),
and runs that are longer than it is exact for are replayed instead."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from finer import LONGEST, Strict, Timely, fine_case
from proving import Answered, proved_differences
from systems import Maker, text_of

MAKERS: dict[str, Callable[[int], Maker]] = {"strict bounds": Strict, "own timed conditions": Timely}
STRETCHES, SYSTEMS, ASKED = 4, 40, 2


def fine_cases(kind: str, stretch: int) -> Iterator[Answered]:
    """Usable systems with the answers of the finer oracle."""
    for seed in itertools.count(10_000 * (1 + stretch)):
        case = fine_case(MAKERS[kind](seed).spec(), seed)
        if case is not None and case.graph.states:
            yield Answered.by(case, LONGEST)


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_agree(kind: str, stretch: int) -> None:
    seen: Counter[str] = Counter()
    for one in itertools.islice(fine_cases(kind, stretch), SYSTEMS):
        for number in range(ASKED):
            requirement = one.system.requirements[(one.seed + number) % 5]
            found = list(proved_differences(one, requirement, seen))
            assert not found, "\n".join([f"seed {one.seed}", *found, text_of(one.spec)])
            seen["wrong" if one.lengths[requirement.id] is not None else "right"] += 1
    assert seen["declined"] <= 0.1 * SYSTEMS * ASKED
    assert min(seen["reach"], seen["bounded"]) >= 0.9 * seen["accepted"], seen
    assert min(seen["wrong"], seen["right"]) >= 0.2 * SYSTEMS * ASKED, seen


def test_a_strict_bound_is_seen() -> None:
    """The oracle's finer grid tells `under` from `at most`, and so do the engines."""
    spec = {
        "system": "strict",
        "inputs": {"b": "button"},
        "machines": {"m": {"states": ["a0", "a1"], "start": "a0", "rules": []}},
    }
    lengths = {}
    for takes in ("under 2 s", "at most 2 s"):
        rule = {"id": "m0", "from": "a0", "takes": takes, "to": "a1"}
        spec["machines"] = {"m": {"states": ["a0", "a1"], "start": "a0", "rules": [rule]}}
        spec["requirements"] = [
            {"id": "R1", "after": "m is a0", "expect": "m is a1", "within": "under 2 s"}
        ]
        case = fine_case(spec)
        assert case is not None
        assert not list(proved_differences(Answered.by(case), case.system.requirements[0]))
        lengths[takes] = case.lengths["R1"]
    assert lengths == {"under 2 s": None, "at most 2 s": 0}
