"""The oracle: every run of the reference on quarter ticks, asked about every requirement.

Nothing of the engines is used. `Graph` takes every step that `semantics/reference.py` knows: all
inputs (of a lever: the given figures, at least each limit and one between any two), all subsets of the timers that are
due, all outcomes, and time in steps of a quarter of the greatest common divisor of all durations,
so that what happens between whole ticks happens here too. `Search` joins a requirement's observer to
it and finds the fewest reactions to a failure.

Source of "quarter": the difference of two instants inside a tick is enough to tell <, = and > apart,
which halves would nearly do; quarters leave room for three different instants (no source; ours).
"""

from __future__ import annotations

import itertools
import math
import random
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Real, Requirement, System
from prioritylogic.requirements.observer import Effect, Fact, Mode, Observer, observer
from prioritylogic.semantics.reference import Reference, next_phase
from prioritylogic.semantics.state import Moment, Phase, Run, State, Timer, View


class TooBig(Exception):  # noqa: N818 - no error: another system is taken
    """More states than the oracle is given time for."""


def all_durations(system: System) -> list[Fraction]:
    """Every duration of a system and its requirements."""
    found: list[Fraction | None] = [timed.time for timed in system.timed]
    for rule in (rule for machine in system.machines for rule in machine.rules):
        found += [rule.delay.time] if rule.delay else []
        found += [rule.takes.low, rule.takes.high] if rule.takes else []
    for alert in system.alerts:
        found += [alert.repeat, alert.silence_for]
    for requirement in system.requirements:
        watching = observer(requirement)
        found += [watching.figure] if watching else []
    return [time for time in found if time]


def quarter_tick(system: System) -> Fraction:
    """A quarter of the greatest common divisor of all durations (of 1 s if there are none)."""
    times = all_durations(system) or [Fraction(1)]
    below = math.lcm(*(time.denominator for time in times))
    return Fraction(math.gcd(*(int(time * below) for time in times)), 4 * below)


def subsets(timers: frozenset[Timer]) -> Iterator[frozenset[Timer]]:
    """Every subset, in a fixed order."""
    ordered = sorted(timers)
    for size in range(len(ordered) + 1):
        yield from map(frozenset, itertools.combinations(ordered, size))


class Graph:
    """Everything reachable, in steps of `step`.

    Attributes:
        states: by number. moments: by number, each with the number of the state it leads to (None:
            a value out of range ended the run). ways: for each state the numbers of its moments.
        later: for each state the one a step of time later, None if no time may pass.
    """

    def __init__(self, system: System, figures: list[Fraction], most: int = 10_000) -> None:
        self.system = system
        self.reference = Reference(system)
        self.step = quarter_tick(system)
        levers = [v.name for v in system.inputs if isinstance(v.domain, Real)]
        self.figures = dict.fromkeys(levers, figures)
        self.states: list[State] = []
        self.moments: list[tuple[Moment, int | None]] = []
        self.ways: list[list[int]] = []
        self.later: list[int | None] = []
        self._ids: dict[State, int] = {}
        self._readings: dict[int, tuple[View, View]] = {}
        self._most = most
        self.starts = [
            self._met(moment)
            for inputs in self.reference.input_choices(None, self.figures)
            for moment in self.reference.starts(inputs)
        ]
        while len(self.ways) < len(self.states):
            self._leave(self.states[len(self.ways)])

    def _met(self, moment: Moment) -> int:
        self.moments.append((moment, None if moment.out_of_range else self._id(moment.after)))
        return len(self.moments) - 1

    def _id(self, state: State) -> int:
        if state not in self._ids:
            if len(self.states) >= self._most:
                raise TooBig
            self._ids[state] = len(self.states)
            self.states.append(state)
        return self._ids[state]

    def _leave(self, state: State) -> None:
        reference = self.reference
        self.ways.append(
            [
                self._met(moment)
                for inputs in reference.input_choices(state, self.figures)
                for expired in subsets(reference.due(state))
                for moment in reference.reactions(state, inputs, expired)
            ]
        )
        passes = reference.may_pass(state, self.step)
        self.later.append(self._id(reference.passed(state, self.step)) if passes else None)

    def readings(self, moment: Moment) -> tuple[View, View]:
        """A reaction, and what is at rest after it, as formulas are read."""
        return self.reference.reaction_view(moment), self.reference.rest_view(moment.after)

    def readings_of(self, number: int) -> tuple[View, View]:
        """The readings of a moment of the graph."""
        if number not in self._readings:
            self._readings[number] = self.readings(self.moments[number][0])
        return self._readings[number]

    def random_run(self, dice: random.Random, length: int) -> Run | None:
        """A random run, ending at a random time."""
        taken: list[Moment] = []
        time, ways = Fraction(0), self.starts
        while ways and len(taken) < length:
            moment, at = self.moments[dice.choice(ways)]
            taken.append(replace(moment, time=time))
            if at is None:
                break
            patience = dice.choice([0.0, 0.5, 0.9, 0.97])
            while dice.random() < patience and self.later[at] is not None:
                following = self.later[at]
                assert following is not None
                at, time = following, time + self.step
            ways = self.ways[at]
            if self.later[at] is None and dice.random() < 0.7:  # let what is due expire
                timely = [way for way in ways if self.moments[way][0].expired]
                ways = timely or ways
        return Run(tuple(taken), time) if taken else None


