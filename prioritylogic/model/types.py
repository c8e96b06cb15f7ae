"""Types: what kind of value an expression has, and whether it is a condition or an event.

Four types: a truth value, one of some names, a quantity (with its dimension), and Unknown, which
an expression gets once a fault was reported in it, so that one mistake is not reported five times.

Condition, event, mixed (design, section 3) is worked out from the form of an expression, for it and
for its negation at once: an event `and` anything is an event, `not` of an event is a condition, and
`not (not E)` is the event E again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from prioritylogic.model.formula import FALSE, Const, Formula
from prioritylogic.model.system import Domain, Flag, OneOf, Real, Whole
from prioritylogic.model.units import PLAIN, Dimension, describe


@dataclass(frozen=True, slots=True)
class Truth:
    """True or false. `button`: it can be pressed."""

    button: bool = field(default=False, compare=False)


@dataclass(frozen=True, slots=True)
class Names:
    """One of these names."""

    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number. `dimension` None: a bare 0, at home everywhere. `unit` is only for showing."""

    dimension: Dimension | None = PLAIN
    whole: bool = field(default=False, compare=False)
    unit: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Unknown:
    """A fault was already reported here."""


Type: TypeAlias = Truth | Names | Quantity | Unknown
Kind: TypeAlias = Literal["condition", "event", "mixed"]


@dataclass(frozen=True, slots=True)
class Typed:
    """A lowered expression.

    Attributes:
        formula: what it became.
        type: the kind of its values.
        kind: condition, event or mixed (of a number or a name: mixed if it hangs on an event).
        denied: the kind of its negation.
        size: an upper bound of the parts of `formula`, counted without sharing.
        depth: an upper bound of how deep `formula` is.
    """

    formula: Formula
    type: Type
    kind: Kind = "condition"
    denied: Kind = "condition"
    size: int = 1
    depth: int = 1


LOST = Typed(FALSE, Unknown())


def type_of(domain: Domain, dimension: Dimension = PLAIN) -> Type:
    """The type of a name with these values."""
    match domain:
        case Flag(word):
            return Truth(button=word == "button")
        case OneOf(values):
            return Names(values)
        case Whole():
            return Quantity(PLAIN, whole=True)
        case Real(unit=unit):
            return Quantity(dimension, unit=unit)


def in_words(found: Type) -> str:
    """A type as a message says it."""
    match found:
        case Truth():
            return "true or false"
        case Names(values):
            shown = ", ".join(values[:6]) + (", ..." if len(values) > 6 else "")
            return f"a name ({shown})"
        case Quantity(dimension):
            return "0" if dimension is None else describe(dimension)
        case _:
            return "not known"


def both(parts: Iterable[Typed]) -> Kind:
    """The kind of a conjunction: an event with anything is an event."""
    kinds = {p.kind for p in parts if not isinstance(p.formula, Const)} or {"condition"}
    return _and(kinds)


def either(parts: Iterable[Typed]) -> Kind:
    """The kind of a disjunction: an event or a condition is mixed."""
    kinds = {p.kind for p in parts if not isinstance(p.formula, Const)} or {"condition"}
    return _or(kinds)


def denied(part: Typed, formula: Formula) -> Typed:
    """The negation, whose formula is given."""
    return Typed(formula, Truth(), part.denied, part.kind, part.size + 1, part.depth + 1)


def _and(kinds: set[Kind]) -> Kind:
    return "event" if "event" in kinds else "mixed" if "mixed" in kinds else "condition"


def _or(kinds: set[Kind]) -> Kind:
    return next(iter(kinds)) if len(kinds) == 1 else "mixed"
