"""A figure that is not known: a number for all there is in the model, and a line over one setting.

What: `Unknown` is `base + slope * setting`. It calculates like the number that it is at a sample of the
setting, and keeps the line besides. Wherever it is compared, the answer is that of the sample, and the
`Sample` notes between which values of the setting that answer is the same. So a spec read with an
Unknown in it is read rightly for every value of the sample's `cell`, and for those only.

Why this way: no pass of the model has to know of it, and a spec without one is read as ever. What
cannot be kept as a line (a product of two unknowns, a remainder, the parts of a quotient) shrinks the
cell to the sample: never wrong, only narrow; `Sample.pinned` then says why.

What it cannot see: figures kept apart in a table because they differ at the sample, though they would
be the same elsewhere. So `meetings` gives the values where that may be, for whoever uses this to try.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any, TypeVar

from prioritylogic.model.intervals import Interval

Thing = TypeVar("Thing")


class Sample:
    """A value of the setting, and the values around it for which everything asked so far is the same.

    Attributes:
        value: the sample.
        cell: those values; whoever asks more narrows it.
        pinned: why the cell is the sample alone, if it had to be.
    """

    def __init__(self, value: Fraction, among: Interval) -> None:
        self.value = value
        self.cell = among
        self.pinned = ""

    def asked(self, base: Fraction, slope: Fraction, answer: Callable[[int], bool]) -> bool:
        """An answer that hangs on the sign of `base + slope * setting` alone, noted."""
        zero, up = -base / slope, _sign(slope)
        here = _sign(self.value - zero)  # below, at, or above where the sign changes
        said = answer(here * up)
        first = last = here
        while first > -1 and answer((first - 1) * up) == said:
            first -= 1
        while last < 1 and answer((last + 1) * up) == said:
            last += 1
        low, low_in = (zero, first == 0) if first > -1 else (self.cell.low, True)
        high, high_in = (zero, last == 0) if last < 1 else (self.cell.high, True)
        self._keep(Interval(low, high, low_in, high_in))
        return said

    def pin(self, why: str) -> None:
        """Nothing is known of other values."""
        self.pinned = self.pinned or why
        self._keep(Interval(self.value, self.value))

    def excludes(self, value: Fraction) -> None:
        """All is not the same at this value, which is another one."""
        self.asked(-value, Fraction(1), lambda sign: sign == 0)

    def _keep(self, part: Interval) -> None:
        kept = self.cell.meet(part)
        assert kept is not None and kept.has(self.value), "a sample is in its own cell"
        self.cell = kept

    def setting(self) -> Unknown:
        """The setting as a figure."""
        return Unknown(self, Fraction(0), Fraction(1))


def _sign(figure: Fraction) -> int:
    return (figure > 0) - (figure < 0)


Figure = Fraction | int


class Unknown(Fraction):
    """A line over one setting; see above."""

    __slots__ = ("base", "sample", "slope")
    base: Fraction
    slope: Fraction
    sample: Sample

    def __new__(cls, sample: Sample, base: Fraction, slope: Fraction) -> Unknown:
        """The line, as a figure."""
        made = super().__new__(cls, base + slope * sample.value)
        made.base, made.slope, made.sample = base, slope, sample
        return made

    def at(self, value: Fraction) -> Fraction:
        """The figure for a value of the setting."""
        return self.base + self.slope * value

    def _here(self) -> Fraction:
        return self.at(self.sample.value)

    def _line(self, base: Fraction, slope: Fraction) -> Fraction:
        return Unknown(self.sample, base, slope) if slope else base

    # ----------------------------------------------------------------- calculating

    def __add__(self, other: Figure) -> Fraction:  # type: ignore[override]
        base, slope = _parts(other)
        return self._line(self.base + base, self.slope + slope)

    __radd__ = __add__  # type: ignore[assignment]

    def __neg__(self) -> Fraction:
        return self._line(-self.base, -self.slope)

    def __sub__(self, other: Figure) -> Fraction:  # type: ignore[override]
        return self + (-other)

    def __rsub__(self, other: Figure) -> Fraction:  # type: ignore[override]
        return -self + other

    def __mul__(self, other: Figure) -> Fraction:  # type: ignore[override]
        if isinstance(other, Unknown):
            self.sample.pin("the setting is multiplied by itself")
            return self._here() * other._here()
        return self._line(self.base * other, self.slope * other)

    __rmul__ = __mul__  # type: ignore[assignment]

    def __truediv__(self, other: Figure) -> Fraction:  # type: ignore[override]
        if isinstance(other, Unknown):
            self.sample.pin("the setting is divided by itself")
            return self._here() / other._here()
        return self._line(self.base / other, self.slope / other)

    def __rtruediv__(self, other: Figure) -> Fraction:  # type: ignore[override]
        self.sample.pin("something is divided by the setting")
        return other / self._here()

    def __pos__(self) -> Fraction:
        return self

    def __abs__(self) -> Fraction:
        return -self if self < 0 else self

    # ----------------------------------------------------------------- comparing

    def _asked(self, other: Figure, answer: Callable[[int], bool]) -> bool:
        base, slope = _parts(other)
        base, slope = self.base - base, self.slope - slope
        return self.sample.asked(base, slope, answer) if slope else answer(_sign(base))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Fraction | int) and self._asked(other, lambda sign: sign == 0)

    def __lt__(self, other: Figure) -> bool:  # type: ignore[override]
        return self._asked(other, lambda sign: sign < 0)

    def __le__(self, other: Figure) -> bool:  # type: ignore[override]
        return self._asked(other, lambda sign: sign <= 0)

    def __gt__(self, other: Figure) -> bool:  # type: ignore[override]
        return self._asked(other, lambda sign: sign > 0)

    def __ge__(self, other: Figure) -> bool:  # type: ignore[override]
        return self._asked(other, lambda sign: sign >= 0)

    def __bool__(self) -> bool:
        return self != 0

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(self._here())

    # ----------------------------------------------------------------- what is no line

    @property
    def numerator(self) -> int:
        """That of the sample; the parts of a quotient are no lines."""
        return self._taken_apart().numerator

    @property
    def denominator(self) -> int:
        """That of the sample."""
        return self._taken_apart().denominator

    def _taken_apart(self) -> Fraction:
        self.sample.pin("it matters whether the setting, or something made of it, is a whole number")
        return self._here()


def _parts(figure: Figure) -> tuple[Fraction, Fraction]:
    """Base and slope of any figure."""
    if isinstance(figure, Unknown):
        return figure.base, figure.slope
    return Fraction(figure), Fraction(0)


def _pinning(name: str) -> Callable[..., Any]:
    def operation(self: Unknown, *others: Any) -> Any:
        return getattr(self._taken_apart(), name)(*others)

    return operation


for _name in (
    "__floordiv__", "__rfloordiv__", "__mod__", "__rmod__", "__divmod__", "__rdivmod__", "__pow__",
    "__rpow__", "__floor__", "__ceil__", "__trunc__", "__round__", "__int__", "__float__",
    "as_integer_ratio", "limit_denominator",
):  # fmt: skip
    setattr(Unknown, _name, _pinning(_name))


# --------------------------------------------------------------------------- in a whole System


def settled(thing: Thing, value: Fraction) -> Thing:
    """The same data (dataclasses, tuples, sets, tables) with the setting known."""
    done: dict[int, tuple[Any, Any]] = {}

    def visit(part: Any) -> Any:
        if isinstance(part, Unknown):
            return part.at(value)
        if isinstance(part, str | bool | int | Fraction) or part is None:
            return part
        if id(part) not in done:
            done[id(part)] = (part, _rebuilt(part, visit))
        return done[id(part)][1]

    found: Thing = visit(thing)
    return found


def _rebuilt(part: Any, visit: Callable[[Any], Any]) -> Any:
    if isinstance(part, tuple | frozenset):
        items = [visit(item) for item in part]
        if all(new is old for new, old in zip(items, part, strict=True)):
            return part
        return type(part)(*items) if hasattr(part, "_fields") else type(part)(items)
    if isinstance(part, dict):
        return {visit(key): visit(item) for key, item in part.items()}
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        old = {field.name: getattr(part, field.name) for field in dataclasses.fields(part) if field.init}
        new = {name: visit(item) for name, item in old.items()}
        changed = {name: item for name, item in new.items() if item is not old[name]}
        return dataclasses.replace(part, **changed) if changed else part
    return part


def figures(thing: object) -> Iterator[Fraction]:
    """Every figure in some data, the same one perhaps again and again."""
    seen: set[int] = set()
    waiting: list[Any] = [thing]
    while waiting:
        part = waiting.pop()
        if isinstance(part, Fraction):
            yield part
        elif isinstance(part, str | bool | int) or part is None or id(part) in seen:
            continue
        else:
            seen.add(id(part))
            if isinstance(part, tuple | frozenset | list):
                waiting += part
            elif isinstance(part, dict):
                waiting += [*part.keys(), *part.values()]
            elif dataclasses.is_dataclass(part) and not isinstance(part, type):
                waiting += [getattr(part, field.name) for field in dataclasses.fields(part)]


def meetings(thing: object, cell: Interval) -> list[Fraction]:
    """The values of the setting in the cell for which two figures in some data become the same."""
    lines = {_parts(figure) for figure in figures(thing)}
    unknown = [line for line in lines if line[1]]
    found = {
        (base - other) / (other_slope - slope)
        for base, slope in unknown
        for other, other_slope in lines
        if slope != other_slope
    }
    return sorted(value for value in found if cell.has(value))
