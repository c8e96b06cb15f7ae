"""Terms over a setting."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic.model.intervals import Interval
from prioritylogic.model.unknown import Sample
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.parametric import ParametricTerms
from prioritylogic.semantics.terms import evaluate

RANGE = Interval(Fraction(1), Fraction(5), high_in=False)


def test_a_line_is_a_term_over_the_setting_and_its_cell_stays() -> None:
    t, sample = ParametricTerms("p", "s", Fraction(1), RANGE), Sample(Fraction(2), RANGE)
    line = 3 - 2 * sample.setting()
    for made in (t.const(line), t.figure(line)):
        assert [evaluate(made, {"p": Fraction(n)}) for n in range(4)] == [3, 1, -1, -3]
    assert sample.cell == RANGE
    assert t.figure(Fraction(4)) is t.const(4) and t.const(Fraction(4)).sort == "Real"


def test_comparing_figures_is_left_to_the_solver() -> None:
    t, p = ParametricTerms("p", "s", Fraction(1), RANGE), Sample(Fraction(2), RANGE).setting()
    below = t.below(t.const(p), t.const(Fraction(3)))
    assert [evaluate(below, {"p": Fraction(n)}) for n in (2, 3)] == [True, False]


def test_the_values_of_the_setting() -> None:
    t = ParametricTerms("p", "s", Fraction(1), RANGE)
    assert [bool(evaluate(t.among, {"p": Fraction(n)})) for n in (0, 1, 4, 5)] == [
        False,
        True,
        True,
        False,
    ]


def test_a_product_of_two_unknowns_is_declined() -> None:
    t = ParametricTerms("p", "s", Fraction(1), RANGE)
    x, y = t.var("x", "Real"), t.var("y", "Real")
    assert repr(t.multiply(x, y)) == "(* x y)"
    with pytest.raises(Declined, match="multiplied by what changes"):
        t.multiply(x, t.add(t.setting, y))
