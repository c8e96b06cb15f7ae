"""Reasons at a point, and the interval that they leave to one variable."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import pytest

from prioritylogic.engines.halfspaces import reasons, shadow
from prioritylogic.engines.limits import Limits
from prioritylogic.model.intervals import Interval
from prioritylogic.semantics.terms import Term, Terms, evaluate

T = Terms()
P, X, Y = (T.var(name, "Real") for name in "pxy")
TEN = T.all(T.below(T.zero, P, True), T.below(P, T.const(Fraction(10)), True))


def figure(value: int) -> Term:
    return T.const(Fraction(value))


def around(point: Mapping[str, Fraction], *facts: Term) -> Interval:
    assert all(evaluate(fact, point) for fact in facts)
    return shadow(reasons([TEN, *facts], point), "p", Limits())


def test_ends_are_in_or_out_as_the_comparisons_say() -> None:
    point = {"p": Fraction(4), "x": Fraction(3), "y": Fraction(0)}
    assert around(point, T.below(X, P), T.same(X, figure(3))) == Interval(
        Fraction(3), Fraction(10), False, True
    )
    assert around(point, T.below(figure(3), P, True)) == Interval(Fraction(3), Fraction(10))
    assert around(point, T.negation(T.below(P, figure(3), True))) == Interval(
        Fraction(3), Fraction(10), False, True
    )
    assert around(point, T.negation(T.same(P, figure(6)))) == Interval(
        Fraction(0), Fraction(6), True, False
    )


def test_other_variables_give_way() -> None:
    """x + y = p, both in 0 to 2: p may be up to 4, whatever they were."""
    point = {"p": Fraction(1), "x": Fraction(1), "y": Fraction(0)}
    boxes = [T.below(T.zero, v, True) for v in (X, Y)] + [T.below(v, figure(2)) for v in (X, Y)]
    assert around(point, T.same(T.add(X, Y), P), *boxes) == Interval(
        Fraction(0), Fraction(4), True, False
    )


def test_of_alternatives_one_that_is_true_counts() -> None:
    low, high = T.below(P, figure(2)), T.below(figure(8), P)
    point = {"p": Fraction(9), "x": Fraction(0), "y": Fraction(0)}
    assert around(point, T.any(low, high)) == Interval(Fraction(8), Fraction(10), False, True)
    assert around(point, T.negation(T.all(low, T.below(X, Y)))) == Interval(Fraction(2), Fraction(10))


def test_a_choice_counts_with_its_condition() -> None:
    chosen = T.choose(T.below(P, figure(5)), X, Y)
    point = {"p": Fraction(4), "x": Fraction(3), "y": Fraction(9)}
    fact = T.all(T.below(chosen, P), T.below(figure(2), X))
    assert around(point, fact) == Interval(Fraction(2), Fraction(5), False, False)
    truth = T._make("ite", "Bool", T.below(P, figure(5)), T.below(X, P), T.below(Y, P))
    assert around(point, truth, T.same(X, figure(3))) == Interval(Fraction(3), Fraction(5), False, False)


def test_what_is_no_line_stays_as_it_was() -> None:
    point = {"p": Fraction(4), "x": Fraction(3), "y": Fraction(2)}
    fact = T.below(P, T.multiply(X, Y), True)
    assert around(point, fact, T.below(Y, figure(3))) == Interval(Fraction(0), Fraction(9), True, False)
    whole = T.is_whole(P)
    assert around(point, whole) == Interval(Fraction(4), Fraction(4))


@pytest.mark.parametrize("value", [Fraction(1), Fraction(3), Fraction(9)])
def test_the_point_is_in_its_own_surroundings(value: Fraction) -> None:
    facts = [T.any(T.below(P, figure(2), True), T.same(P, figure(3)), T.below(figure(8), P))]
    assert around({"p": value}, *facts).has(value)
