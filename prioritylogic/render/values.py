"""Numbers, times and values as a person writes them.

Exact in, exact out: a figure with a finite decimal expansion is shown in full, any other as a
fraction, so that nothing shown is a rounding of what was computed.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from prioritylogic.model.formula import Value
from prioritylogic.model.system import Domain, Flag, Member, OneOf, Real, Seconds, Whole


def number(value: Fraction) -> str:
    """A number with as few decimals as it needs.

    >>> number(Fraction(5, 2)), number(Fraction(-3)), number(Fraction(1, 3))
    ('2.5', '-3', '1/3')
    """
    rest, decimals = value.denominator, 0
    for prime in (2, 5):
        power = 0
        while rest % prime == 0:
            rest, power = rest // prime, power + 1
        decimals = max(decimals, power)
    if rest != 1 or decimals > 12:
        return str(value)
    if decimals == 0:
        return str(value.numerator)
    digits = str(abs(value.numerator) * 10**decimals // value.denominator).rjust(decimals + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-decimals]}.{digits[-decimals:]}"


def quantity(value: Fraction, unit: str = "", factor: Fraction = Fraction(1)) -> str:
    """A number in its unit.

    >>> quantity(Fraction(3, 5), "%", Fraction(1, 100))
    '60 %'
    """
    return f"{number(value / factor)} {unit}".rstrip()


def instant(time: Seconds) -> str:
    """A moment of a run, in seconds.

    >>> instant(Fraction(13, 2))
    '6.5 s'
    """
    return f"{number(time)} s"


def duration(time: Seconds) -> str:
    """A length of time: whole milliseconds below a second, else seconds.

    >>> duration(Fraction(1, 50)), duration(Fraction(9))
    ('20 ms', '9 s')
    """
    thousandth = time * 1000
    if 0 < time < 1 and thousandth.denominator == 1:
        return f"{thousandth} ms"
    return instant(time)


def clock_words(tick: Seconds | None) -> str:
    """Which clock an exploration went by; None: region clocks."""
    return "on region clocks" if tick is None else f"in whole ticks of {duration(tick)}"


def value(shown: Value, domain: Domain | None = None) -> str:
    """A value of an input, a machine or memory."""
    if isinstance(shown, bool):
        words = ("up", "down") if isinstance(domain, Flag) and domain.word == "button" else ("no", "yes")
        return words[shown]
    if isinstance(shown, Fraction):
        return quantity(shown, domain.unit, domain.factor) if isinstance(domain, Real) else number(shown)
    return shown


def domain_words(domain: Domain) -> str:
    """What values there are."""
    match domain:
        case Flag("button"):
            return "a button, up or down"
        case Flag():
            return "yes or no"
        case OneOf(values):
            return one_of(values)
        case Whole(low, high):
            return f"a whole number from {low} to {high}"
        case Real(low, high, unit, factor):
            return f"from {quantity(low, unit, factor)} to {quantity(high, unit, factor)}"


def listed(words: Iterable[str], last: str = "and") -> str:
    """A list in prose.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, final = list(words) or ["nothing"]
    return f"{', '.join(most)} {last} {final}" if most else final


def one_of(words: Iterable[str]) -> str:
    """A choice in prose: `a, b or c`."""
    return listed(words, "or")


def member_words(member: Member) -> str:
    """Which member of a family: `w = fore, d = aft`, or nothing."""
    return ", ".join(f"{binder} = {name}" for binder, name in member)


def indexed(name: str, member: Member) -> str:
    """An id with its member, as rules are named: `LOCK-1[fore]`."""
    return f"{name}[{', '.join(who for _, who in member)}]" if member else name
