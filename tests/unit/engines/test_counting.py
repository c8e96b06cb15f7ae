"""Counting over names, and the graph of what was explored."""

from __future__ import annotations

import pytest
from making import DOOR

from prioritylogic import explore, load
from prioritylogic.errors import RequestError

MORE = DOOR.replace("stop: button}", "stop: button, mode: [low, high], x: 0 % to 9 %}") + (
    "memory: {n: {values: whole 0 to 4, start: 2}}\nalerts:\n  al: {raise: m is c}\n"
)


@pytest.mark.parametrize(
    ("over", "rows"),
    [
        (["m"], {("a",), ("b",), ("c",)}),
        (["m", "al"], {("a", "idle"), ("b", "idle"), ("c", "on")}),
        (["n"], {("2",)}),
        (["go"], {("yes",), ("no",)}),
        (["mode"], {("low",), ("high",)}),
        (["m", "mode"], {(m, mode) for m in "abc" for mode in ("low", "high")}),
        ([], {("a", "2", "idle"), ("b", "2", "idle"), ("c", "2", "on")}),
    ],
)
def test_different_valuations_are_counted(over: list[str], rows: set[tuple[str, ...]]) -> None:
    found = explore(load(MORE), over)
    assert {row for row, _ in found.rows} == rows
    assert found.counts.states == len(rows)


def test_the_start_counts_as_reached() -> None:
    text = "system: s\nmachines:\n  m: {states: [a, b], start: a, rules: [{id: r, from: a, to: b}]}\n"
    assert explore(load(text)).rows == ((("a",), 0), (("b",), 1))


@pytest.mark.parametrize(
    ("name", "said"),
    [("nn", "did you mean 'n'"), ("zzz", "count over machines"), ("x", "'x' is analog")],
)
def test_what_cannot_be_counted_over_is_refused_with_a_remedy(name: str, said: str) -> None:
    with pytest.raises(RequestError, match=said):
        explore(load(MORE), [name])


def test_the_graph_has_every_state_and_says_what_happens() -> None:
    found = explore(load(DOOR), graph=True)
    assert found.graph is not None
    assert len(found.graph) == found.counts.explored + 1  # and the start
    assert {m for _, m in found.graph.nodes(data="m") if m} == {"a", "b", "c"}
    kinds = [(data["kind"], data["taken"]) for *_, data in found.graph.edges(data=True)]
    assert {taken for _, taken in kinds} == {"", "open", "lock", "back"}
    assert ("tick", "") in kinds and ("tick", "open") not in kinds
    assert found.graph.in_degree("start") == 0
