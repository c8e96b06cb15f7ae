"""Vacuity against the oracle: what never comes about, and what makes no difference.

Everything is worked out anew from the oracle's verdicts: on the requirement that the trigger never comes
about, and on each requirement that asks more at one place. Besides, that these do ask more is an argument
on paper (requirements/strengthening.py); here it is put to the test: wherever one of them holds, so must
the requirement itself.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator

import pytest
from compare import Case, case_of
from oracle import least_reactions
from systems import Maker

from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.vacuity import KINDS
from prioritylogic.model.system import Requirement
from prioritylogic.requirements.strengthening import Part, Strengthening
from prioritylogic.requirements.vacuity import trigger


def places(parts: tuple[Part, ...]) -> Iterator[Part]:
    for part in parts:
        yield part
        yield from places(part.parts)


def small_cases(first: int, count: int) -> Iterator[Case]:
    """Systems with so few states that much can be asked about each."""
    seeds = itertools.count(first * 1_000_000)
    found = (case_of(Maker(seed).spec(), seed, most=80) for seed in seeds)
    return itertools.islice((case for case in found if case is not None), count)


class Oracle:
    """The oracle's verdicts on other requirements of one case."""

    def __init__(self, case: Case) -> None:
        self._graph = case.graph
        self._known: dict[Requirement, bool] = {}

    def holds(self, requirement: Requirement) -> bool:
        if requirement not in self._known:
            self._known[requirement] = least_reactions(self._graph, requirement) is None
        return self._known[requirement]

    def idle(self, part: Part) -> bool:
        """Whether one may ask most at a place, and it still holds."""
        return part.stronger is not None and self.holds(part.stronger)

    def largest(self, parts: tuple[Part, ...]) -> Iterator[Part]:
        """The largest places that make no difference; one around a place that cannot be asked is none."""
        for part in parts:
            if all(map(self.idle, places((part,)))):
                yield part
            else:
                yield from self.largest(part.parts)


@pytest.mark.parametrize("stretch", [90, 91])
def test_agrees(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in small_cases(stretch, 60):
        oracle, taking = Oracle(case), Strengthening(case.system)
        result = check(case.system, (), Limits(states=20_000), Options(vacuity=True))
        notes = {issue.id for issue in result.findings if issue.kind in KINDS}
        for requirement, answer in zip(case.system.requirements, result.requirements, strict=True):
            name = (case.seed, requirement.id)
            parts = taking.parts(requirement)
            for part in places(parts):
                if oracle.idle(part):
                    assert case.verdict(requirement.id) == "holds", (name, part)
                    seen[f"idle {part.key}"] += 1
                elif part.stronger is not None:
                    seen["matters"] += 1
            if answer.verdict != "holds":
                assert answer.vacuous is None and not answer.vacuity
                continue
            waits = trigger(requirement, parts)
            if waits is not None and oracle.holds(waits.never):
                told, vacuous = {f"vacuous:{requirement.id}"}, True
            else:
                lazy = list(oracle.largest(parts))
                told = {f"needless-part:{requirement.id}.{part.key}" for part in lazy}
                vacuous = bool(lazy)
            own = {note for note in notes if note.split(":")[1].split(".")[0] == requirement.id}
            seen["vacuous" if answer.vacuity.startswith("vacuous") else str(answer.vacuous)] += 1
            if answer.vacuous is not None:
                assert (answer.vacuous, own) == (vacuous, told), name
    assert min(seen["vacuous"], seen["True"], seen["False"]) >= 8, seen
    assert seen["None"] <= 3, seen
