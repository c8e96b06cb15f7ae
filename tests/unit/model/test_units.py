"""The table of units: exact factors, dimensions, and how near the radian is."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic.model.units import PLAIN, TIME, UNITS, describe, power, unit


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("ms", Fraction(1, 1000)),
        ("h", 3600),
        ("km", 1000),
        ("kn", Fraction(463, 900)),  # 1852 m an hour
        ("m/s", 1),
        ("km/h", Fraction(5, 18)),
        ("%", Fraction(1, 100)),
        ("bar", 100_000),
    ],
)
def test_factors_are_exact(name: str, factor: Fraction) -> None:
    found = unit(name)
    assert found is not None and found.factor == factor


def test_psi_is_a_pound_force_on_a_square_inch() -> None:
    # 6894.757293168... Pa: NIST SP 811 (2008), appendix B (from memory).
    assert abs(UNITS["psi"].factor - Fraction("6894.757293168")) < Fraction(1, 10**8)


def test_the_radian_is_within_its_promise() -> None:
    # pi by Machin's formula, 16 atan(1/5) - 4 atan(1/239), far beyond the digits of the table.
    def arctangent(inverse: int) -> Fraction:
        return sum(
            (Fraction((-1) ** k, (2 * k + 1) * inverse ** (2 * k + 1)) for k in range(40)), Fraction(0)
        )

    pi = 16 * arctangent(5) - 4 * arctangent(239)
    assert abs(UNITS["rad"].factor - 180 / pi) < Fraction(1, 10**30)


def test_dimensions_multiply() -> None:
    speed = unit("m/s")
    assert speed is not None and power(speed.dimension, TIME) == UNITS["m"].dimension
    assert power(TIME, TIME, -1) == PLAIN
    assert unit("s/nothing") is None and unit("sec") is None
    assert describe((2, 1, 0, 0)) == "a quantity in s^2 m"
