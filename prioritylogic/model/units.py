"""Units: a small table of our own, with dimensions and exact factors.

Why exact: durations are compared and expire, so `20 ms` must be a fiftieth of a second and not a
float near it. A value is kept in the base units s, m, kg and deg; the factor turns a figure of the
unit into them. A dimension is the tuple of exponents of the bases, so `m / s` is a speed.

Sources: the SI brochure, 9th edition (2019), for the SI units and degree; the knot is 1852 m an hour
(SI brochure, 8th edition, table 8); the bar is 100 kPa (same table); psi is a pound-force
(4.4482216152605 N, from the exact pound and standard gravity) on a square inch (0.0254 m each way).
All from memory. `%` is exactly 1/100 and has no dimension.

An angle is a dimension with base deg. No exact factor leads to rad, since pi is irrational: here a
radian is 57.295779513082320876798154814105 deg, a fixed fraction within 1e-30 deg of it, so that
arithmetic stays exact; a limit that hangs on the last digits of pi has no place in a spec.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

Dimension: TypeAlias = tuple[int, int, int, int]  # exponents of s, m, kg, deg

BASES = ("s", "m", "kg", "deg")
PLAIN: Dimension = (0, 0, 0, 0)
TIME: Dimension = (1, 0, 0, 0)

_DIMENSION_NAMES: dict[Dimension, str] = {
    PLAIN: "a plain number",
    TIME: "a time",
    (0, 1, 0, 0): "a length",
    (0, 0, 1, 0): "a mass",
    (0, 0, 0, 1): "an angle",
    (-1, 1, 0, 0): "a speed",
    (-1, 0, 0, 1): "a turning rate",
    (-2, 1, 1, 0): "a force",
    (-2, -1, 1, 0): "a pressure",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its dimension, and the factor from a figure in it to the base units."""

    dimension: Dimension
    factor: Fraction


_INCH = Fraction("0.0254")
_FORCE: Dimension = (-2, 1, 1, 0)
_PRESSURE: Dimension = (-2, -1, 1, 0)
_SPEED: Dimension = (-1, 1, 0, 0)

UNITS: dict[str, Unit] = {
    "ms": Unit(TIME, Fraction(1, 1000)),
    "s": Unit(TIME, Fraction(1)),
    "min": Unit(TIME, Fraction(60)),
    "h": Unit(TIME, Fraction(3600)),
    "mm": Unit((0, 1, 0, 0), Fraction(1, 1000)),
    "m": Unit((0, 1, 0, 0), Fraction(1)),
    "km": Unit((0, 1, 0, 0), Fraction(1000)),
    "kg": Unit((0, 0, 1, 0), Fraction(1)),
    "t": Unit((0, 0, 1, 0), Fraction(1000)),
    "deg": Unit((0, 0, 0, 1), Fraction(1)),
    "rad": Unit((0, 0, 0, 1), Fraction("57.295779513082320876798154814105")),
    "kn": Unit(_SPEED, Fraction(1852, 3600)),
    "%": Unit(PLAIN, Fraction(1, 100)),
    "N": Unit(_FORCE, Fraction(1)),
    "kN": Unit(_FORCE, Fraction(1000)),
    "Pa": Unit(_PRESSURE, Fraction(1)),
    "kPa": Unit(_PRESSURE, Fraction(1000)),
    "bar": Unit(_PRESSURE, Fraction(100_000)),
    "psi": Unit(_PRESSURE, Fraction("4.4482216152605") / (_INCH * _INCH)),
}


def unit(name: str) -> Unit | None:
    """The unit of this name, `m/s` and the like included; None if there is none.

    >>> unit("ms").factor, unit("deg/s").dimension
    (Fraction(1, 1000), (-1, 0, 0, 1))
    """
    if name in UNITS:
        return UNITS[name]
    above, slash, below = name.partition("/")
    if not slash or above not in UNITS or below not in UNITS:
        return None
    top, bottom = UNITS[above], UNITS[below]
    return Unit(power(top.dimension, bottom.dimension, -1), top.factor / bottom.factor)


def power(left: Dimension, right: Dimension, sign: int = 1) -> Dimension:
    """The dimension of a product, or (`sign` -1) of a quotient."""
    a, b, c, d = (x + sign * y for x, y in zip(left, right, strict=True))
    return (a, b, c, d)


def describe(dimension: Dimension) -> str:
    """A dimension in words: "a time", "a speed", or its units for rarer ones."""
    if dimension in _DIMENSION_NAMES:
        return _DIMENSION_NAMES[dimension]
    parts = [b if e == 1 else f"{b}^{e}" for b, e in zip(BASES, dimension, strict=True) if e]
    return "a quantity in " + " ".join(parts)


def example(dimension: Dimension) -> str:
    """A unit of this dimension to show in a remedy; "" if the table has none."""
    preferred = {TIME: "s", (0, 1, 0, 0): "m", _SPEED: "m/s", (-1, 0, 0, 1): "deg/s"}
    if dimension in preferred:
        return preferred[dimension]
    named = (n for n, u in UNITS.items() if u.dimension == dimension and u.factor == 1)
    return next(named, "")
