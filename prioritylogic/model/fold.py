"""Building formulas with what is constant already worked out.

Why: binders and settings turn into constants, and `c is right and pressed(take[left])` should vanish
from the guard of `take[left]` instead of being carried through every engine. Only constants are
folded; nothing is reordered, so a formula still reads like its source.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from prioritylogic.model.formula import (
    All,
    Choose,
    Const,
    Formula,
    Greatest,
    Least,
    Less,
    Not,
    Product,
    Read,
    Same,
    Some,
    Sum,
    children,
    conjunction,
    disjunction,
    negation,
)


def number(formula: Formula) -> Fraction | None:
    """The number a formula always is, or None."""
    if isinstance(formula, Const) and isinstance(formula.value, Fraction):
        return formula.value
    return None


def same(left: Formula, right: Formula) -> Formula:
    """Equality."""
    if isinstance(left, Const) and isinstance(right, Const):
        return Const(left.value == right.value)
    return Same(left, right)


def less(left: Formula, right: Formula, or_equal: bool) -> Formula:
    """Order of two numbers."""
    a, b = number(left), number(right)
    if a is None or b is None:
        return Less(left, right, or_equal)
    return Const(a <= b if or_equal else a < b)


def choose(condition: Formula, then: Formula, other: Formula) -> Formula:
    """`then if condition else other`."""
    if isinstance(condition, Const):
        return then if condition.value else other
    if then is other:
        return then
    if isinstance(then, Const) and isinstance(other, Const):
        if then == other:
            return then
        if then.value is True and other.value is False:
            return condition
        if then.value is False and other.value is True:
            return negation(condition)
    return Choose(condition, then, other)


def add(*parts: Formula) -> Formula:
    """A sum, its constants gathered at the end."""
    flat = [q for p in parts for q in (p.parts if isinstance(p, Sum) else (p,))]
    constant = sum((n for p in flat if (n := number(p)) is not None), Fraction(0))
    rest = [p for p in flat if number(p) is None]
    if constant or not rest:
        rest.append(Const(constant))
    return rest[0] if len(rest) == 1 else Sum(tuple(rest))


def multiply(left: Formula, right: Formula) -> Formula:
    """A product; a constant factor comes first."""
    a, b = number(left), number(right)
    if a is not None and b is not None:
        return Const(a * b)
    if b is not None:
        left, right, a = right, left, b
    if a == 0:
        return Const(Fraction(0))
    return right if a == 1 else Product(left, right)


def minus(formula: Formula) -> Formula:
    """The number with the other sign."""
    return multiply(Const(Fraction(-1)), formula)


def least(*parts: Formula) -> Formula:
    """The smallest of these."""
    numbers = [n for p in parts if (n := number(p)) is not None]
    if len(numbers) == len(parts):
        return Const(min(numbers))
    return parts[0] if len(parts) == 1 else Least(parts)


def greatest(*parts: Formula) -> Formula:
    """The largest of these."""
    numbers = [n for p in parts if (n := number(p)) is not None]
    if len(numbers) == len(parts):
        return Const(max(numbers))
    return parts[0] if len(parts) == 1 else Greatest(parts)


def known(formula: Formula, values: Mapping[Read, Const]) -> Formula:
    """The formula where these names are known to have these values. (What a timer watches is left.)

    >>> owner, count = Read("owner"), Read("count")
    >>> known(Choose(Same(owner, Const("left")), count, Const(Fraction(0))), {owner: Const("left")})
    Read(name='count', before=False)
    """
    done: dict[int, Formula] = {}

    def visit(part: Formula) -> Formula:
        if id(part) not in done:
            done[id(part)] = work_out(part)
        return done[id(part)]

    def work_out(part: Formula) -> Formula:
        if isinstance(part, Read):
            return values.get(part, part)
        parts = tuple(map(visit, children(part)))
        if all(new is old for new, old in zip(parts, children(part), strict=True)):
            return part
        match part:
            case Not():
                return negation(*parts)
            case All():
                return conjunction(*parts)
            case Some():
                return disjunction(*parts)
            case Choose():
                return choose(*parts)
            case Same():
                return same(*parts)
            case Less(or_equal=or_equal):
                return less(parts[0], parts[1], or_equal)
            case Sum():
                return add(*parts)
            case Product():
                return multiply(*parts)
            case Least():
                return least(*parts)
            case Greatest():
                return greatest(*parts)
            case _:
                return part

    return visit(formula)
