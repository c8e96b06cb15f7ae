"""The explorer as an engine: exploration of parts, with the reference's second opinion."""

from __future__ import annotations

from collections.abc import Mapping

from prioritylogic.engines.cone import names_in, names_read
from prioritylogic.engines.explore import PathStep
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options, Part, parts_for
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.replay import replay
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Possible, Requirement, System
from prioritylogic.requirements.observer import Observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reading import observed_timers


class Exploring:
    """Decides by meeting every reachable state in whole ticks. Work is counted in states.

    Attributes:
        whole: the whole system as a part.
    """

    name = "explorer"

    def __init__(
        self,
        system: System,
        requirements: list[Requirement],
        observers: Mapping[int, Observer],
        limits: Limits,
        options: Options,
    ) -> None:
        self.system = system
        self._requirements = requirements
        self._observers = observers
        self._limits = limits
        self._options = options
        self.whole, self._parts = parts_for(system, requirements, observers, limits, options)

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Explores; see the protocol."""
        requirement = self._requirements[number]
        with self._limits.at_most(work):
            part = self._whole_for(number, requirement) if whole else self._parts[number]
            if part.stateless(number):  # the others are explored each by itself
                part = part.within()
            path = self._search(part, number, requirement)
            if path is None:
                return self._unbroken(part, number, requirement)
            if part.system is not self.system:
                return Broken()
            run = replay(part.reference, part.table.cells, part.tick_for(number, requirement), path)
            return Broken(run, part.complete(number))

    def add(self, number: int, like: int) -> None:
        """Takes up a requirement that has been added, on the part of another one; on the whole, if that
        one reads less (where constants decide about one member, nothing may be left of it)."""
        part, requirement = self._parts.get(like, self.whole), self._requirements[number]
        read = names_read(self.system, [fact.formula for fact in self._observers[number].facts])
        if not read <= names_in(part.system):
            part = self.whole
        try:
            adopted = part.adopt(number, requirement)
        except Declined:  # to be met when it is asked about
            adopted = False
        if not adopted:
            asked = {number: requirement}
            part = Part(part.system, asked, self._observers, self._limits, self._options, whole=False)
        self._parts[number] = part

    def explored(self, number: int, work: int) -> bool:
        """Whether the whole, explored with so much work, can be asked about a requirement as it is."""
        if self.whole.ended is None or number not in self._parts or self.whole.too_many_ticks():
            return False
        try:
            with self._limits.at_most(work):
                self.whole.explore()  # with more than that it does not count
            return self._whole_for(number, self._requirements[number]) is self.whole
        except (Declined, LimitError):
            return False

    def too_many_ticks(self, number: int) -> bool:
        """Whether to ask another engine first; see `Part`."""
        return self._parts[number].too_many_ticks(number)

    def release(self) -> None:
        """Lets go of what was explored. Its parts hold each other, and a collector that has to find that
        out looks at millions of things."""
        for part in (self.whole, *self._parts.values()):
            part.__dict__.clear()

    def _whole_for(self, number: int, requirement: Requirement) -> Part:
        """The whole system as a part that can decide this requirement."""
        if self._parts[number] is self.whole or self.whole.adopt(number, requirement):
            return self.whole
        asked = {number: requirement}
        return Part(self.system, asked, self._observers, self._limits, self._options, whole=False)

    def _search(self, part: Part, number: int, requirement: Requirement) -> tuple[PathStep, ...] | None:
        """The shortest path that breaks the requirement, or None."""
        if part.stateless(number):
            try:
                part.explore()
            except LimitError:  # a failure among what was explored stands
                path = part.first_broken(number)
                if path is None:
                    raise
                return path
            return part.first_broken(number)
        return part.watched(number, requirement).broken

    def _unbroken(self, part: Part, number: int, requirement: Requirement) -> Unbroken:
        """What is said when no run breaks the requirement, after the second opinion."""
        part.explore()
        confirmed = part.confirm(number)
        for run, seen in part.random_runs:
            own = observed_timers(self.system, requirement.formulas)
            judgement = Judgement(part.reference, requirement, run, None if own else seen)
            possible = isinstance(requirement.form, Possible)
            if judgement.reached() is not None if possible else judgement.failure():
                raise DisagreementError(f"{requirement.id}: a random run of the reference breaks it")
        states = counted(part.states(number), "state")
        if part.system is not self.system:
            states += " of the part that it depends on"
        states += part.clock(number)
        runs = counted(len(part.random_runs), "random run")
        brief = f"exhaustive over {states}"
        return Unbroken(f"{brief}; {confirmed}, and judged {runs}", brief)
