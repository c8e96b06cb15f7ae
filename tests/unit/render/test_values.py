from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic.model.system import Flag, OneOf, Real, Whole
from prioritylogic.render import values

PERCENT = Real(Fraction(-1), Fraction(1), "%", Fraction(1, 100))


@pytest.mark.parametrize(
    ("exact", "shown"),
    [
        ("0", "0"),
        ("-0.05", "-0.05"),
        ("5", "5"),
        ("1/8", "0.125"),
        ("-1/3", "-1/3"),
        ("1000000", "1000000"),
        ("1/1024", "0.0009765625"),
        ("1/16384", "1/16384"),
        ("7/20", "0.35"),
    ],
)
def test_numbers_are_shown_exactly(exact: str, shown: str) -> None:
    assert values.number(Fraction(exact)) == shown


@pytest.mark.parametrize("figure", range(1, 60))
def test_decimals_read_back_as_the_number(figure: int) -> None:
    exact = Fraction(figure, 1000)
    assert Fraction(values.number(exact)) == exact


@pytest.mark.parametrize(
    ("time", "shown"),
    [("0", "0 s"), ("0.02", "20 ms"), ("1/3", "1/3 s"), ("90", "90 s"), ("1.5", "1.5 s")],
)
def test_durations(time: str, shown: str) -> None:
    assert values.duration(Fraction(time)) == shown


@pytest.mark.parametrize(
    ("value", "domain", "shown"),
    [
        (True, Flag("button"), "down"),
        (False, Flag("signal"), "no"),
        (Fraction(3, 5), PERCENT, "60 %"),
        (Fraction(3), Whole(0, 3), "3"),
        ("held[fore]", OneOf(("held[fore]",)), "held[fore]"),
    ],
)
def test_values(value: bool | Fraction | str, domain: object, shown: str) -> None:
    assert values.value(value, domain) == shown  # type: ignore[arg-type]


def test_a_speed_is_shown_in_its_own_unit() -> None:
    assert values.quantity(Fraction(5 * 1852, 3600), "kn", Fraction(1852, 3600)) == "5 kn"


def test_lists_in_prose() -> None:
    assert values.listed([]) == "nothing"
    assert values.one_of(["a", "b", "c"]) == "a, b or c"
    assert values.indexed("LOCK", (("c", "fore"), ("d", "aft"))) == "LOCK[fore, aft]"