# --------------------------------------------------------------------------- observers


class Watching(NamedTuple):
    """An observer's state: its mode, its clock in steps, and the phases of observed timers."""

    mode: Mode
    clock: int
    phases: tuple[Phase, ...]


class Watch:
    """One requirement's observer, fed with the reference's readings."""

    def __init__(self, graph: Graph, requirement: Requirement) -> None:
        watching = observer(requirement)
        assert watching is not None
        self.observer: Observer = watching
        self.reference, self.step = graph.reference, graph.step
        self._graph = graph
        self.figure = int((watching.figure or 0) / graph.step)
        self._timed = graph.system.timed
        self.timers = sorted(self._read(fact.formula for fact in watching.facts))
        self._effects: dict[tuple[object, ...], tuple[Watching, bool]] = {}

    def _read(self, formulas: Iterator[Formula]) -> set[int]:
        """The observed timers that formulas read, inner ones too."""
        found: set[int] = set()
        for part in (p for formula in formulas for p in f.walk(formula)):
            if isinstance(part, f.TimedRead):
                timed = self._timed[part.timer]
                found |= {part.timer} if timed.observed else set()
                found |= self._read(iter([timed.condition]))
        return found

    @property
    def start(self) -> Watching:
        """Before the first reaction."""
        return Watching(Mode(), 0, tuple(Phase() for _ in self.timers))

    def _mixed(self, own: tuple[Phase, ...], phases: tuple[Phase, ...]) -> tuple[Phase, ...]:
        known = dict(zip(self.timers, phases, strict=True))
        return tuple(known.get(index, phase) for index, phase in enumerate(own))

    def _next(
        self, at: Watching, reaction: View, after: State, expiring: frozenset[int]
    ) -> tuple[tuple[Phase, ...], View]:
        """The observed timers after a reaction, and the reading at rest then."""
        phases = list(at.phases)
        for place, index in enumerate(self.timers):
            rest = self.reference.rest_view(after, self._mixed(after.timed, tuple(phases)))
            timed = self._timed[index]
            phases[place] = next_phase(
                timed.kind,
                phases[place],
                expiring=index in expiring,
                in_reaction=self.reference.true(timed.condition, reaction),
                at_rest=self.reference.true(timed.condition, rest),
            )
        made = tuple(phases)
        return made, self.reference.rest_view(after, self._mixed(after.timed, made))

    def _stepped(
        self, at: Watching, reaction: View, rest: View, phases: tuple[Phase, ...]
    ) -> tuple[Watching, bool]:
        def read(fact: Fact) -> bool:
            return self.reference.true(fact.formula, rest if fact.at_rest else reaction)

        effect: Effect = self.observer.step(at.mode, read)
        runs = effect.mode.pending and not effect.restart
        return Watching(effect.mode, at.clock if runs else 0, phases), effect.broken

    def react(self, at: Watching, moment: Moment, number: int | None = None) -> tuple[Watching, bool]:
        """After a reaction (`number` names one of the graph's): the observer, and whether it is
        broken. Without observed timers it does not depend on the clock's figure, and is kept."""
        if self.timers or number is None:
            return self._react(at, moment, *self._graph.readings(moment))
        known = self._effects.get((number, at.mode))
        if known is None:
            kept = at._replace(clock=-1)  # stands for the clock, whatever it shows
            known = self._react(kept, moment, *self._graph.readings_of(number))
            self._effects[number, at.mode] = known
        after, broken = known
        return (after._replace(clock=at.clock) if after.clock == -1 else after), broken

    def _react(self, at: Watching, moment: Moment, reaction: View, rest: View) -> tuple[Watching, bool]:
        phases = at.phases
        if self.timers:
            reaction = replace(reaction, phases=self._mixed(reaction.phases, phases))
            phases, rest = self._next(at, reaction, moment.after, frozenset())
        return self._stepped(at, reaction, rest, phases)

    def pass_time(self, at: Watching, state: State) -> tuple[Watching, int | None]:
        """One step of time: the observer, and (if broken) after how many steps, 0 or 1."""
        expiring = frozenset(
            index
            for index, phase in zip(self.timers, at.phases, strict=True)
            if phase.name == "running" and phase.clock == self._timed[index].time
        )
        if expiring:  # observed timers change last in their instant
            own = self.reference.rest_view(state, self._mixed(state.timed, at.phases))
            change = replace(own, expiring=expiring)
            phases, rest = self._next(at, change, state, expiring)
            at, broken = self._stepped(at, change, rest, phases)
            if broken:
                return at, 0
        mode, clock, broken = self.observer.elapse(at.mode, at.clock, 1, self.figure)
        phases = tuple(
            replace(phase, clock=phase.clock + self.step) if phase.name == "running" else phase
            for phase in at.phases
        )
        return Watching(mode, int(clock), phases), 1 if broken else None


