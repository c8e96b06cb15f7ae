"""A requirement with timed conditions of its own, asked of runs without an end.

Such a condition (`X for T` that no rule, alert or output reads) changes last in its instant, and a
requirement's `Watch` knows how. Here it is taken along beside a `Joint` that knows the rest: what is
assumed, and which rules are due. A change at the end of an instant may begin or end what is owed, but
never both at once, since an answer or a cancellation at rest keeps it from beginning; so an answer is
owed all the time if it is before and after.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from prioritylogic.engines.clockwork import Tick
from prioritylogic.engines.joint import OPEN, Asked, Joined, Joint, Marks
from prioritylogic.engines.parts import Ready
from prioritylogic.engines.reacting import Course
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Outcome, Watch, Watching
from prioritylogic.model.system import Seconds


class Owned(NamedTuple):
    """The still parts of the joint and of the requirement's watch, and whether that is broken."""

    joined: Joined
    own: Watching
    broken: bool = False


class Timely:
    """What is asked, watched over a table; see `Watcher` and `Joint`.

    Raises:
        Declined: where the clocks would not be exact.
    """

    def __init__(self, table: Table, asked: Asked, tick: Seconds, unit: int = 1) -> None:
        assert asked.requirement is not None and asked.watching is not None
        self.table = table
        self._endless = asked.endless
        self._watch = Watch(table, asked.requirement, asked.watching, tick, unit)
        self._joint = Joint(table, replace(asked, watching=None, endless=False), tick, unit)
        self.goals, self.pairs = self._joint.goals, self._joint.pairs
        self._start, clocks = self._watch.start
        self._own = len(clocks)

    @property
    def start(self) -> tuple[Owned, tuple[Tick, ...]]:
        """Before the first reaction."""
        joined, clocks = self._joint.start
        return Owned(joined, self._start), (0,) * self._own + clocks

    def outcomes(self, course: Course, owned: Owned) -> list[Outcome]:
        """Every effect of a course that keeps the assumptions; the end of a run is none."""
        if course.out_of_range:
            return []
        answers = self.table.read(course, lambda: self._react(course, owned))
        return [
            Outcome(after, keeps, False, oracle, marks)
            for answer, oracle in answers
            if answer is not None
            for after, keeps, marks in [answer]
        ]

    def _react(self, course: Course, owned: Owned) -> tuple[Owned, tuple[int, ...], Marks] | None:
        reacted = self._joint.react(course, owned.joined)
        if reacted is None:
            return None
        joined, keeps, marks = reacted
        if owned.broken:
            return Owned(joined, self._start, True), (0,) * self._own + keeps, marks | OPEN
        own, own_keeps, broken = self._watch.react(course, owned.own)
        if broken:
            return Owned(joined, self._start, True), (0,) * self._own + keeps, marks
        same = self._endless and owned.own.mode.pending and own_keeps[0]
        return Owned(joined, own), own_keeps + keeps, marks | (OPEN if same else 0)

    # ----------------------------------------------------------------- time

    def waiting(self, owned: Owned, ready: Ready) -> Marks:
        """What is met while time passes, where these delays may end."""
        open_ = owned.broken or (self._endless and owned.own.mode.pending)
        return self._joint.waiting(owned.joined, ready) | (OPEN if open_ else 0)

    def running(self, owned: Owned) -> tuple[int, ...]:
        """The places of the clocks that run."""
        own = () if owned.broken else self._watch.running(owned.own)
        return (*own, *(self._own + place for place in self._joint.running(owned.joined)))

    def changed(self, owned: Owned, clocks: tuple[Tick, ...]) -> tuple[Owned, tuple[Tick, ...], bool]:
        """When its instant is over."""
        if owned.broken:
            return owned, clocks, False
        own, figures, broken = self._watch.changed(owned.own, clocks[: self._own])
        if broken:
            done = Owned(owned.joined, self._start, True)
            return done, (0,) * self._own + clocks[self._own :], False
        return owned._replace(own=own), figures + clocks[self._own :], False

    def judged(self, owned: Owned, clocks: tuple[Tick, ...]) -> tuple[Owned, tuple[Tick, ...], bool]:
        """When the clocks have come so far; broken: an assumption is."""
        joined, rest, excluded = self._joint.judged(owned.joined, clocks[self._own :])
        own, figures, broken = owned.own, clocks[: self._own], owned.broken
        if not broken:
            own, figures, broken = self._watch.judged(own, figures)
        if broken:
            own, figures = self._start, (0,) * self._own
        return Owned(joined, own, broken), figures + rest, excluded

    def later(self, owned: Owned, clocks: tuple[Tick, ...]) -> tuple[Owned, tuple[Tick, ...], bool]:
        """One tick later."""
        owned, clocks, _ = self.changed(owned, clocks)
        running = self.running(owned)
        moved = tuple(figure + (place in running) for place, figure in enumerate(clocks))
        return self.judged(owned, moved)
