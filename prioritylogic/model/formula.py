"""Formulas: the typed, flat expressions of a checked System.

Why a second kind of expression beside the syntax tree: here every name is resolved, groups and
terms are expanded, units are gone (durations in seconds, `%` as a fraction, all numbers exact), and
what is left is small enough that each engine states its whole reading of it on one page.

Two moments matter. A formula is evaluated *in a reaction*: plain names mean their value in (after)
this reaction, `before` ones their value before it. *At rest* it is evaluated with the same state for
both moments and no event: then `pressed(x)` is false by itself, since it is `x and not before(x)`.
The own state and own memory of a machine are already marked `before` inside its rules, because
there they mean their value as the reaction starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

Value: TypeAlias = bool | Fraction | str


@dataclass(frozen=True, slots=True)
class Const:
    """A truth value, a number, or a value's name."""

    value: Value


@dataclass(frozen=True, slots=True)
class Read:
    """The value of an input, a machine (its state's name) or memory."""

    name: str
    before: bool = False


@dataclass(frozen=True, slots=True)
class TimedRead:
    """`operand for T` / `operand within last T`, where T and kind are those of
    `system.timed[timer]`. `operand` is the condition as this reader reads it.

    In a reaction: for an on-delay, the timer had expired before or expires now, and operand; for an
    off-delay, operand, or it was true at rest before, or the timer runs and does not expire now.
    With `before`: what the timer's phase says, before the reaction (`operand` is then not used).
    """

    timer: int
    operand: Formula
    before: bool = False


@dataclass(frozen=True, slots=True)
class AlertRead:
    """`raised` (on or cleared), `cleared`, or the event `sounds` (never with `before`)."""

    alert: str
    what: Literal["raised", "cleared", "sounds"]
    before: bool = False


@dataclass(frozen=True, slots=True)
class Taken:
    """The event: one of these rules is taken in this reaction."""

    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """Negation."""

    operand: Formula


@dataclass(frozen=True, slots=True)
class All:
    """Conjunction; of none: true."""

    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Some:
    """Disjunction; of none: false."""

    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Choose:
    """`then if condition else other`, of truth values, numbers or names."""

    condition: Formula
    then: Formula
    other: Formula


@dataclass(frozen=True, slots=True)
class Same:
    """Equality of two values of one kind (truth values, numbers or names)."""

    left: Formula
    right: Formula


@dataclass(frozen=True, slots=True)
class Less:
    """`left < right`, or `left <= right` when `or_equal`. (`>` is written the other way round.)"""

    left: Formula
    right: Formula
    or_equal: bool = False


@dataclass(frozen=True, slots=True)
class Sum:
    """Addition; of none: 0."""

    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Product:
    """Multiplication. Division is by a constant and already turned into this."""

    left: Formula
    right: Formula


@dataclass(frozen=True, slots=True)
class Least:
    """The smallest of at least one number."""

    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Greatest:
    """The largest of at least one number. `abs(x)` is Greatest((x, -1 * x))."""

    parts: tuple[Formula, ...]


Formula: TypeAlias = (
    Const
    | Read
    | TimedRead
    | AlertRead
    | Taken
    | Not
    | All
    | Some
    | Choose
    | Same
    | Less
    | Sum
    | Product
    | Least
    | Greatest
)

TRUE = Const(True)
FALSE = Const(False)


def children(formula: Formula) -> tuple[Formula, ...]:
    """The direct parts of a formula, left to right."""
    match formula:
        case All(parts) | Some(parts) | Sum(parts) | Least(parts) | Greatest(parts):
            return parts
        case Not(operand):
            return (operand,)
        case TimedRead(_, operand, before):
            return () if before else (operand,)
        case Choose(condition, then, other):
            return (condition, then, other)
        case Same(left, right) | Less(left, right) | Product(left, right):
            return (left, right)
        case _:
            return ()


def rebuild(formula: Formula, parts: tuple[Formula, ...]) -> Formula:
    """The same formula over other parts (as many as `children` gives)."""
    match formula:
        case All() | Some() | Sum() | Least() | Greatest():
            return type(formula)(parts)
        case Not():
            return Not(parts[0])
        case TimedRead(timer, _, False):
            return TimedRead(timer, parts[0])
        case Choose():
            return Choose(*parts)
        case Same():
            return Same(*parts)
        case Less(_, _, or_equal):
            return Less(parts[0], parts[1], or_equal)
        case Product():
            return Product(*parts)
        case _:
            return formula


def walk(formula: Formula) -> Iterator[Formula]:
    """Every different part of a formula once, itself first."""
    seen: set[int] = set()
    waiting = [formula]
    while waiting:
        part = waiting.pop()
        if id(part) not in seen:
            seen.add(id(part))
            yield part
            waiting.extend(reversed(children(part)))


def replace(formula: Formula, change: Callable[[Formula], Formula | None]) -> Formula:
    """The formula with every part for which `change` gives another one replaced, outermost first.

    Shared parts stay shared.
    """
    done: dict[int, Formula] = {}

    def visit(part: Formula) -> Formula:
        if id(part) not in done:
            changed = change(part)
            if changed is None:
                old = children(part)
                new = tuple(visit(child) for child in old)
                same = all(a is b for a, b in zip(old, new, strict=True))
                changed = part if same else rebuild(part, new)
            done[id(part)] = changed
        return done[id(part)]

    return visit(formula)


def conjunction(*parts: Formula) -> Formula:
    """All of these, without needless nesting."""
    flat: list[Formula] = []
    for part in parts:
        if part == FALSE:
            return FALSE
        if part != TRUE:
            flat.extend(part.parts if isinstance(part, All) else (part,))
    return flat[0] if len(flat) == 1 else All(tuple(flat)) if flat else TRUE


def disjunction(*parts: Formula) -> Formula:
    """At least one of these, without needless nesting."""
    flat: list[Formula] = []
    for part in parts:
        if part == TRUE:
            return TRUE
        if part != FALSE:
            flat.extend(part.parts if isinstance(part, Some) else (part,))
    return flat[0] if len(flat) == 1 else Some(tuple(flat)) if flat else FALSE


def negation(part: Formula) -> Formula:
    """Not this, without double negation."""
    if isinstance(part, Const):
        return Const(not part.value)
    return part.operand if isinstance(part, Not) else Not(part)


def earlier(formula: Formula) -> Formula:
    """`before(formula)`: every name at its value before the reaction; events are false."""

    def change(part: Formula) -> Formula | None:
        match part:
            case Read(name, False):
                return Read(name, True)
            case TimedRead(timer, _, False):
                return TimedRead(timer, TRUE, True)
            case AlertRead(_, "sounds") | Taken():
                return FALSE
            case AlertRead(alert, what, False):
                return AlertRead(alert, what, True)
            case _:
                return None

    return replace(formula, change)


def begins(formula: Formula) -> Formula:
    """The event: it holds in this reaction and did not hold at rest before it."""
    return conjunction(formula, negation(earlier(formula)))
