"""Explorations with what is asked of runs without an end, on whole ticks and on region clocks."""

from __future__ import annotations

from typing import Any, TypeAlias

from prioritylogic.engines.explore import Edge, Explorer, Node, PathStep, step_of
from prioritylogic.engines.joint import TIME, Asked, Joint, Marks
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.regions import UNIT, Regions, live
from prioritylogic.engines.table import Table
from prioritylogic.engines.timely import Timely
from prioritylogic.model.system import Seconds

Hop: TypeAlias = tuple[Node | None, Edge | None]  # where a step leaves from, and by what; None: time


class Product(Explorer):
    """An exploration on whole ticks."""

    def __init__(self, table: Table, tick: Seconds, asked: Asked, limits: Limits, own: bool) -> None:
        self.joint = (Timely if own else Joint)(table, asked, tick, self.unit)
        super().__init__(table, tick, limits, self.joint)

    def later(self, node: Node) -> tuple[Node, bool] | None:
        """As `Explorer.later`; no time passes that breaks an assumption."""
        found = super().later(node)
        return None if found is None or found[1] else found

    def joined(self, node: Node) -> Any:
        """The still part of what is taken along."""
        return self._watchings[node.watching]

    def waiting(self, node: Node, after: Node) -> Marks:
        """What the passing of time from a node to the next one meets."""
        return self.joint.waiting(self.joined(node), self.work(node.still).ready(node.clocks))

    def told(self, trail: list[Hop]) -> tuple[PathStep, ...]:
        """A trail as steps of a path."""
        return tuple(step_of(edge) for _, edge in trail)

    def trail(self, node: Node) -> list[Hop]:
        """The shortest trail to a node."""
        hops: list[Hop] = []
        at: Node | None = node
        while at is not None:
            hops.append(self.parents[at])
            at = hops[-1][0]
        return hops[::-1]


class DenseProduct(Product, Regions):
    """The same on region clocks, with one more clock that is always between 0 and a tick."""

    def waiting(self, node: Node, after: Node) -> Marks:
        """As in `Product`. Time passes inside that of the two regions at whose edge no clock is, so what
        can be taken is asked there; a tick is over where the clock of time starts over."""
        figures, running = [*node.clocks, *node.watch_clocks], self._running(node)
        edge = any(figures[place] % UNIT == 0 for place in live(figures, running))
        inside = after if edge else node
        marks = self.joint.waiting(self.joined(node), self.work(inside.still).ready(inside.clocks))
        return marks if after.watch_clocks[-1] == 0 else marks & ~TIME

    def told(self, trail: list[Hop]) -> tuple[PathStep, ...]:
        """A trail as steps of a path, with times that lead through its regions."""
        return self._told(trail)
