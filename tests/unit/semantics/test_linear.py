"""Conditions on analog inputs as pieces: held against plain evaluation on a grid of half steps.

The grid holds every limit of the small coefficients used here, and points on both sides of each.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import pytest

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.semantics.linear import Below, Line, below, distributed, line_of, pieces, pushed

X, Y = f.Read("x"), f.Read("y")
NUMBERS = {"x": 0, "y": 1}
GRID = [
    {0: Fraction(x, 2), 1: Fraction(y, 2)} for x, y in itertools.product(range(-9, 10), range(-9, 10))
]


def number(name: str) -> int:
    return NUMBERS.get(name, -1)


def const(value: int | Fraction) -> f.Const:
    return f.Const(Fraction(value))


def times(factor: int | Fraction, part: Formula) -> f.Product:
    return f.Product(const(factor), part)


def magnitude(part: Formula) -> Formula:
    return f.Greatest((part, times(-1, part)))


def clamp(part: Formula, low: int, high: int) -> Formula:
    return f.Least((f.Greatest((part, const(low))), const(high)))


def value(formula: Formula, at: dict[int, Fraction]) -> bool | Fraction | str:
    """Plain evaluation, as short as can be."""

    def of(part: Formula):  # type: ignore[no-untyped-def]
        return value(part, at)

    match formula:
        case f.Const(constant):
            return constant
        case f.Read(name):
            return at[number(name)]
        case f.Sum(parts):
            return sum(map(of, parts), Fraction(0))
        case f.Product(left, right):
            return of(left) * of(right)
        case f.Least(parts):
            return min(map(of, parts))
        case f.Greatest(parts):
            return max(map(of, parts))
        case f.Choose(condition, then, other):
            return of(then) if of(condition) else of(other)
        case f.Less(left, right, or_equal):
            return of(left) <= of(right) if or_equal else of(left) < of(right)
        case f.Same(left, right):
            return of(left) == of(right)
        case f.Not(operand):
            return not of(operand)
        case f.All(parts):
            return all(map(of, parts))
        case f.Some(parts):
            return any(map(of, parts))
    raise AssertionError(formula)


MOVED = f.Less(const(2), magnitude(X))
CONDITIONS: dict[str, Formula] = {
    "abs(x) > 2": MOVED,
    "abs(x) >= 2": f.Less(const(2), magnitude(X), True),
    "abs(x) < 2": f.Less(magnitude(X), const(2)),
    "x = 2": f.Same(X, const(2)),
    "not x = 2": f.Not(f.Same(X, const(2))),
    "x + y <= 1": f.Less(f.Sum((X, Y)), const(1), True),
    "2 x < -3 y": f.Less(times(2, X), times(-3, Y)),
    "clamp(x, -1, 1) > y": f.Less(Y, clamp(X, -1, 1)),
    "clamp(x, -1, 1) < y": f.Less(clamp(X, -1, 1), Y),
    "-2 clamp(x, -1, 3) <= 1": f.Less(times(-2, clamp(X, -1, 3)), const(1), True),
    "min(x, y, 1) > 0": f.Less(const(0), f.Least((X, Y, const(1)))),
    "max(x, y) < min(1, y + 2)": f.Less(f.Greatest((X, Y)), f.Least((const(1), f.Sum((Y, const(2)))))),
    "(x if abs(x) > 2 else 0) > y": f.Less(Y, f.Choose(MOVED, X, const(0))),
    "-1 * (x if y > 0 else max(x, y)) < 1": f.Less(
        times(-1, f.Choose(f.Less(const(0), Y), X, f.Greatest((X, Y)))), const(1)
    ),
    "x > 0 if y > 0 else x < -1": f.Choose(
        f.Less(const(0), Y), f.Less(const(0), X), f.Less(X, const(-1))
    ),
    "abs(x) > 2 and not (y > 1 or x = 4)": f.All(
        (MOVED, f.Not(f.Some((f.Less(const(1), Y), f.Same(X, const(4))))))
    ),
    "0 x < 0": f.Less(times(0, X), const(0)),
    "3 <= 3": f.Less(const(3), const(3), True),
}


@pytest.mark.parametrize("said", CONDITIONS)
@pytest.mark.parametrize("truth", [True, False])
def test_pieces_are_exactly_where_the_condition_has_this_truth(said: str, truth: bool) -> None:
    condition = CONDITIONS[said]
    found = pieces(condition, truth, number)
    assert found is not None
    for at in GRID:
        inside = any(all(bound.true_of(at) for bound in piece) for piece in found)
        assert inside == (value(condition, at) is truth), at


def random_quantity(dice: random.Random, depth: int) -> Formula:
    if depth == 0:
        return dice.choice([X, Y, const(dice.randint(-2, 2))])
    parts = tuple(random_quantity(dice, depth - 1) for _ in range(2))
    kind = dice.randint(0, 3)
    if kind == 0:
        return times(dice.choice([-2, -1, 2]), parts[0])
    if kind == 1:
        return f.Least(parts)
    if kind == 2:
        return f.Greatest(parts)
    return f.Choose(f.Less(X, const(1)), *parts)


def test_moving_extremes_and_choices_outside_changes_no_truth() -> None:
    dice = random.Random(1)
    for _ in range(120):
        left, right = (random_quantity(dice, 2) for _ in range(2))
        comparison = f.Less(left, right, dice.random() < 0.5)
        for at in GRID[::7]:
            assert value(distributed(comparison), at) == value(comparison, at), (comparison, at)
            assert value(pushed(left), at) == value(left, at), (left, at)


@pytest.mark.parametrize(
    "formula",
    [
        f.Less(f.Product(X, Y), const(1)),
        f.Less(f.Sum((f.Greatest((X, Y)), X)), const(1)),  # an extreme inside a sum
        f.Less(X, f.Read("k")),  # memory: its value depends on the state
        f.Less(X, f.Read("x", before=True)),
        f.Read("flag"),
        f.Taken(("r",)),
    ],
)
def test_what_is_no_condition_on_analog_inputs_alone_has_no_pieces(formula: Formula) -> None:
    assert pieces(formula, True, number) is None
    assert pieces(f.Not(formula), True, number) is None


def test_too_many_pieces_are_refused() -> None:
    either = [f.Some((f.Less(X, const(n)), f.Less(const(n + 1), Y))) for n in range(6)]
    assert pieces(f.All(tuple(either[:4])), True, number) is not None
    assert pieces(f.All(tuple(either)), True, number) is None


def test_lines_add_up_and_forget_what_cancels() -> None:
    line = line_of(f.Sum((times(2, X), Y, const(3), times(-1, Y))), number)
    assert line == Line(Fraction(3), ((0, Fraction(2)),))
    assert Line(Fraction(1)) * line == line
    assert 2 + line * 0 == Line(Fraction(2))


def test_a_comparison_is_scaled_so_that_equal_ones_are_one() -> None:
    x = Line(Fraction(0), ((0, Fraction(1)),))
    assert (
        below(x * 4, 2, True)
        == below(x * 2, 1, True)
        == Below(((0, Fraction(1)),), Fraction(1, 2), True)
    )
    assert below(x * -4, 2, False) == Below(((0, Fraction(-1)),), Fraction(1, 2), False)
    assert below(x, x, True) is True
    assert below(x, x, False) is False


def test_the_opposite_of_a_comparison_is_true_where_it_is_not() -> None:
    for or_equal in (True, False):
        bound = Below(((0, Fraction(1)), (1, Fraction(-2))), Fraction(1), or_equal)
        for at in GRID:
            assert bound.negated().true_of(at) is not bound.true_of(at)
