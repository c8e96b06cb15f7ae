"""A requirement's observer run over the reaction table.

`Watch` joins an observer (requirements/observer.py) to the courses of a table: for each course and
observer mode it finds every effect, asking about inputs only what the observer asks. It also keeps
the timed conditions that only this requirement reads. Those change last in their instant; what would
then be true at rest is found when the reaction ends (`flips`), because the inputs are gone later.
They are exact on whole ticks where all strict comparisons are at the deciding instant, or all are with
the same start of one timer:

* in `always`, `never` and `possible`;
* where the trigger of an answer, of `keep ... until` or of `every` is one `X for T` and nothing else.
  Then what starts does so at a known time after X began; rounding by the fraction of that beginning
  keeps every "later than". Earlier stays of X may lose their change by it, which takes nothing from
  the last one.

Elsewhere, and under `before`, they are declined.
"""

from __future__ import annotations

import itertools
from fractions import Fraction
from functools import partial
from typing import Any, NamedTuple, Protocol

from prioritylogic.engines.clockwork import Tick
from prioritylogic.engines.oracle import Oracle
from prioritylogic.engines.reacting import Course, Frame
from prioritylogic.engines.table import Table
from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Always, Every, KeepUntil, Possible, Requirement, Respond, Seconds
from prioritylogic.requirements.observer import Effect, Fact, Mode, Observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.reading import observed_timers


class Watching(NamedTuple):
    """The still part of an observer: its mode, the phases of its own timers, which of those that run
    have changed since the reaction, and what each set of changes does in each mode."""

    mode: Mode = Mode()
    phases: tuple[str, ...] = ()
    changed: frozenset[int] = frozenset()
    flips: tuple[tuple[frozenset[int], Mode, Effect], ...] = ()


class Outcome(NamedTuple):
    """What a course does to an observer. `keeps` is for its clocks: its own, then its timers'.
    `marks`: what a cycle must meet and meets here (joint.py)."""

    watching: Any
    keeps: tuple[int, ...]
    broken: bool
    oracle: Oracle
    marks: int = 0


class Watcher(Protocol):
    """What an exploration takes along; each `watching` is a still part, by value. See `Watch`."""

    @property
    def start(self) -> tuple[Any, tuple[Tick, ...]]:
        """It before the first reaction."""

    def outcomes(self, course: Course, watching: Any) -> list[Outcome]:
        """Every effect of a course."""

    def running(self, watching: Any) -> tuple[int, ...]:
        """The places of the clocks that run."""

    def changed(self, watching: Any, clocks: tuple[Tick, ...]) -> tuple[Any, tuple[Tick, ...], bool]:
        """It when its instant is over."""

    def judged(self, watching: Any, clocks: tuple[Tick, ...]) -> tuple[Any, tuple[Tick, ...], bool]:
        """It when its clocks have come so far."""

    def later(self, watching: Any, clocks: tuple[Tick, ...]) -> tuple[Any, tuple[Tick, ...], bool]:
        """It one tick later."""


