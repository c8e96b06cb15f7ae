"""Recognising formulas: equal formulas have equal numbers, and parts that say one thing together.

A checked System has its terms worked in and its events spelled out (`pressed(x)` is `x and not
before(x)`). To say it back in the author's words, both must be found again. Numbers make the
comparison cheap on formulas that share parts; `segments` cuts a conjunction into the pieces that
were written as one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields

from prioritylogic.model.formula import (
    AlertRead,
    All,
    Choose,
    Const,
    Formula,
    Not,
    Read,
    Same,
    Some,
    Taken,
    children,
    conjunction,
    disjunction,
    earlier,
    negation,
)


class Numbering:
    """Gives structurally equal formulas the same number."""

    def __init__(self) -> None:
        self._by_identity: dict[int, tuple[Formula, int]] = {}
        self._by_shape: dict[tuple[object, ...], int] = {}

    def __call__(self, formula: Formula) -> int:
        """The number of a formula."""
        known = self._by_identity.get(id(formula))
        if known is None:
            parts = children(formula)
            own = () if parts else tuple(getattr(formula, f.name) for f in fields(formula))
            mark = (getattr(formula, "timer", None), getattr(formula, "or_equal", None))
            if isinstance(formula, Const):
                own = (type(formula.value), formula.value)
            shape = (type(formula), mark, own, *(self(part) for part in parts))
            known = formula, self._by_shape.setdefault(shape, len(self._by_shape))
            self._by_identity[id(formula)] = known  # keeps the formula, so that its id stays its own
        return known[1]


@dataclass(frozen=True, slots=True)
class Segment:
    """Neighbouring parts of a conjunction: `begins` when they are the event that `core` begins."""

    core: Formula
    begins: bool = False


def edge_length(parts: tuple[Formula, ...], first: int, last: int, number: Numbering) -> int:
    """How many parts after `last` say that parts[first:last] did not hold before; 0 if they do not."""
    core = conjunction(*parts[first:last])
    absent = negation(earlier(core))
    if isinstance(absent, Const) or number(earlier(core)) == number(core):
        return 0
    wanted = absent.parts if isinstance(absent, All) else (absent,)
    found = parts[last : last + len(wanted)]
    return len(wanted) if [*map(number, found)] == [*map(number, wanted)] else 0


def segments(parts: tuple[Formula, ...], number: Numbering, names: dict[int, str]) -> Iterator[Segment]:
    """The pieces of a conjunction, longest first: those with a name, events, then single parts."""
    at = 0
    while at < len(parts):
        for end in range(len(parts), at, -1):
            whole = conjunction(*parts[at:end])
            if edge := edge_length(parts, at, end, number):
                yield Segment(whole, begins=True)
                at = end + edge
                break
            if end - at > 1 and number(whole) in names:
                yield Segment(whole)
                at = end
                break
        else:
            yield Segment(parts[at])
            at += 1


def runs(parts: tuple[Formula, ...], number: Numbering, names: dict[int, str]) -> Iterator[Formula]:
    """The pieces of a disjunction: those with a name, then single parts."""
    at = 0
    while at < len(parts):
        for end in range(len(parts), at + 1, -1):
            whole = disjunction(*parts[at:end])
            if number(whole) in names:
                yield whole
                at = end
                break
        else:
            yield parts[at]
            at += 1


def is_event(formula: Formula, number: Numbering) -> bool:
    """Whether it is true in a reaction only (for a disjunction: in some of its parts)."""
    match formula:
        case Taken() | AlertRead(_, "sounds"):
            return True
        case Some(parts):
            return any(is_event(part, number) for part in parts)
        case All(parts):
            return any(s.begins or is_event(s.core, number) for s in segments(parts, number, {}))
        case _:
            return False


def is_simple(formula: Formula) -> bool:
    """A single name, its value or its edge: shorter said than named."""
    match formula:
        case Const() | Read() | Same(Read(), Const()):
            return True
        case Not(operand):
            return is_simple(operand)
        case All((first, second)):
            return isinstance(first, Read) and second == negation(earlier(first))
        case _:
            return False


def gathered(parts: Iterable[Formula]) -> list[Formula]:
    """The parts, neighbouring `taken` ones as one."""
    found: list[Formula] = []
    for part in parts:
        if found and isinstance(part, Taken) and isinstance(last := found[-1], Taken):
            found[-1] = Taken(last.rules + part.rules)
        else:
            found.append(part)
    return found


def choice(formula: Formula) -> tuple[Read, str] | None:
    """The name and the value of `name is value`."""
    match formula:
        case Same(Read() as read, Const(str() as value)):
            return read, value
    return None


def tallied(parts: tuple[Formula, ...]) -> list[Formula]:
    """The conditions of a sum that counts which of them are true; none if it does something else."""
    conditions = []
    for part in parts:
        match part:
            case Choose(condition, Const(one), Const(none)) if (one, none) == (1, 0):
                conditions.append(condition)
            case _:
                return []
    return conditions
