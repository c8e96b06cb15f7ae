"""Deciding requirements: on its cone first, on the whole system where that does not settle it.

What holds on the cone holds (cone.py). What breaks there is looked for again on the whole system: only
its runs are runs, and the shortest one there is wanted. The cones are small, so they come first, and
a limit that the whole system runs into does not take their answers away.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TypeAlias

from prioritylogic.engines.explore import PathStep
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options, Part, parts_for
from prioritylogic.engines.recheck import amount
from prioritylogic.engines.replay import replay
from prioritylogic.engines.simplify import simplify
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.results import Trace, Verdict
from prioritylogic.model.system import Possible, Recoverable, Requirement, Seconds, System
from prioritylogic.requirements.observer import Observer, observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

Decision: TypeAlias = tuple[Verdict, str, Trace | None]


class Deciding:
    """The requirements of one check.

    Attributes:
        whole: the whole system as a part.
    """

    def __init__(
        self, system: System, requirements: list[Requirement], limits: Limits, options: Options
    ) -> None:
        self.system = system
        self.requirements = requirements
        self.reference = Reference(system)
        self._limits = limits
        self._options = options
        self._observers: dict[int, Observer] = {}
        for number, requirement in enumerate(requirements):
            watching = observer(requirement)
            if watching is not None:
                self._observers[number] = watching
        self.whole, self._parts = parts_for(system, requirements, self._observers, limits, options)
        self._decided: dict[int, Decision] = {}

    def on_cones(self) -> None:
        """Decides what a smaller part of the system decides."""
        for number, part in self._parts.items():
            if part.system is not self.system:
                requirement = self.requirements[number]
                try:
                    if self._search(part, number, requirement) is None:
                        self._decided[number] = self._unbroken(part, number, requirement)
                except (Declined, LimitError) as stop:
                    self._decided[number] = ("undecided", undecided_reason(stop), None)

    def answer(self, number: int) -> Decision:
        """The decision on a requirement; on the whole system if nothing smaller has settled it."""
        if number not in self._decided:
            try:
                self._decided[number] = self._on_the_whole(number, self.requirements[number])
            except (Declined, LimitError) as stop:
                self._decided[number] = ("undecided", undecided_reason(stop), None)
        return self._decided[number]

    def _on_the_whole(self, number: int, requirement: Requirement) -> Decision:
        if number not in self._observers:
            needs = "recoverable" if isinstance(requirement.form, Recoverable) else "an answer some day"
            return "undecided", f"{needs} needs the cycle engine, which is not there yet", None
        part = self._whole_for(number, requirement)
        path = self._search(part, number, requirement)
        if path is None:
            return self._unbroken(part, number, requirement)
        trace = self._trace(part, number, requirement, path)
        possible = isinstance(requirement.form, Possible)
        bound = [a for a in self.system.assumptions if a.holds is None and a.id in requirement.assuming]
        if bound:
            found = "some run gets there" if possible else "some run breaks it"
            reason = f"{found}, but whether {bound[0].id} holds in that run needs the cycle engine"
            return "undecided", reason, None
        if possible:
            return "holds", f"reached after {amount(trace.steps, 'reaction')}; the run is shown", trace
        run = "shortest run" if part.complete(number) else "a run, not always the shortest at a limit"
        return "fails", f"{trace.note}; {run}, replayed by the reference", trace

    def _whole_for(self, number: int, requirement: Requirement) -> Part:
        """The whole system as a part that can decide this requirement."""
        if self._parts[number] is self.whole or self.whole.adopt(number, requirement):
            return self.whole
        asked = {number: requirement}
        return Part(self.system, asked, self._observers, self._limits, self._options, whole=False)

    def _search(self, part: Part, number: int, requirement: Requirement) -> tuple[PathStep, ...] | None:
        """The shortest path that breaks the requirement (reaches what is `possible`), or None."""
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

    def _unbroken(self, part: Part, number: int, requirement: Requirement) -> Decision:
        """The verdict when no run breaks the requirement, after the second opinion."""
        part.explore()
        confirmed = part.confirm(number)
        for run, seen in part.random_runs:
            own = observed_timers(self.system, requirement.formulas)
            judgement = Judgement(part.reference, requirement, run, None if own else seen)
            possible = isinstance(requirement.form, Possible)
            if judgement.reached() is not None if possible else judgement.failure():
                raise DisagreementError(f"{requirement.id}: a random run of the reference breaks it")
        counted = amount(part.states(number), "state")
        states = counted if part.system is self.system else f"{counted} of the part that it depends on"
        runs = amount(len(part.random_runs), "random run")
        reason = f"exhaustive over {states}; {confirmed}, and judged {runs}"
        if isinstance(requirement.form, Possible):
            return "fails", f"no run gets there ({reason})", None
        return "holds", reason, None

    def _trace(
        self, part: Part, number: int, requirement: Requirement, path: tuple[PathStep, ...]
    ) -> Trace:
        """The path as a run, judged by the reference.

        Raises:
            DisagreementError: the reference does not see the failure there.
        """
        run = self.replay(part, part.tick_for(number, requirement), path)
        place = self._shown(requirement, run)
        if place is None:
            raise DisagreementError(
                f"{requirement.id}: the reference does not see this at the run's end"
            )
        run = simplify(self.reference, run, lambda other: self._shown(requirement, other) == place)
        shown = self._shown(requirement, run)
        assert shown is not None
        return Trace(run, shown[0], shown[1], at=shown[2])

    def _shown(self, requirement: Requirement, run: Run) -> tuple[int | None, str, Seconds] | None:
        """Where a run fails (or reaches what is `possible`) and how, if that is at its very end."""
        judgement = Judgement(self.reference, requirement, run)
        last = len(run.moments) - 1
        if isinstance(requirement.form, Possible):
            reached = judgement.reached()
            if reached is None or judgement.seen[reached].moment not in (None, last):
                return None
            return judgement.seen[reached].moment, "it is reached here", judgement.seen[reached].time
        failure = judgement.failure()
        if failure is None or failure.moment not in (None, last):
            return None
        return failure.moment, failure.why, failure.time

    def replay(self, part: Part, tick: Fraction, path: tuple[PathStep, ...]) -> Run:
        """A path of an exploration of the whole system as a run of the reference."""
        assert part.system is self.system, "runs are runs of the whole system"
        return replay(self.reference, part.table.cells, tick, path)


def undecided_reason(stop: Declined | LimitError) -> str:
    """Why something is undecided, and what would help."""
    if isinstance(stop, LimitError):
        kinds = [kind for kind in ("time", "memory") if kind in str(stop)]
        more = "".join(f"more {kind} (`--{kind}-limit`), " for kind in kinds)
        return f"{stop}; {more}one requirement alone (`--only`) or a smaller spec would help"
    reason = f"not applicable: exploring whole ticks is not exact here, because {stop}"
    if "strict bound" in str(stop):
        reason += "; closed bounds (`after: T`, `takes: at most T`) can be decided today"
    return reason