class Watch:
    """One requirement watched over a table.

    Raises:
        Declined: where whole ticks would not be exact.
    """

    def __init__(
        self,
        table: Table,
        requirement: Requirement,
        observer: Observer,
        tick: Seconds,
        unit: int = 1,
    ) -> None:
        self.table = table
        self.observer = observer
        self.figure = 0 if observer.figure is None else int(observer.figure / tick) * unit
        formulas = tuple(fact.formula for fact in observer.facts)
        self.timers = observed_timers(table.system, formulas)
        self._refuse_inexact(requirement, formulas, dense=unit > 1)
        function = table.parts.compiler.function
        # By identity: hashing a formula walks all of it.
        self._functions = {id(fact): function(fact.formula) for fact in observer.facts}
        self._modes: dict[Mode, Watching] = {}
        timed = [table.system.timed[index] for index in self.timers]
        self._kinds = tuple(condition.kind for condition in timed)
        self._conditions = tuple(function(condition.condition) for condition in timed)
        self._times = tuple(int(condition.time / tick) * unit for condition in timed)

    def _refuse_inexact(
        self, requirement: Requirement, formulas: tuple[Formula, ...], dense: bool
    ) -> None:
        if not self.timers:
            return
        inner = tuple(self.table.system.timed[index].condition for index in self.timers)
        match requirement.form:
            case Always() | Possible():
                pass
            case (
                Respond(f.TimedRead() as trigger, _, _, _)
                | KeepUntil(f.TimedRead() as trigger, _, _)
                | Every(f.TimedRead() as trigger, _, _, _)
            ) if self._only(trigger, requirement):
                pass
            case _ if dense and len(self.timers) == 1:  # one change is made from one mode
                pass
            case _:
                raise Declined(
                    "a timed condition that only this requirement reads is more than its trigger"
                )
        if any(isinstance(part, f.TimedRead) for formula in inner for part in f.walk(formula)):
            raise Declined("a timed condition that only this requirement reads holds another one")
        for part in (p for formula in formulas for p in f.walk(formula)):
            if isinstance(part, f.TimedRead) and part.before and part.timer in self.timers:
                raise Declined("it asks what a timed condition was that only this requirement reads")

    def _only(self, trigger: f.TimedRead, requirement: Requirement) -> bool:
        """Whether one `X for T` is the whole trigger, and nothing else of the requirement's reads a
        timed condition of its own."""
        _, *others = requirement.formulas
        own = self.table.system.timed[trigger.timer]
        return (
            own.kind == "for"
            and not trigger.before
            and self.timers == (trigger.timer,)
            and not observed_timers(self.table.system, others)
        )

    # ----------------------------------------------------------------- reactions

    @property
    def start(self) -> tuple[Watching, tuple[Tick, ...]]:
        """The observer before the first reaction."""
        idle = Watching(phases=tuple("idle" for _ in self.timers))
        return idle, tuple(0 for _ in range(1 + len(self.timers)))

    def outcomes(self, course: Course, watching: Watching) -> list[Outcome]:
        """Every effect of a course, with what had to be asked about the inputs."""
        return [
            Outcome(*answer, oracle)
            for answer, oracle in self.table.read(course, lambda: self.react(course, watching))
        ]

    def react(self, course: Course, watching: Watching) -> tuple[Watching, tuple[int, ...], bool]:
        """What a course does, along the answers of the oracle that is asked at the moment."""
        reaction, rest = course.reaction, course.rest
        if not self.timers:
            effect = self.observer.step(watching.mode, partial(self._read, reaction, rest))
            keep = effect.mode.pending and not effect.restart and not effect.mode.paused
            return self._plain(effect.mode), (int(keep),), effect.broken
        for place, index in enumerate(self.timers):
            reaction.timed[index] = self._shows(place, watching.phases[place])
        phases, kept = self._phases(course, watching)

        effect = self.observer.step(watching.mode, partial(self._read, reaction, rest))
        keeps = (int(effect.mode.pending and not effect.restart and not effect.mode.paused), *kept)
        flips = self._flips(rest, phases, effect.mode)
        return Watching(effect.mode, phases, frozenset(), flips), keeps, effect.broken

    def _read(self, reaction: Frame, rest: Frame, fact: Fact) -> bool:
        return bool(self._functions[id(fact)](rest if fact.at_rest else reaction))

    def _plain(self, mode: Mode) -> Watching:
        """The watching of an observer without timers, the same object for the same mode."""
        known = self._modes.get(mode)
        if known is None:
            known = self._modes[mode] = Watching(mode)
        return known

    def _shows(self, place: int, phase: str) -> bool:
        return phase == "holding" or (phase == "running" and self._kinds[place] == "within last")

    def _phases(self, course: Course, watching: Watching) -> tuple[tuple[str, ...], tuple[int, ...]]:
        phases, keeps = [], []
        for place, index in enumerate(self.timers):
            phase, keep = watching.phases[place], 0
            at_rest = self._conditions[place](course.rest)
            in_reaction = self._conditions[place](course.reaction)
            if self._kinds[place] == "for":
                if not at_rest:
                    phase = "idle"
                elif not in_reaction or phase == "idle":
                    phase = "running"
                else:
                    keep = int(phase == "running")
            elif at_rest:
                phase = "holding"
            elif in_reaction or phase == "holding":
                phase = "running"
            else:
                keep = int(phase == "running")
            course.rest.timed[index] = self._shows(place, phase)
            phases.append(phase)
            keeps.append(keep)
        return tuple(phases), tuple(keeps)

    def _flips(
        self, rest: Frame, phases: tuple[str, ...], mode: Mode
    ) -> tuple[tuple[frozenset[int], Mode, Effect], ...]:
        """For each set of running timers, what the observer makes of their change, at rest: from its
        mode, or from the one that it has when its window is over."""
        modes = {mode, Mode(mode.held)} if self.observer.kind == "window" else {mode}
        running = [place for place, phase in enumerate(phases) if phase == "running"]
        found = []
        for size in range(1, len(running) + 1):
            for places in itertools.combinations(running, size):
                for place in running:
                    changed = place in places
                    rest.timed[self.timers[place]] = changed == (self._kinds[place] == "for")
                for before in sorted(modes):
                    effect = self.observer.step(before, partial(self._read, rest, rest))
                    found.append((frozenset(places), before, effect))
        return tuple(found)

    # ----------------------------------------------------------------- time

    def running(self, watching: Watching) -> tuple[int, ...]:
        """The places of the clocks that run."""
        timers = (place + 1 for place, phase in enumerate(watching.phases) if phase == "running")
        return (*([0] if self.observer.counts(watching.mode) else []), *timers)

    def changed(
        self, watching: Watching, clocks: tuple[Tick, ...]
    ) -> tuple[Watching, tuple[Tick, ...], bool]:
        """The observer when its instant is over: what was due of its timers has changed."""
        due = [n for n in self.running(watching) if n and clocks[n] == self._times[n - 1]]
        if not due:
            return watching, clocks, False
        phases, figures = list(watching.phases), list(clocks)
        for place in due:
            phases[place - 1] = "holding" if self._kinds[place - 1] == "for" else "idle"
            figures[place] = 0
        changed = watching.changed | {place - 1 for place in due}
        effect = next(
            e for which, mode, e in watching.flips if (which, mode) == (changed, watching.mode)
        )
        if effect.restart or not self.observer.counts(effect.mode):
            figures[0] = 0
        after = watching._replace(mode=effect.mode, phases=tuple(phases), changed=changed)
        return after, tuple(figures), effect.broken

    def judged(
        self, watching: Watching, clocks: tuple[Tick, ...]
    ) -> tuple[Watching, tuple[Tick, ...], bool]:
        """The observer when its clocks have come so far."""
        mode = watching.mode
        if not self.observer.counts(mode):
            return watching, clocks, False
        after, figure, broken = self.observer.judged(mode, clocks[0], self.figure)
        assert not isinstance(figure, Fraction)
        if after is mode:
            return watching, clocks, broken
        kept = watching._replace(mode=after) if self.timers else self._plain(after)
        return kept, (figure, *clocks[1:]), broken

    def later(
        self, watching: Watching, clocks: tuple[Tick, ...]
    ) -> tuple[Watching, tuple[Tick, ...], bool]:
        """One tick later: the observer, its clocks, and whether it is broken on the way."""
        broken = False
        if self.timers:
            watching, clocks, broken = self.changed(watching, clocks)
        running = self.running(watching)
        moved = tuple(figure + (place in running) for place, figure in enumerate(clocks))
        after, figures, late = self.judged(watching, moved)
        return after, figures, broken or late
