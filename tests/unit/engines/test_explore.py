"""The search: in the order of length, the first failure is a shortest one, and limits only stop it."""

from __future__ import annotations

import itertools

import pytest
from making import explorer_of, spec

from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError


def length(path) -> tuple[int, int]:  # type: ignore[no-untyped-def]
    """Reactions, then ticks."""
    reactions = sum(step.course is not None for step in path)
    return reactions, len(path) - reactions


def test_nodes_are_met_in_the_order_of_length() -> None:
    explorer = explorer_of(spec())
    reached = explorer.run()
    lengths = [length(explorer.path(node)) for node in explorer.parents]
    assert lengths == sorted(lengths) and len(lengths) == reached.nodes
    assert reached.broken is None


def test_the_set_is_closed_under_every_edge() -> None:
    explorer = explorer_of(spec())
    explorer.run()
    for node in explorer.parents:
        later = explorer.later(node)
        assert later is None or later[0] in explorer.parents
        assert all(explorer.follow(node, edge) in explorer.parents for edge in explorer.edges_of(node))


@pytest.mark.parametrize(
    ("requirement", "shortest"),
    [
        ("never: m is b", (2, 0)),
        ("never: m is c", (3, 1)),  # start, press, 2 s of one tick, lock
        ("never: taken(back)", (4, 1)),
        ("after: m is b, expect: m is c, within: 1 s", (2, 2)),  # in ticks of 1 s: late after 2
        ("after: m is b, expect: m is c, within: 2 s", None),
        ("after: pressed(go), apart: 2 s", (4, 0)),  # press, release, press
        ("after: m is c, keep: m is c, for: 4 s", (4, 1)),
    ],
)
def test_the_first_failure_is_a_shortest_one(requirement: str, shortest: tuple[int, int] | None) -> None:
    broken = explorer_of(spec(requirement), watched=True).run().broken
    assert (None if broken is None else length(broken)) == shortest


def test_each_row_is_given_once_with_the_first_node_that_meets_it() -> None:
    explorer = explorer_of(spec())
    explorer.run()
    rows = list(explorer.rows())
    assert rows[0][0] is None
    nodes = [node for node, _ in rows[1:] if node is not None]
    keys = [(node.still, explorer.work(node.still).ready(node.clocks)) for node in nodes]
    assert len(keys) == len(set(keys))
    order = list(explorer.parents)
    places = [order.index(node) for node in nodes]
    assert all(one < other for one, other in itertools.pairwise(places))


def test_a_limit_stops_the_search_and_what_was_met_stands() -> None:
    explorer = explorer_of(spec(), Limits(seconds=0))
    with pytest.raises(LimitError, match="time limit of 0 s"):
        explorer.run()


def test_a_run_ends_where_a_value_leaves_its_range() -> None:
    text = (
        "system: k\ninputs: {go: button}\nmemory: {k: {values: whole 0 to 2, start: 0}}\n"
        "machines:\n  m:\n    states: [a]\n    start: a\n"
        "    rules: [{id: r, from: a, if: pressed(go), set: {k: k + 1}}]\n"
    )
    explorer = explorer_of(spec("never: k > 2", text), watched=True)
    assert length(explorer.run().broken) == (6, 0)  # it is broken in the reaction that leaves it
    explorer = explorer_of(spec(text=text))
    explorer.run()
    assert {explorer.stills[node.still].values[1] for node in explorer.parents} == {0, 1, 2}
