"""Figures that are lines over one setting: they answer as at the sample, and note where that is so."""

from __future__ import annotations

import itertools
import operator
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Any

import pytest

from prioritylogic.model.formula import Const, Formula, Less, Sum
from prioritylogic.model.intervals import Interval
from prioritylogic.model.unknown import Sample, Unknown, figures, meetings, settled

RANGE = Interval(Fraction(0), Fraction(10))
COMPARE = (operator.lt, operator.le, operator.gt, operator.ge, operator.eq, operator.ne)


@pytest.mark.parametrize("compare", COMPARE)
@pytest.mark.parametrize("slope", [Fraction(2), Fraction(-1, 2)])
def test_an_answer_is_the_same_all_over_the_cell_and_there_only(
    compare: Callable[[Any, Any], bool], slope: Fraction
) -> None:
    for at, other in itertools.product((Fraction(1), Fraction(2), Fraction(3)), repeat=2):
        for turned in (False, True):
            sample = Sample(at, RANGE)
            line, limit = sample.setting() * slope + 1, other * slope + 1

            def answer(value: Fraction, limit: Fraction = limit, turned: bool = turned) -> bool:
                figure = value * slope + 1
                return compare(limit, figure) if turned else compare(figure, limit)

            said = compare(limit, line) if turned else compare(line, limit)
            assert said == answer(at)
            assert sample.cell.has(at) and not sample.pinned
            same = {value for n in range(41) if answer(value := Fraction(n, 4)) == said}
            kept = {value for n in range(41) if sample.cell.has(value := Fraction(n, 4))}
            # All of the cell gives that answer; of `!=`, which is true on two sides, one is kept.
            assert kept <= same
            assert kept == same or (compare in (operator.eq, operator.ne) and at != other)


def test_calculating_keeps_the_line() -> None:
    p = Sample(Fraction(5), RANGE).setting()
    made = (3 - 2 * (p + 1)) / 4 + Fraction(1, 2) - p
    assert isinstance(made, Unknown)
    assert all(
        made.at(v) == (3 - 2 * (v + 1)) / 4 + Fraction(1, 2) - v
        for v in (Fraction(0), Fraction(7), Fraction(10))
    )
    assert sum([Fraction(1), p, p], Fraction(0)).at(Fraction(4)) == 9  # type: ignore[attr-defined]
    assert type(p - p) is Fraction and p - p == 0
    assert abs(-p).at(Fraction(3)) == 3 and max(Fraction(1), p) is p  # type: ignore[attr-defined]


NO_LINES: list[Callable[[Any], Any]] = [
    lambda p: p * p,
    lambda p: p / p,
    lambda p: 1 / p,
    lambda p: p % 2,
    lambda p: p // 2,
    lambda p: p**2,
    lambda p: floor(p),
    lambda p: int(p),
    lambda p: float(p),
    lambda p: round(p),
    lambda p: Fraction(p),
    lambda p: p.denominator == 1,
    lambda p: p.as_integer_ratio(),
]


@pytest.mark.parametrize("operation", NO_LINES)
def test_what_is_no_line_is_known_at_the_sample_alone(operation: Callable[[Any], Any]) -> None:
    sample = Sample(Fraction(5), RANGE)
    assert operation(sample.setting()) == operation(Fraction(5))
    assert sample.cell == Interval(Fraction(5), Fraction(5)) and sample.pinned


def test_equal_lines_are_equal_everywhere() -> None:
    sample = Sample(Fraction(5), RANGE)
    assert sample.setting() + 1 == 1 + sample.setting() and sample.cell == RANGE
    assert hash(sample.setting()) == hash(Fraction(5))
    assert bool(sample.setting()) and sample.cell == Interval(Fraction(0), Fraction(10), low_in=False)
    assert sample.setting() != "5"


@dataclass(frozen=True)
class Holder:
    """Some data."""

    formula: Formula
    times: tuple[Fraction, ...]
    table: dict[str, Fraction]


def test_settling_a_whole() -> None:
    p = Sample(Fraction(5), RANGE).setting()
    formula = Less(Sum((Const(p), Const(Fraction(1)))), Const(Fraction(9)))
    held = Holder(formula, (Fraction(2), p * 2), {"a": p})
    known = settled(held, Fraction(7))
    assert known == Holder(
        Less(Sum((Const(Fraction(7)), Const(Fraction(1)))), Const(Fraction(9))),
        (Fraction(2), Fraction(14)),
        {"a": Fraction(7)},
    )
    assert not any(isinstance(figure, Unknown) for figure in figures(known))
    same = Holder(Const(Fraction(1)), (Fraction(2),), {})
    assert settled(same, Fraction(7)).formula is same.formula


def test_where_figures_meet() -> None:
    p = Sample(Fraction(5), RANGE).setting()
    data = Holder(Const(p), (Fraction(2), 2 * p - 3, Fraction(12)), {})
    # p = 2, p = 12 (outside), 2 p - 3 = 2, 2 p - 3 = 12, 2 p - 3 = p
    assert meetings(data, RANGE) == [Fraction(2), Fraction(5, 2), Fraction(3), Fraction(15, 2)]


def test_the_sides_of_a_value_that_is_taken_out() -> None:
    sample = Sample(Fraction(5), RANGE)
    sample.excludes(Fraction(7))
    sample.excludes(Fraction(2))
    assert sample.cell == Interval(Fraction(2), Fraction(7), False, False)
