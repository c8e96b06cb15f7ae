"""Exploration: every reachable state, breadth first, on whole ticks.

A node is a still part, its clock figures and, if a requirement is watched, the observer's still part
and clocks. Two kinds of edge leave a node: one tick, if time may pass, and the courses of the table's
row. Nodes are met in the order of a run's length: fewest reactions, then least time; so the first
run that gets anywhere is the shortest.

What it does not do: judge (questions.py asks about what was explored), turn paths into runs
(replay.py), or believe itself (recheck.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from operator import mul
from typing import Any, NamedTuple, TypeAlias

from prioritylogic.engines.cells import Cell
from prioritylogic.engines.clockwork import Clockwork, Tick, clockwork
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.oracle import Oracle
from prioritylogic.engines.parts import Ready, Still
from prioritylogic.engines.reacting import Course
from prioritylogic.engines.table import StillId, Table
from prioritylogic.engines.watch import Watcher
from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Seconds

WatchingId: TypeAlias = int
LOOKS = 4096  # states, after which the limits are looked at


class Node(NamedTuple):
    """A state of the exploration; `watching` is -1 when nothing is watched."""

    still: StillId
    clocks: tuple[Tick, ...]
    watching: WatchingId = -1
    watch_clocks: tuple[Tick, ...] = ()


class Edge(NamedTuple):
    """A reaction's effect on a node: the next still part, what is kept of the clocks, the same for
    the observer, whether it is broken, what a cycle meets here, and one course that does it."""

    still: StillId
    keeps: tuple[int, ...]
    watching: WatchingId
    watch_keeps: tuple[int, ...]
    broken: bool
    marks: int
    course: Course
    asked: Oracle | None  # what the observer asked besides


@dataclass(frozen=True, slots=True)
class PathStep:
    """One step of a path: a course with what is known of its inputs, or (None) time, in ticks."""

    course: Course | None
    values: tuple[object, ...] = ()
    previous: tuple[object, ...] = ()
    cell: Cell = frozenset()
    wait: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class Reached:
    """Where an exploration ended: every node in order of length, or a broken requirement.

    Attributes:
        broken: the path to the first failure, or None.
        reactions: how many edges were followed.
        complete: false where a limit cut the search short; a failure is then the first met, perhaps
            not the shortest.
    """

    nodes: int
    reactions: int
    broken: tuple[PathStep, ...] | None
    complete: bool = True


class Explorer:
    """One exploration of a table.

    Attributes:
        unit: of a clock's figure, for one tick.

    Args:
        table: the reaction table.
        tick: seconds of one tick; divides every duration of the system and the watch.
        limits: on time, memory and states.
        watch: a requirement's observer (or several), or None to explore the system alone.
    """

    unit = 1

    def __init__(
        self, table: Table, tick: Seconds, limits: Limits, watch: Watcher | None = None
    ) -> None:
        self.table = table
        self.limits = limits
        self.tick = tick
        self.watch = watch
        self.stills = table.stills
        self._works: list[Clockwork | None] = []
        self._watchings: list[Any] = []
        self._watching_ids: dict[Any, WatchingId] = {}
        self._edges: dict[tuple[StillId, Ready, WatchingId], list[Edge]] = {}
        self.parents: dict[Node, tuple[Node | None, Edge | None]] = {}

    # ----------------------------------------------------------------- edges

    def work(self, still: StillId) -> Clockwork:
        """The clockwork of a still part, on this exploration's tick."""
        works = self._works
        while len(works) < len(self.stills):
            works.append(None)
        known = works[still]
        if known is None:
            known = works[still] = self.clockwork(self.stills[still])
        return known

    def clockwork(self, still: Still) -> Clockwork:
        """The clockwork of any still part."""
        return clockwork(self.table.parts, still, self.tick, self.unit)

    def watching_id(self, watching: Any) -> WatchingId:
        """The number of an observer's still part."""
        known = self._watching_ids.get(watching)
        if known is None:
            known = self._watching_ids[watching] = len(self._watchings)
            self._watchings.append(watching)
        return known

    def edges(self, still: StillId, ready: Ready, watching: WatchingId = -1) -> list[Edge]:
        """The different effects of a reaction from a still part."""
        key = (still, ready, watching)
        known = self._edges.get(key)
        if known is None:
            self.limits.check()
            courses = self.table.row(still, ready)
            known = self._edges[key] = self._different(courses, watching)
        return known

    def starts(self) -> list[Edge]:
        """The different effects of the reaction at time 0."""
        watching = self.watching_id(self.watch.start[0]) if self.watch else -1
        return self._different(self.table.starts(), watching)

    def _different(self, courses: list[Course], watching: WatchingId) -> list[Edge]:
        """One edge for each different effect, the first course that has it. A course that leaves
        the domain of some memory ends the run: it is a finding, not an edge, unless it breaks."""
        found: dict[tuple[object, ...], Edge] = {}
        for course in courses:
            if self.watch is None:
                if not course.out_of_range:
                    edge = Edge(course.after_id, course.keeps, -1, (), False, 0, course, None)
                    found.setdefault(edge[:2], edge)
                continue
            for outcome in self.watch.outcomes(course, self._watchings[watching]):
                after, keeps, broken, oracle, marks = outcome
                if course.out_of_range and not broken:
                    continue
                number = course.after_id
                if oracle.asked:
                    still = course.after._replace(inputs=self.table.remember(oracle))
                    number = self.table.still_id(still)
                seen = self.watching_id(after)
                edge = Edge(number, course.keeps, seen, keeps, broken, marks, course, oracle)
                found.setdefault(edge[:6], edge)
        return list(found.values())

    def follow(self, node: Node | None, edge: Edge) -> Node:
        """The node that an edge leads to (from before time 0: node None)."""
        clocks = edge.keeps if node is None else node.clocks
        kept = tuple(0 for _ in clocks) if node is None else tuple(map(mul, clocks, edge.keeps))
        watch_clocks = edge.watch_keeps if node is None else node.watch_clocks
        watched = (
            tuple(0 for _ in watch_clocks)
            if node is None
            else tuple(map(mul, watch_clocks, edge.watch_keeps))
        )
        return Node(edge.still, kept, edge.watching, watched)

    def later(self, node: Node) -> tuple[Node, bool] | None:
        """The node one tick later and whether the requirement breaks on the way; None if no time
        may pass."""
        work = self.work(node.still)
        if work.blocked(node.clocks):
            return None
        clocks = work.later(node.clocks)
        if self.watch is None:
            return Node(node.still, clocks), False
        watching, watch_clocks, broken = self.watch.later(
            self._watchings[node.watching], node.watch_clocks
        )
        return Node(node.still, clocks, self.watching_id(watching), watch_clocks), broken

    def edges_of(self, node: Node) -> list[Edge]:
        """The reactions of a node."""
        ready = self.work(node.still).ready(node.clocks)
        return self.edges(node.still, ready, node.watching)

    # ----------------------------------------------------------------- exact clocks

    def figures(self, still: Still, exact: Sequence[Fraction]) -> tuple[Tick, ...]:
        """The figures of exact clocks (in ticks); -1 for one that is on no tick."""
        tops = {place: top for place, top in self.clockwork(still).running if top is not None}
        capped = (min(clock, tops.get(place, clock)) for place, clock in enumerate(exact))
        return tuple(int(clock) if clock.denominator == 1 else -1 for clock in capped)

    def exact(self, node: Node) -> tuple[Fraction, ...]:
        """Exact clocks (in ticks) that a node stands for."""
        return tuple(map(Fraction, node.clocks))

    def stretch(self, node: Node) -> Fraction:
        """How much time (in ticks) leads from there to the next node."""
        return Fraction(1)

    # ----------------------------------------------------------------- the search

    def run(self) -> Reached:
        """Meets every reachable node, or stops at the first (shortest) failure of the watch.

        Raises:
            LimitError: a limit was reached and no failure was met; what was met so far stands.
        """
        self._failing: tuple[Node | None, Edge] | None = None
        try:
            return self._search()
        except LimitError:
            if self._failing is None:
                raise
            return Reached(len(self.parents), 0, self._path(*self._failing), complete=False)

    def _search(self) -> Reached:
        parents = self.parents
        reactions = 0
        layer: dict[int, list[tuple[Node, Node | None, Edge | None]]] = {0: []}
        pending: set[Node] = set()
        for edge in self.starts():
            reactions += 1
            if edge.broken:
                return Reached(0, reactions, self._path(None, edge))
            node = self.follow(None, edge)
            if node not in pending:
                pending.add(node)
                layer[0].append((node, None, edge))
        while layer:
            following: dict[int, list[tuple[Node, Node | None, Edge | None]]] = {}
            pending = set()
            while layer:
                time = min(layer)
                for node, parent, by in layer.pop(time):
                    if node in parents:
                        continue
                    parents[node] = (parent, by)
                    if len(parents) % LOOKS == 0:
                        self.limits.check(len(parents), f"{counted(len(parents), 'state')} explored")
                    later = self.later(node)
                    if later is not None:
                        if later[1]:
                            return Reached(len(parents), reactions, self._path(node, None))
                        if later[0] not in parents:
                            layer.setdefault(time + 1, []).append((later[0], node, None))
                    for edge in self.edges_of(node):
                        reactions += 1
                        if edge.broken:
                            self._failing = self._failing or (node, edge)
                            continue
                        after = self.follow(node, edge)
                        if after not in parents and after not in pending:
                            pending.add(after)
                            following.setdefault(time, []).append((after, node, edge))
            if self._failing is not None:
                return Reached(len(parents), reactions, self._path(*self._failing))
            layer = following
        return Reached(len(parents), reactions, None)

    def path(self, node: Node) -> tuple[PathStep, ...]:
        """The shortest path to a node."""
        steps: list[PathStep] = []
        at: Node | None = node
        while at is not None:
            parent, edge = self.parents[at]
            steps.append(step_of(edge))
            at = parent
        return tuple(reversed(steps))

    def _path(self, node: Node | None, edge: Edge | None) -> tuple[PathStep, ...]:
        """The path to a node and one step further: an edge, or (None) a tick."""
        return (*(self.path(node) if node is not None else ()), step_of(edge))

    def rows(self) -> Iterator[tuple[Node | None, list[Course]]]:
        """Each row that was met, with the first node that met it, in the order of length; the
        reaction at time 0 first (node None)."""
        yield None, self.table.starts()
        seen: set[tuple[StillId, Ready]] = set()
        for node in self.parents:
            key = (node.still, self.work(node.still).ready(node.clocks))
            if key not in seen:
                self.limits.check_time()
                seen.add(key)
                yield node, self.table.row(*key)


def step_of(edge: Edge | None) -> PathStep:
    """An edge as a step of a path; None is a tick."""
    if edge is None:
        return PathStep(None)
    known = edge.course if edge.asked is None else edge.asked
    return PathStep(edge.course, tuple(known.values), tuple(known.previous), known.cell)