def least_reactions(graph: Graph, requirement: Requirement, timeless: bool = False) -> int | None:
    """The fewest reactions after the first to where the requirement breaks (what is `possible`: to
    where it is reached); None if no run does. `timeless`: only runs in which no time passes."""
    watch = Watch(graph, requirement)
    queue: deque[tuple[int, int, Watching]] = deque()
    best: int | None = None
    for number in graph.starts:
        moment, at = graph.moments[number]
        watching, broken = watch.react(watch.start, moment, number)
        if broken:
            return 0
        if at is not None:
            queue.append((0, at, watching))
    seen: set[tuple[int, Watching]] = set()
    while queue:
        depth, at, watching = queue.popleft()
        if best is not None and depth >= best:
            return best
        if (at, watching) in seen:
            continue
        seen.add((at, watching))
        later = graph.later[at]
        if later is not None and not timeless:
            passed, how = watch.pass_time(watching, graph.states[at])
            if how is not None:
                return depth
            queue.appendleft((depth, later, passed))
        for number in graph.ways[at]:
            moment, after = graph.moments[number]
            following, broken = watch.react(watching, moment, number)
            if broken:
                best = depth + 1
            elif after is not None and (after, following) not in seen:
                queue.append((depth + 1, after, following))
    return best


def watched_failure(
    graph: Graph, requirement: Requirement, run: Run
) -> tuple[Fraction, int | None] | None:
    """When and in which reaction (None: while time passed) a recorded run breaks a requirement, by
    its observer."""
    watch = Watch(graph, requirement)
    at, time = watch.start, Fraction(0)
    for number, moment in enumerate(run.moments):
        at, broken = watch.react(at, moment)
        if broken:
            return moment.time, number
        until = run.moments[number + 1].time if number + 1 < len(run.moments) else run.end
        while time < until:
            at, how = watch.pass_time(at, moment.after)
            if how is not None:  # more than the figure has passed: the failure is told at the figure
                late = how == 1 and watch.observer.kind == "reached"
                return time + (graph.step if late else 0), None
            time += graph.step
    return None
