"""Linear forms over analog inputs, and conditions on them as pieces.

A comparison of two linear forms is a `Below`. A condition built from such comparisons alone (a lever
is moved: `abs(x) > 5 %`) is a union of *pieces*, each a conjunction of Belows; so is its opposite.
An engine can then decide the condition as one question, whatever its parts.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula


@dataclass(frozen=True, slots=True)
class Line:
    """A linear form: `constant` plus the sum of factor times input, over (input number, factor)."""

    constant: Fraction
    terms: tuple[tuple[int, Fraction], ...] = ()

    def __add__(self, other: Line | Fraction | int) -> Line:
        if not isinstance(other, Line):
            return Line(self.constant + other, self.terms)
        sums = dict(self.terms)
        for number, factor in other.terms:
            sums[number] = sums.get(number, Fraction(0)) + factor
        kept = sorted((number, factor) for number, factor in sums.items() if factor)
        return Line(self.constant + other.constant, tuple(kept))

    __radd__ = __add__

    def __mul__(self, factor: Line | Fraction | int) -> Line:
        if isinstance(factor, Line):
            if self.terms:
                assert not factor.terms, "products of two analog values are refused when compiled"
                return self * factor.constant
            return factor * self.constant
        if not factor:
            return Line(Fraction(0))
        return Line(self.constant * factor, tuple((n, own * factor) for n, own in self.terms))

    __rmul__ = __mul__


@dataclass(frozen=True, slots=True)
class Below:
    """`sum of factor times input < limit` (`<=` when or_equal), factors with a fixed scale."""

    terms: tuple[tuple[int, Fraction], ...]
    limit: Fraction
    or_equal: bool

    def negated(self) -> Below:
        """The opposite, as another Below."""
        opposite = tuple((number, -factor) for number, factor in self.terms)
        return Below(opposite, -self.limit, not self.or_equal)

    def true_of(self, values: Mapping[int, Fraction]) -> bool:
        """Whether it is true of these inputs."""
        total = sum((factor * values[number] for number, factor in self.terms), Fraction(0))
        return total < self.limit or (self.or_equal and total == self.limit)


def below(left: Line | Fraction | int, right: Line | Fraction | int, or_equal: bool) -> Below | bool:
    """The comparison as a Below with the first factor 1 or -1, or its truth if no input is left."""
    difference = Line(Fraction(0)) + left + (Line(Fraction(0)) + right) * -1
    if not difference.terms:
        return difference.constant < 0 or (or_equal and difference.constant == 0)
    scale = abs(difference.terms[0][1])
    terms = tuple((number, factor / scale) for number, factor in difference.terms)
    return Below(terms, -difference.constant / scale, or_equal)


Piece: TypeAlias = frozenset[Below]
TOO_MANY = 32  # pieces; a condition with more is asked about part by part


def line_of(formula: Formula, number_of: Callable[[str], int]) -> Line | None:
    """The formula as one linear form, or None if it is not one whatever the state."""
    match formula:
        case f.Const(Fraction() as value):
            return Line(value)
        case f.Read(name, False):
            number = number_of(name)
            return None if number < 0 else Line(Fraction(0), ((number, Fraction(1)),))
        case f.Sum(parts):
            total = Line(Fraction(0))
            for part in parts:
                line = line_of(part, number_of)
                if line is None:
                    return None
                total = total + line
            return total
        case f.Product(left, right):
            a, b = line_of(left, number_of), line_of(right, number_of)
            return None if a is None or b is None or (a.terms and b.terms) else a * b
    return None


def pieces(formula: Formula, truth: bool, number_of: Callable[[str], int]) -> frozenset[Piece] | None:
    """The pieces on which the formula has this truth, or None if it is not built from comparisons of
    linear forms alone, or has too many."""

    def some(parts: tuple[Formula, ...], truth: bool) -> frozenset[Piece] | None:
        found: set[Piece] = set()
        for part in parts:
            own = pieces(part, truth, number_of)
            if own is None:
                return None
            found |= own
        return frozenset(found) if len(found) <= TOO_MANY else None

    def every(parts: tuple[Formula, ...], truth: bool) -> frozenset[Piece] | None:
        found: set[Piece] = {frozenset()}
        for part in parts:
            own = pieces(part, truth, number_of)
            if own is None:
                return None
            found = {a | b for a, b in itertools.product(found, own)}
            if len(found) > TOO_MANY:
                return None
        return frozenset(found)

    match formula:
        case f.Const(bool() as value):
            return frozenset({frozenset()}) if value is truth else frozenset()
        case f.Not(operand):
            return pieces(operand, not truth, number_of)
        case f.All(parts):
            return every(parts, True) if truth else some(parts, False)
        case f.Some(parts):
            return some(parts, True) if truth else every(parts, False)
        case f.Choose(condition, then, other):
            both = f.Some((f.All((condition, then)), f.All((f.Not(condition), other))))
            return pieces(both, truth, number_of)
        case f.Same(left, right):
            if line_of(left, number_of) is None or line_of(right, number_of) is None:
                return None
            between = f.All((f.Less(left, right, True), f.Less(right, left, True)))
            return pieces(between, truth, number_of)
        case f.Less(left, right, or_equal):
            simpler = distributed(formula)
            if simpler is not formula:
                return pieces(simpler, truth, number_of)
            a, b = line_of(left, number_of), line_of(right, number_of)
            if a is None or b is None:
                return None
            bound = below(a, b, or_equal)
            if isinstance(bound, bool):
                return pieces(f.Const(bound), truth, number_of)
            return frozenset({frozenset({bound if truth else bound.negated()})})
    return None


def distributed(formula: f.Less) -> Formula:
    """The comparison with `max`, `min` and `if ... else` at the top of a side moved outside it, so
    that `abs(x) > 4 %` needs no question about the sign of x, nor `clamp` one about what it cuts."""
    left, right, or_equal = pushed(formula.left), pushed(formula.right), formula.or_equal
    match left, right:
        case f.Const(Fraction() as a), f.Const(Fraction() as b):
            return f.Const(a < b or (or_equal and a == b))
        case f.Greatest(parts), _:
            return f.All(tuple(f.Less(part, right, or_equal) for part in parts))
        case f.Least(parts), _:
            return f.Some(tuple(f.Less(part, right, or_equal) for part in parts))
        case _, f.Greatest(parts):
            return f.Some(tuple(f.Less(left, part, or_equal) for part in parts))
        case _, f.Least(parts):
            return f.All(tuple(f.Less(left, part, or_equal) for part in parts))
        case f.Choose(condition, then, other), _:
            return f.Choose(condition, f.Less(then, right, or_equal), f.Less(other, right, or_equal))
        case _, f.Choose(condition, then, other):
            return f.Choose(condition, f.Less(left, then, or_equal), f.Less(left, other, or_equal))
    return formula


def pushed(formula: Formula) -> Formula:
    """A product with a constant moved inside `max`, `min` and `if ... else`."""
    match formula:
        case f.Product(f.Const(Fraction() as factor) as constant, inner):
            pass
        case f.Product(inner, f.Const(Fraction() as factor) as constant):
            pass
        case _:
            return formula
    match inner:
        case f.Const(Fraction() as value):
            return f.Const(factor * value)
        case f.Greatest(parts) | f.Least(parts):
            turned = isinstance(inner, f.Greatest) == (factor < 0)
            scaled = tuple(pushed(f.Product(constant, part)) for part in parts)
            return f.Least(scaled) if turned else f.Greatest(scaled)
        case f.Choose(condition, then, other):
            return f.Choose(
                condition, pushed(f.Product(constant, then)), pushed(f.Product(constant, other))
            )
    return formula
