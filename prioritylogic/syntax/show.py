"""Nodes back to text, with as few parentheses as the grammar allows.

Reading what this writes gives the same node again, places apart; a property test says so. It shows
formulas in messages and reports, so it never refuses a node.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from prioritylogic.syntax import nodes

# How tightly each form binds, loosest first; the numbers are the levels of grammar.lark.
_IF, _IMPLIES, _OR, _AND, _NOT, _COMPARE, _SUM, _PRODUCT, _FACTOR, _ATOM = range(10)
# operator: (its own level, what its left side needs, what its right side needs)
_LEVELS = MappingProxyType(
    {
        "implies": (_IMPLIES, _OR, _IMPLIES),
        "or": (_OR, _OR, _AND),
        "and": (_AND, _AND, _NOT),
        **dict.fromkeys(("is", "is not", "=", "!=", "<", "<=", ">", ">="), (_COMPARE, _SUM, _SUM)),
        **dict.fromkeys("+-", (_SUM, _SUM, _PRODUCT)),
        **dict.fromkeys("*/", (_PRODUCT, _PRODUCT, _FACTOR)),
    }
)


def text_of(node: Any, strict: str = "over") -> str:
    """An expression or phrase as a spec writes it.

    >>> from prioritylogic.syntax.expressions import parse
    >>> text_of(parse("expression", "(a and (b))or(c>  2.50 s)"))
    'a and b or c > 2.5 s'

    Args:
        node: an expression or phrase of nodes.py.
        strict: the word for a strict Bound: `over`, or `under` in `within` and `every`.
    """
    match node:
        case nodes.Text(_, value):
            return value
        case nodes.Declared(_, base, places):
            return base + _bracketed(_place(place) for place in places)
        case nodes.Binder(_, name, group):
            return f"{name} in {group}"
        case nodes.Binders(_, binders, where):
            return _binders(binders, where)
        case nodes.Bound(_, duration, is_strict):
            return f"{strict} {text_of(duration)}" if is_strict else text_of(duration)
        case nodes.Range(_, low, high, whole):
            return f"{'whole ' if whole else ''}{_at(low, _SUM)} to {_at(high, _SUM)}"
        case nodes.Takes(_, lower, upper):
            return _takes(lower, upper)
        case nodes.Step(_, "together", parts=parts):
            return "; ".join(text_of(part) for part in parts)
        case nodes.Step(_, verb, target, None):
            return f"{verb} {text_of(target)}"
        case nodes.Step(_, verb, target, value):
            return f"{verb} {text_of(target)} to {text_of(value)}"
        case _:
            return _written(node)[1]


def _at(node: nodes.Expression, level: int) -> str:
    """The text of a part where at least this level is needed."""
    own, text = _written(node)
    return text if own >= level else f"({text})"


def _written(node: nodes.Expression) -> tuple[int, str]:
    """An expression's level and text."""
    match node:
        case nodes.Number(_, value, unit):
            return _number(value, unit)
        case nodes.Name(_, base, indices, attribute):
            return _ATOM, base + _bracketed(map(text_of, indices)) + (
                f".{attribute}" if attribute else ""
            )
        case nodes.IfElse(_, condition, then, other):
            return _IF, f"{_at(then, _IMPLIES)} if {_at(condition, _IMPLIES)} else {_at(other, _IF)}"
        case nodes.Binary(_, operator, left, right):
            own, left_level, right_level = _LEVELS[operator]
            return own, f"{_at(left, left_level)} {operator} {_at(right, right_level)}"
        case nodes.Membership(_, left, members, negated):
            return _COMPARE, f"{_at(left, _SUM)} {'is not in' if negated else 'in'} {_members(members)}"
        case nodes.Unary(_, "not", operand):
            return _NOT, f"not {_at(operand, _NOT)}"
        case nodes.Unary(_, _, operand):
            return _FACTOR, f"-{_at(operand, _FACTOR)}"
        case nodes.Call(_, function, arguments):
            return _ATOM, f"{function}({', '.join(map(text_of, arguments))})"
        case nodes.Aggregate(_, function, body, binders, where):
            return _ATOM, f"{function}({text_of(body)} over {_binders(binders, where)})"
        case nodes.Timed(_, kind, operand, duration):
            simple = isinstance(duration, nodes.Name | nodes.Number)
            length = text_of(duration) if simple else f"({text_of(duration)})"
            return _NOT, f"{_at(operand, _ATOM)} {kind} {length}"


def _number(value: Fraction, unit: str | None) -> tuple[int, str]:
    """Decimal where that is exact (all that a spec can hold), else a quotient."""
    behind = f" {unit}" if unit else ""
    places = 0
    while (value * 10**places).denominator % 2 == 0 or (value * 10**places).denominator % 5 == 0:
        places += 1
    whole = value * 10**places
    if whole.denominator != 1:
        return _PRODUCT, f"{value.numerator}{behind} / {value.denominator}"
    digits = str(abs(whole.numerator)).rjust(places + 1, "0")
    split = len(digits) - places
    sign = "-" if value < 0 else ""
    return _FACTOR, f"{sign}{digits[:split]}{'.' if places else ''}{digits[split:]}{behind}"


def _members(members: tuple[nodes.Expression, ...]) -> str:
    if len(members) == 1 and isinstance(members[0], nodes.Name):
        return text_of(members[0])
    return f"({', '.join(map(text_of, members))})"


def _binders(binders: tuple[nodes.Binder, ...], where: nodes.Expression | None) -> str:
    listed = ", ".join(f"{binder.name} in {binder.group}" for binder in binders)
    return f"{listed} where {text_of(where)}" if where is not None else listed


def _place(place: nodes.Index) -> str:
    return f"{place.binder} in {place.group}" if place.binder else place.group


def _bracketed(indices: Iterable[str]) -> str:
    listed = ", ".join(indices)
    return f"[{listed}]" if listed else ""


def _takes(lower: nodes.Bound | None, upper: nodes.Bound | None) -> str:
    low = _at(lower.duration, _SUM) if lower else ""
    high = _at(upper.duration, _SUM) if upper else ""
    match lower, upper:
        case None, None:
            return "some day"
        case None, nodes.Bound(strict=strict):
            return f"{'under' if strict else 'at most'} {high}"
        case nodes.Bound(strict=strict), None:
            return f"{'over' if strict else 'at least'} {low}"
        case nodes.Bound(strict=over), nodes.Bound(strict=under):
            return f"{'over ' if over else ''}{low} to {'under ' if under else ''}{high}"
    raise AssertionError("every pair of bounds is covered above")
