"""Intervals with ends in or out, by brute force over a few figures."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from prioritylogic.model.intervals import Interval, all_without, made, simplest

GRID = [Fraction(n, 2) for n in range(9)]
ALL = [
    one
    for low, high in itertools.product((Fraction(0), Fraction(1), Fraction(2), Fraction(4)), repeat=2)
    for ends in itertools.product((False, True), repeat=2)
    if (one := made(low, high, *ends)) is not None
]


def figures(*intervals: Interval) -> set[Fraction]:
    return {figure for figure in GRID if any(one.has(figure) for one in intervals)}


@pytest.mark.parametrize("one", ALL, ids=str)
def test_meeting_and_taking_out(one: Interval) -> None:
    for other in ALL:
        both = one.meet(other)
        assert figures(*([both] if both else [])) == figures(one) & figures(other)
        left = one.without(other)
        assert figures(*left) == figures(one) - figures(other)
        assert [piece.low for piece in left] == sorted(piece.low for piece in left)


def test_taking_out_several() -> None:
    whole = Interval(Fraction(0), Fraction(4))
    taken = [Interval(Fraction(1), Fraction(1)), Interval(Fraction(2), Fraction(3), False, True)]
    assert all_without([whole], taken) == [
        Interval(Fraction(0), Fraction(1), True, False),
        Interval(Fraction(1), Fraction(2), False, True),
        Interval(Fraction(3), Fraction(4), False, True),
    ]


def test_a_figure_near_an_end_is_in_the_interval() -> None:
    for one in ALL:
        assert one.has(one.near(True, Fraction(1, 10))) and one.has(one.near(False, Fraction(1, 10)))
        assert one.has(one.middle()) and one.has(one.middle(Fraction(1, 60)))
    assert Interval(Fraction(0), Fraction(4), False, False).near(True, Fraction(1, 10)) == Fraction(
        1, 10
    )


def test_the_simplest_figure_has_the_least_denominator() -> None:
    figures = sorted({Fraction(n, d) for d in range(1, 8) for n in range(-15, 16)})
    for low, high in itertools.combinations(figures[::7], 2):
        found = simplest(low, high)
        assert low <= found <= high
        assert all(other.denominator >= found.denominator for other in figures if low <= other <= high)
