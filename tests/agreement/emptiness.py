"""What `check` says about vacuity, held against the oracle's verdicts on all the other requirements."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator

from compare import Case, case_of
from oracle import least_reactions
from systems import Maker

from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.vacuity import KINDS
from prioritylogic.evidence.results import Answer
from prioritylogic.model.system import Requirement
from prioritylogic.requirements.strengthening import Part, Strengthening
from prioritylogic.requirements.vacuity import trigger


def small_cases(first: int, count: int) -> Iterator[Case]:
    """Systems with so few states that much can be asked about each."""
    seeds = itertools.count(first * 1_000_000)
    found = (case_of(Maker(seed).spec(), seed, most=80) for seed in seeds)
    return itertools.islice((case for case in found if case is not None), count)


def places(parts: tuple[Part, ...]) -> Iterator[Part]:
    """All of these places, and those inside."""
    for part in parts:
        yield part
        yield from places(part.parts)


class Asked:
    """One case, with the oracle's verdicts on other requirements of it.

    Attributes:
        seen: how often which kind of answer was given.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.seen: Counter[str] = Counter()
        self._known: dict[Requirement, bool] = {}

    def holds(self, requirement: Requirement) -> bool:
        """The oracle's verdict."""
        if requirement not in self._known:
            self._known[requirement] = least_reactions(self.case.graph, requirement) is None
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

    def differences(self) -> Iterator[str]:
        """What is said otherwise than the oracle finds; and what asks less instead of more."""
        system = self.case.system
        taking = Strengthening(system)
        result = check(system, (), Limits(states=20_000), Options(vacuity=True))
        notes = {issue.id for issue in result.findings if issue.kind in KINDS}
        for requirement, answer in zip(system.requirements, result.requirements, strict=True):
            parts = taking.parts(requirement)
            for part in places(parts):
                self.seen["idle" if self.idle(part) else "matters"] += part.stronger is not None
                if self.idle(part) and self.case.verdict(requirement.id) != "holds":
                    yield f"{requirement.id} fails, and holds with {part.said} always {part.wanted}"
            if answer.verdict == "holds":
                yield from self._told(requirement, answer, parts, notes)

    def _told(
        self, requirement: Requirement, answer: Answer, parts: tuple[Part, ...], notes: set[str]
    ) -> Iterator[str]:
        waits = trigger(requirement, parts)
        if waits is not None and self.holds(waits.never):
            true, vacuous = {f"vacuous:{requirement.id}"}, True
        else:
            true = {f"needless-part:{requirement.id}.{part.key}" for part in self.largest(parts)}
            vacuous = bool(true)
        told = {note for note in notes if note.split(":")[1].split(".")[0] == requirement.id}
        never = answer.vacuity.startswith("vacuously")
        self.seen["vacuous" if never else str(answer.vacuous)] += 1
        if answer.vacuous is not None and (answer.vacuous, told) != (vacuous, true):
            yield f"{sorted(told)} is told of {requirement.id}, the oracle finds {sorted(true)}"
