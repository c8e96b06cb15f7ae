"""Region clocks: exact for every question, at more states than whole ticks.

What: of dense clocks only two things matter, the whole part of each (in ticks) and the order of their
fractions (Alur and Dill 1994, "A theory of timed automata"). A figure is `whole * UNIT + rank`: rank 0
on the whole tick, else 1, 2, ... by the order of the fractions of the clocks that run, equal ones alike.
When time passes, clocks of rank 0 get the lowest rank; if there are none, those of the highest rank come
to their next whole tick. So a comparison with a duration is one with `duration * UNIT`, strict or not.

Why not always: between two ticks a state is many regions. Whole ticks are used wherever they are exact.
A clock beyond everything that is ever asked of it stands still, and no longer counts in the order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from prioritylogic.engines.clockwork import Tick
from prioritylogic.engines.explore import Edge, Explorer, Node, PathStep, step_of
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.parts import Still
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Watcher
from prioritylogic.model.system import Seconds
from prioritylogic.semantics.compile import Declined

UNIT = 64  # more than the clocks of any state, so that a rank is less
BEYOND = UNIT - 1  # the rank of a clock that stands still


class Regions(Explorer):
    """One exploration of a table, on region clocks."""

    unit = UNIT

    def __init__(
        self, table: Table, tick: Seconds, limits: Limits, watch: Watcher | None = None
    ) -> None:
        super().__init__(table, tick, limits, watch)
        if table.parts.clocks.count > BEYOND - 8:
            raise Declined(f"it has more than {BEYOND - 8} clocks, too many for their order")

    # ----------------------------------------------------------------- which clocks run

    def _running(self, node: Node) -> list[tuple[int, Tick | None]]:
        """The places of the clocks that run, those of the watch behind those of the system."""
        running = list(self.work(node.still).running)
        if self.watch is not None:
            behind = len(node.clocks)
            places = self.watch.running(self._watchings[node.watching])
            running += [(behind + place, None) for place in places]
        return running

    def _split(self, node: Node, figures: Sequence[Tick]) -> Node:
        count = len(node.clocks)
        return node._replace(clocks=tuple(figures[:count]), watch_clocks=tuple(figures[count:]))

    # ----------------------------------------------------------------- steps

    def follow(self, node: Node | None, edge: Edge) -> Node:
        """The node that an edge leads to, its ranks numbered anew."""
        after = super().follow(node, edge)
        figures = [*after.clocks, *after.watch_clocks]
        return self._split(after, ordered(figures, self._running(after)))

    def later(self, node: Node) -> tuple[Node, bool] | None:
        """The next region; see `Explorer.later`."""
        work = self.work(node.still)
        if work.blocked(node.clocks):
            return None
        node, broken = self._instant_over(node)
        running = self._running(node)
        figures = passed([*node.clocks, *node.watch_clocks], running)
        if any(figures[place] >= limit for place, limit in work.barred):
            return None
        after = self._split(node, figures)
        if self.watch is not None:
            seen = self._watchings[node.watching]
            watching, clocks, late = self.watch.judged(seen, after.watch_clocks)
            after = after._replace(watching=self.watching_id(watching), watch_clocks=clocks)
            broken = broken or late
        figures = ordered([*after.clocks, *after.watch_clocks], self._running(after))
        return self._split(after, figures), broken

    def _instant_over(self, node: Node) -> tuple[Node, bool]:
        """The node when its instant is over, and whether the requirement breaks by that."""
        if self.watch is None:
            return node, False
        seen = self._watchings[node.watching]
        watching, clocks, broken = self.watch.changed(seen, node.watch_clocks)
        return node._replace(watching=self.watching_id(watching), watch_clocks=clocks), broken

    # ----------------------------------------------------------------- exact clocks

    def figures(self, still: Still, exact: Sequence[Fraction]) -> tuple[Tick, ...]:
        """The figures of exact clocks."""
        running = self.clockwork(still).running
        tops = dict(running)
        figures = [0] * len(exact)
        live = []
        for place, clock in enumerate(exact):
            top = tops.get(place)
            if top is not None and clock * UNIT > top:
                figures[place] = top + BEYOND
            elif place in tops:
                live.append(place)
        fractions = sorted({exact[place] % 1 for place in live} - {0})
        for place in live:
            whole, part = divmod(exact[place], 1)
            figures[place] = int(whole) * UNIT + (fractions.index(part) + 1 if part else 0)
        return tuple(figures)

    def exact(self, node: Node) -> tuple[Fraction, ...]:
        """Exact clocks that a node stands for: the fractions evenly spread."""
        return tuple(self._exactly(node, [*node.clocks, *node.watch_clocks])[: len(node.clocks)])

    def _exactly(self, node: Node, figures: Sequence[Tick]) -> list[Fraction]:
        ranks = [figure % UNIT for figure in figures]
        most = max((rank for rank in ranks if rank != BEYOND), default=0)
        return [
            figure // UNIT + (Fraction(1) if rank == BEYOND else Fraction(rank, most + 1))
            for figure, rank in zip(figures, ranks, strict=True)
        ]

    def stretch(self, node: Node) -> Fraction:
        """How much time leads to the next region, from the exact clocks of `exact`."""
        figures = [*node.clocks, *node.watch_clocks]
        return until_next(self._exactly(node, figures), live(figures, self._running(node)))

    # ----------------------------------------------------------------- paths

    def path(self, node: Node) -> tuple[PathStep, ...]:
        """The shortest path to a node."""
        return self._told(self._trail(node))

    def _path(self, node: Node | None, edge: Edge | None) -> tuple[PathStep, ...]:
        return self._told([*self._trail(node), (node, edge)])

    def _trail(self, node: Node | None) -> list[tuple[Node | None, Edge | None]]:
        """Each step of the path to a node: where it leaves from, and by what."""
        steps = []
        while node is not None:
            parent, edge = self.parents[node]
            steps.append((parent, edge))
            node = parent
        return steps[::-1]

    def _told(self, trail: list[tuple[Node | None, Edge | None]]) -> tuple[PathStep, ...]:
        """The steps, with times that lead through these regions. Any times that fit the regions so far
        can be gone on from, so each is chosen as it comes."""
        exact: list[Fraction] = []
        steps = []
        for node, edge in trail:
            if edge is not None:
                keeps = (*edge.keeps, *edge.watch_keeps)
                exact = exact or [Fraction(0)] * len(keeps)
                exact = [clock * keep for clock, keep in zip(exact, keeps, strict=True)]
                steps.append(step_of(edge))
                continue
            assert node is not None
            node, _ = self._instant_over(node)
            figures = [*node.clocks, *node.watch_clocks]
            running = self._running(node)
            exact = [c if f else Fraction(0) for c, f in zip(exact, figures, strict=True)]
            wait = until_next(exact, live(figures, running))
            for place, _ in running:
                exact[place] += wait
            steps.append(PathStep(None, wait=wait))
        return tuple(steps)


def live(figures: Sequence[Tick], running: Iterable[tuple[int, Tick | None]]) -> list[int]:
    """The places of the clocks that run and whose figure still matters."""
    return [place for place, top in running if top is None or figures[place] <= top]


def passed(figures: list[Tick], running: list[tuple[int, Tick | None]]) -> list[Tick]:
    """The figures in the next region.

    >>> passed([0, 3], [(0, None), (1, None)])  # the first leaves its whole tick
    [1, 4]
    >>> passed([1, 4], [(0, None), (1, None)])  # the second comes to its next one
    [1, 64]
    """
    moving = live(figures, running)
    if any(figures[place] % UNIT == 0 for place in moving):
        for place in moving:
            figures[place] += 1
    else:
        highest = max((figures[place] % UNIT for place in moving), default=0)
        for place in moving:
            if figures[place] % UNIT == highest:
                figures[place] += UNIT - highest
    return figures


def ordered(figures: list[Tick], running: list[tuple[int, Tick | None]]) -> list[Tick]:
    """The figures with ranks 1, 2, ... without gaps, and the clocks that are beyond standing still.

    >>> ordered([5, 9, 64 + 9], [(0, None), (1, None), (2, None)])
    [1, 2, 66]
    """
    for place, top in running:
        if top is not None and figures[place] > top:
            figures[place] = top + BEYOND
    moving = live(figures, running)
    ranks = sorted({figures[place] % UNIT for place in moving} - {0})
    for place in moving:
        whole, rank = divmod(figures[place], UNIT)
        figures[place] = whole * UNIT + (ranks.index(rank) + 1 if rank else 0)
    return figures


def until_next(exact: Sequence[Fraction], moving: Sequence[int]) -> Fraction:
    """How much time leads from exact clocks to the next region."""
    parts = [exact[place] % 1 for place in moving]
    if not parts:
        return Fraction(1)
    left = 1 - max(parts)
    return left / 2 if 0 in parts else left
