"""The parts of a system that a check explores: the whole, and one for each different cone.

A part has one table, one exploration without a watch, and one second opinion, each made when first
asked for and then kept; a limit or a refusal met while making it is kept too.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from copy import copy
from functools import cached_property

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.cone import cone, influences
from prioritylogic.engines.explore import LOOKS, Explorer, PathStep, Reached
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.losing import event_facts
from prioritylogic.engines.questions import case_facts, courses, path_to
from prioritylogic.engines.recheck import Recheck, random_runs
from prioritylogic.engines.regions import UNIT, Regions
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Watch
from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import grouped
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Always, Possible, Requirement, RuleId, Seconds, System
from prioritylogic.requirements.observer import Observer
from prioritylogic.semantics.compile import Compiler, Declined
from prioritylogic.semantics.judgement import Observation, observations
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

RUNS, RUN_LENGTH = 3, 12
MOST_TICKS = 1_000  # of one duration
ENGINES = ("explorer", "reachability", "bounded search", "induction")


@dataclasses.dataclass(frozen=True)
class Options:
    """Switches. The reductions are all on by default; off, the answers are the same, and slower.

    Attributes:
        engines: those that may be asked.
        both: whether what one kind of engine decides is put to the other kind, too.
        slack: whether the tightest figure of each timed requirement that holds is looked for.
        vacuity: whether what holds is asked if it says something.
        witnesses: whether what holds is shown at work.
    """

    project: bool = True
    lazily: bool = True
    cones: bool = True
    engines: tuple[str, ...] = ENGINES
    both: bool = False
    slack: bool = False
    vacuity: bool = False
    witnesses: bool = False


class Part:
    """One part of a system under check.

    Args:
        system: the part.
        requirements: those asked of it, by number, with their observers.
        whole: whether it is the whole system (then the standing questions are asked of it too).
    """

    def __init__(
        self,
        system: System,
        requirements: Mapping[int, Requirement],
        observers: Mapping[int, Observer],
        limits: Limits,
        options: Options,
        whole: bool,
    ) -> None:
        self.system = system
        self.tick = tick_of(durations(system))
        self.dense = has_strict_bounds(system)
        self.reference = Reference(system)
        self.ended: Reached | None = None
        self._requirements = dict(requirements)
        self._observers = observers
        self._limits = limits
        self._options = options
        self._whole = whole
        self._stopped: Declined | LimitError | None = None
        self._tried = 0  # states, when it was stopped
        self._watched: dict[int, Reached] = {}
        self._declined: dict[int, Declined] = {}
        self._not_on_ticks: dict[int, Declined] = {}
        self._broken: dict[int, tuple[PathStep, ...] | None] = {}
        self._confirmed = ""
        self._safe: set[int] = set()
        self._smaller: dict[int, Part] = {}

    # ----------------------------------------------------------------- exploring

    @cached_property
    def table(self) -> Table:
        """The reaction table, ready for the facts of every requirement that it can read."""
        facts: list[Formula] = []
        for number in self._requirements:
            own = [fact.formula for fact in self._observers[number].facts]
            try:
                for formula in own:
                    Compiler(self.system).function(formula)
            except Declined as declined:
                self._declined[number] = declined
            else:
                facts += own
        if self._whole:
            facts += (*case_facts(self.system), *event_facts(self.system))
        options = self._options
        return Table(
            self.system,
            tuple(facts),
            options.project,
            options.lazily,
            limits=self._limits,
            dense=self.dense,
        )

    @cached_property
    def explorer(self) -> Explorer:
        """The exploration without a watch."""
        kind = Regions if self.dense else Explorer
        return kind(self.table, self.tick, self._limits)

    def explore(self) -> None:
        """Explores the part, once, or anew when more states are allowed than before. Raises Declined or
        LimitError, each time it is asked."""
        if self._stopped is not None and not self._more_is_explored():
            final = isinstance(self._stopped, Declined) or self._stopped.final
            if final or self._tried >= self._limits.states:
                raise self._stopped
            self.__dict__.pop("explorer", None)
            self._stopped = None
            self._broken.clear()
        if self._more_is_explored():
            raise LimitError(f"the work limit of {grouped(self._limits.states)} states was reached")
        if self.ended is None:
            try:
                self.ended = self.explorer.run()
            except (Declined, LimitError) as stop:
                self._stopped, self._tried = stop, self._limits.states
                raise

    def _more_is_explored(self) -> bool:
        """Whether it was explored with more work than is allowed now: then it does not count, so that an
        answer does not depend on which requirements were decided before, and where."""
        if self.ended is not None:
            return self.ended.nodes // LOOKS * LOOKS > self._limits.states
        stopped = self._stopped
        return (
            isinstance(stopped, LimitError) and not stopped.final and self._tried > self._limits.states
        )

    def within(self) -> Part:
        """The part as it is explored with no more work than is allowed now."""
        allowed = self._limits.states
        if not self._more_is_explored():
            return self
        if allowed not in self._smaller:
            twin = self._smaller[allowed] = copy(self)
            for name in ("explorer", "_recheck"):
                twin.__dict__.pop(name, None)
            twin.ended, twin._stopped, twin._tried = None, None, 0
            twin._broken, twin._safe, twin._smaller, twin._confirmed = {}, set(), {}, ""
        return self._smaller[allowed]

    def tick_for(self, number: int, requirement: Requirement) -> Seconds:
        """The tick on which a requirement is decided."""
        if self.stateless(number):
            return self.tick
        return tick_of([self.tick, *durations_of(self.system, requirement, self._observers[number])])

    def too_many_ticks(self, number: int | None = None) -> bool:
        """Whether the longest duration (that of a requirement included) has so many ticks that exploring
        is no good first thing to try."""
        times = durations(self.system)
        if number is not None and not self.stateless(number):
            requirement = self._requirements[number]
            times += durations_of(self.system, requirement, self._observers[number])
        return bool(times) and max(times) / tick_of(times) > MOST_TICKS

    def stateless(self, number: int) -> bool:
        """Whether a requirement is decided by looking at single reactions."""
        if not isinstance(self._requirements[number].form, Always | Possible):
            return False
        formulas = tuple(fact.formula for fact in self._observers[number].facts)
        return not observed_timers(self.system, formulas)

    def first_broken(self, number: int) -> tuple[PathStep, ...] | None:
        """The shortest path to a reaction that breaks a stateless requirement. Requires `explore`."""
        self._refuse(number)
        if number not in self._broken:
            self._broken[number] = self._look_for(number)
        return self._broken[number]

    def _look_for(self, number: int) -> tuple[PathStep, ...] | None:
        (fact,) = self._observers[number].facts
        true = self.table.parts.compiler.function(fact.formula)
        for node, course in courses(self.explorer):
            for holds, oracle in self.table.read(course, lambda: bool(true(course.reaction))):  # noqa: B023
                if not holds:
                    return path_to(self.explorer, node, course, oracle)
        return None

    def watched(self, number: int, requirement: Requirement) -> Reached:
        """The exploration with a requirement's observer."""
        table = self.table
        self._refuse(number)
        if number not in self._watched:
            tick, watching = self.tick_for(number, requirement), self._observers[number]
            try:
                if self.dense:
                    raise Declined(f"{strict_rule(self.system)} has a strict bound")
                watch = Watch(table, requirement, watching, tick)
                self._watched[number] = Explorer(table, tick, self._limits, watch).run()
            except Declined as inexact:
                watch = Watch(table, requirement, watching, tick, UNIT)
                self._watched[number] = Regions(table, tick, self._limits, watch).run()
                self._not_on_ticks[number] = inexact
        return self._watched[number]

    def clock(self, number: int) -> str:
        """What is said of the clocks that an answer rests on, if they are not the usual ticks."""
        why = f"{strict_rule(self.system)} has a strict bound" if self.dense else ""
        why = str(self._not_on_ticks.get(number, why))
        return f", on region clocks since {why}" if why else ""

    def adopt(self, number: int, requirement: Requirement) -> bool:
        """Takes one more requirement, if nothing else need be stored for it."""
        if not self.reads(tuple(fact.formula for fact in self._observers[number].facts)):
            return False
        self._requirements[number] = requirement
        return True

    def reads(self, formulas: tuple[Formula, ...]) -> bool:
        """Whether the table can be asked these formulas though nothing else is stored for them; then it
        can be from now on."""
        table, trial = self.table, Compiler(self.system)
        for formula in formulas:
            trial.function(formula)
        known = table.parts.compiler.latches
        if not trial.remembered <= table.remembered or any(x not in known for x in trial.latches):
            return False
        for formula in formulas:
            table.parts.compiler.function(formula)
        table.prepare_cuts()
        return True

    def _refuse(self, number: int) -> None:
        assert self.table is not None
        if number in self._declined:
            raise self._declined[number]

    def complete(self, number: int) -> bool:
        """Whether the search behind an answer was not cut short by a limit."""
        if number in self._watched:
            return self._watched[number].complete
        return self.ended is not None

    def states(self, number: int) -> int:
        """How many states an answer rests on."""
        if number in self._watched:
            return self._watched[number].nodes
        assert self.ended is not None
        return self.ended.nodes

    # ----------------------------------------------------------------- the second opinion

    @cached_property
    def _recheck(self) -> Recheck:
        return Recheck(self.explorer, self.reference)

    def confirm(self, number: int | None = None) -> str:
        """The reference's opinion of the explored set, and of its safety for every stateless
        requirement that holds on it, this one (taken up later, perhaps) included. Requires
        `explore`."""
        if not self._confirmed or (number is not None and self._unasked(number)):
            safe = {n for n in self._requirements if self._is_safe(n)}
            facts = (self._observers[n].facts[0] for n in sorted(safe))
            self._confirmed = self._recheck.confirm(tuple(fact.formula for fact in facts))
            self._safe = safe
        return self._confirmed

    def _is_safe(self, number: int) -> bool:
        """Whether a requirement is stateless and holds on what was explored."""
        if number in self._declined or not self.stateless(number):
            return False
        return self.first_broken(number) is None

    def _unasked(self, number: int) -> bool:
        return number not in self._safe and self._is_safe(number)

    @cached_property
    def random_runs(self) -> list[tuple[Run, list[Observation]]]:
        """A few seeded random runs of the reference, with what a requirement sees of them that has
        no timed condition of its own."""
        ticks = [self.tick_for(n, r) for n, r in self._requirements.items() if n not in self._declined]
        runs = random_runs(self._recheck, tick_of([self.tick, *ticks]), RUNS, RUN_LENGTH)
        return [(run, observations(self.reference, run, ())) for run in runs]


