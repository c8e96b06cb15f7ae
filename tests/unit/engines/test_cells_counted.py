"""The cells of analog inputs, counted and told by the names of terms."""

from __future__ import annotations

import pytest

import prioritylogic
from prioritylogic.errors import RequestError
from prioritylogic.render.logbook import log

LEVERS = """
system: levers
groups: {side: [left, right]}
inputs:
  lever[side]: {values: -100 % to 100 %, start: 0 %}
  grab: button
terms:
  moved[s in side]: abs(lever[s]) > 4 %
  limited: abs(lever[left] + lever[right]) > 100 %
  total: lever[left] + lever[right]
machines:
  hold:
    states: [free, held]
    start: free
    rules:
      - {id: take, from: free, if: pressed(grab) and limited, to: held}
      - {id: drop, from: held, if: "not moved[left]", to: free}
requirements:
  - {id: SEEN, possible: hold is held}
"""
OVER = ("hold", "moved[left]", "moved[right]", "limited")


def test_exactly_the_possible_cells_are_counted() -> None:
    """By hand: at rest (4 % at most) a lever can still take the other's 97 % over the limit, but two
    levers at rest cannot; held, the left lever is moved, else it is dropped at once."""
    found = prioritylogic.explore(prioritylogic.load(LEVERS), OVER)
    free = {("free", *cell) for cell in _cells("nnn ynn nyn yyn yny nyy yyy")}
    settled = {("held", *cell) for cell in _cells("ynn yyn yny yyy")}
    unsettled = {("held", "no", "yes", "yes")}  # taken by the right lever: dropped in the same instant
    assert {row for row, _ in found.rows} == free | settled | unsettled
    assert found.counts.states == len(found.rows) == 12


def _cells(text: str) -> list[tuple[str, ...]]:
    return [tuple({"y": "yes", "n": "no"}[letter] for letter in word) for word in text.split()]


def test_a_logbook_names_them() -> None:
    system = prioritylogic.load(LEVERS)
    (answer,) = prioritylogic.check(system).requirements
    assert answer.trace is not None
    assert any(
        said.startswith("so ") and "limited" in said
        for said in log(system, answer.trace).rows[1].outside
    )


@pytest.mark.parametrize(
    ("name", "remedy"),
    [("lever[left]", "a term that compares it has"), ("total", "count over a term that compares it")],
)
def test_quantities_are_refused(name: str, remedy: str) -> None:
    with pytest.raises(RequestError, match=remedy):
        prioritylogic.explore(prioritylogic.load(LEVERS), [name])
