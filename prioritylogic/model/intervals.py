"""Intervals of exact figures, with ends that are in them or not.

A single figure is an interval, too, with both ends in it; nothing is empty.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import floor


@dataclass(frozen=True, slots=True)
class Interval:
    """All figures between two, the ends themselves as said.

    >>> Interval(Fraction(5), Fraction(9), high_in=False).has(Fraction(9))
    False
    """

    low: Fraction
    high: Fraction
    low_in: bool = True
    high_in: bool = True

    def __post_init__(self) -> None:
        assert self.low < self.high or (self.low == self.high and self.low_in and self.high_in)

    @property
    def single(self) -> bool:
        """Whether it is one figure."""
        return self.low == self.high

    def has(self, figure: Fraction) -> bool:
        """Whether a figure is in it."""
        above = self.low < figure or (self.low_in and self.low == figure)
        return above and (figure < self.high or (self.high_in and self.high == figure))

    def meet(self, other: Interval) -> Interval | None:
        """What is in both; None if nothing is."""
        low, low_out = max((i.low, not i.low_in) for i in (self, other))
        high, high_in = min((i.high, i.high_in) for i in (self, other))
        return made(low, high, not low_out, high_in)

    def without(self, other: Interval) -> list[Interval]:
        """What is left, in order, when the other is taken out."""
        if self.meet(other) is None:
            return [self]
        below = made(self.low, other.low, self.low_in, not other.low_in)
        above = made(other.high, self.high, not other.high_in, self.high_in)
        return [piece for piece in (below, above) if piece is not None]

    def near(self, low: bool, step: Fraction) -> Fraction:
        """An end, or, where it is not in the interval, a figure at most a step inside it."""
        if self.low_in if low else self.high_in:
            return self.low if low else self.high
        inside = min(step, (self.high - self.low) / 10)
        return self.low + inside if low else self.high - inside

    def middle(self, unit: Fraction = Fraction(1)) -> Fraction:
        """A figure well inside, plain in its unit."""
        third = (self.high - self.low) / 3
        if self.single:
            return self.low
        return simplest((self.low + third) / unit, (self.high - third) / unit) * unit


def made(low: Fraction, high: Fraction, low_in: bool, high_in: bool) -> Interval | None:
    """The interval with these ends, if it has anything in it."""
    some = low < high or (low == high and low_in and high_in)
    return Interval(low, high, low_in, high_in) if some else None


def all_without(many: Iterable[Interval], taken: Iterable[Interval]) -> list[Interval]:
    """What is left of many intervals when others are taken out."""
    left = list(many)
    for other in taken:
        left = [piece for one in left for piece in one.without(other)]
    return left


def simplest(low: Fraction, high: Fraction) -> Fraction:
    """The figure between two, both included, that has the least denominator (by continued fractions).

    >>> simplest(Fraction(31, 10), Fraction(36, 10)), simplest(Fraction(-5, 2), Fraction(7, 2))
    (Fraction(7, 2), Fraction(0, 1))
    """
    if low <= 0 <= high:
        return Fraction(0)
    if high < 0:
        return -simplest(-high, -low)
    whole = floor(low)
    if whole == low or whole + 1 <= high:
        return Fraction(whole if whole == low else whole + 1)
    return whole + 1 / simplest(1 / (high - whole), 1 / (low - whole))