def has_strict_bounds(system: System) -> bool:
    """Whether a rule has a bound that is never reached."""
    return bool(strict_rule(system))


def strict_rule(system: System) -> RuleId:
    """The first rule with a bound that is never reached, or ""."""
    for rule in (rule for machine in system.machines for rule in machine.rules):
        takes = rule.takes
        if (rule.delay and rule.delay.strict) or (takes and (takes.low_strict or takes.high_strict)):
            return rule.id
    return ""


def durations_of(system: System, requirement: Requirement, watching: Observer) -> list[Seconds]:
    """The durations of a requirement, those of its own timed conditions included."""
    timers = observed_timers(system, tuple(fact.formula for fact in watching.facts))
    own = [] if watching.figure is None else [watching.figure]
    return [time for time in (*own, *(system.timed[timer].time for timer in timers)) if time]


def parts_for(
    system: System,
    requirements: list[Requirement],
    observers: Mapping[int, Observer],
    limits: Limits,
    options: Options,
) -> tuple[Part, dict[int, Part]]:
    """The whole system as a part, and for each requirement (by number) the part to decide it on;
    requirements with equal cones share one."""
    cones: dict[tuple[object, ...], tuple[System, list[int]]] = {}
    whole = signature(system)
    pairs = influences(system)
    cones[whole] = (system, [])
    for number, watching in observers.items():
        formulas = [fact.formula for fact in watching.facts]
        part = cone(system, formulas, pairs) if options.cones else system
        kept, numbers = cones.setdefault(signature(part), (part, []))
        numbers.append(number)
        if kept is not system:
            cones[signature(part)] = (joined(system, kept, part), numbers)
    parts: dict[int, Part] = {}
    found: dict[tuple[object, ...], Part] = {}
    for key, (part, numbers) in cones.items():
        asked = {number: requirements[number] for number in numbers}
        found[key] = Part(part, asked, observers, limits, options, whole=key == whole)
        parts.update((number, found[key]) for number in numbers)
    return found[whole], parts


def signature(system: System) -> tuple[object, ...]:
    """What tells two cones of one system apart. Not the inputs: one that nothing asks about costs
    nothing, so cones that differ only there are one."""
    return (
        tuple(machine.name for machine in system.machines),
        tuple(variable.name for variable in system.memory),
        tuple(alert.name for alert in system.alerts),
        tuple(timed.observed for timed in system.timed),
    )


def joined(system: System, one: System, other: System) -> System:
    """Two cones that differ at most in their inputs and assumptions, as one."""
    inputs = {variable.name for variable in (*one.inputs, *other.inputs)}
    assumptions = {(a.id, a.member) for a in (*one.assumptions, *other.assumptions)}
    return dataclasses.replace(
        one,
        inputs=tuple(variable for variable in system.inputs if variable.name in inputs),
        assumptions=tuple(a for a in system.assumptions if (a.id, a.member) in assumptions),
    )
