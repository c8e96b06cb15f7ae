"""Cycles in a graph whose steps are marked: which sets of steps a run can stay in for ever, and a tour.

A run without an end stays at last among the steps that it takes again and again; these are strongly
connected. So there is a run that meets every *goal* for ever, and of each *pair* (can, does) the second
if it meets the first for ever, exactly if some strongly connected set of steps does. To find one, steps
are split into strong components; one that lacks a goal is dropped, one that has `can` without `does`
loses its steps with `can` and is split again (Streett 1982; Emerson and Lei 1987; from memory). Each
round takes a pair's steps away for good, so there are at most as many rounds, one inside the other, as
there are pairs.

Components are networkx's: well kept, not recursive, and never the slow part beside exploring. What this
file does not do: know what marks mean (joint.py).
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import reduce
from operator import or_
from typing import NamedTuple

import networkx

from prioritylogic.engines.explore import Edge
from prioritylogic.engines.joint import Marks

REACTION = 1_000_000  # weighs more than any number of ticks


class Step(NamedTuple):
    """From node to node by an edge, or (None) by the passing of time."""

    tail: int
    head: int
    marks: Marks
    edge: Edge | None


def components(steps: Sequence[Step]) -> Iterator[list[Step]]:
    """The steps of each strong component that has any, in the order of their first steps."""
    graph: networkx.DiGraph[int] = networkx.DiGraph()
    graph.add_edges_from((step.tail, step.head) for step in steps)
    home = {
        node: number
        for number, nodes in enumerate(networkx.strongly_connected_components(graph))
        for node in nodes
    }
    inner: dict[int, list[Step]] = defaultdict(list)
    for step in steps:
        if home[step.tail] == home[step.head]:
            inner[home[step.tail]].append(step)
    yield from inner.values()


def fair_components(
    steps: Sequence[Step], goals: Marks, pairs: Sequence[tuple[Marks, Marks]]
) -> list[list[Step]]:
    """Every largest set of steps that a run can take again and again for ever.

    Args:
        steps: of the graph.
        goals: marks, each of which must be met.
        pairs: of marks; the second must be met where the first is.

    >>> a, b = Step(0, 1, 1, None), Step(1, 0, 2, None)
    >>> [len(found) for found in fair_components([a, b], 1, [])]
    [2]
    >>> fair_components([a, b], 1, [(2, 4)])
    []
    """
    found, waiting = [], [steps]
    while waiting:
        for inner in components(waiting.pop()):
            met = met_by(inner)
            lacking = sum(can for can, does in pairs if met & can and not met & does)
            if goals & ~met:
                continue
            if lacking:
                waiting.append([step for step in inner if not step.marks & lacking])
            else:
                found.append(inner)
    return found


def met_by(steps: Iterable[Step]) -> Marks:
    """The marks that some step has."""
    return reduce(or_, (step.marks for step in steps), 0)


def tour(
    steps: Sequence[Step],
    goals: Marks,
    pairs: Sequence[tuple[Marks, Marks]],
    start: int | None = None,
) -> list[Step]:
    """A short closed walk along strongly connected steps that meets what must be met, from `start` (the
    first node) on. Requires that all steps together meet it."""
    ways = by_tail(steps)
    start = min(ways) if start is None else start
    walk = _closed(ways, start, goals)
    met = met_by(walk)
    if any(met & can and not met & does for can, does in pairs):
        met = met_by(steps)
        walk = _closed(ways, start, goals | sum(does for can, does in pairs if met & can))
    return walk


def by_tail(steps: Iterable[Step]) -> dict[int, list[Step]]:
    """The steps from each node."""
    ways: dict[int, list[Step]] = defaultdict(list)
    for step in steps:
        ways[step.tail].append(step)
    return ways


def nearest(steps: Iterable[Step], start: int, hit: Callable[[Step], bool]) -> list[Step]:
    """The steps up to the nearest one that hits: fewest reactions, then least time. Requires that one
    can be reached."""
    return _nearest(by_tail(steps), start, hit)


def _closed(ways: dict[int, list[Step]], start: int, wanted: Marks) -> list[Step]:
    """A closed walk that meets every wanted mark, always to the nearest one next."""
    walk: list[Step] = []
    while wanted:
        at = walk[-1].head if walk else start
        left = wanted
        walk += _nearest(ways, at, lambda step: bool(step.marks & left))  # noqa: B023
        wanted &= ~met_by(walk)
    if walk and walk[-1].head == start:
        return walk
    return walk + _nearest(ways, walk[-1].head if walk else start, lambda step: step.head == start)


def _nearest(ways: dict[int, list[Step]], start: int, hit: Callable[[Step], bool]) -> list[Step]:
    came: dict[int, Step | None] = {}
    count = 0
    queue: list[tuple[int, int, int, Step | None]] = [(0, count, start, None)]
    best: tuple[int, Step] | None = None
    while queue:
        length, _, at, by = heapq.heappop(queue)
        if best is not None and length >= best[0]:
            break
        if at in came:
            continue
        came[at] = by
        for step in ways[at]:
            further = length + (1 if step.edge is None else REACTION)
            if hit(step) and (best is None or further < best[0]):
                best = (further, step)
            if step.head not in came:
                count += 1
                heapq.heappush(queue, (further, count, step.head, step))
    assert best is not None, "some step hits"
    walk = [best[1]]
    while (before := came[walk[-1].tail]) is not None:
        walk.append(before)
    return walk[::-1]
