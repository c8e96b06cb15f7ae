"""Joint truths of analog comparisons: the quick answers against Z3's, on seeded random cells."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from prioritylogic.engines.cells import Cells, Solver
from prioritylogic.model.system import Real
from prioritylogic.semantics.linear import Below


def random_cell(dice: random.Random) -> tuple[dict[int, Real], list[Below]]:
    inputs = dice.choice([1, 2, 3])
    ranges = {
        n: Real(Fraction(-dice.randint(0, 3)), Fraction(dice.randint(0, 3))) for n in range(inputs)
    }
    bounds = []
    for _ in range(dice.randint(1, 5)):
        numbers = sorted(dice.sample(range(inputs), dice.randint(1, inputs)))
        factors = [Fraction(dice.choice([-2, -1, 1, 2, 3])) for _ in numbers]
        scale = abs(factors[0])
        terms = tuple((n, factor / scale) for n, factor in zip(numbers, factors, strict=True))
        limit = Fraction(dice.randint(-6, 6), dice.choice([1, 2]))
        bounds.append(Below(terms, limit, dice.random() < 0.5))
    return ranges, bounds


@pytest.mark.parametrize("seed", range(8))
def test_possible_is_what_z3_says_and_points_fit(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(150):
        ranges, bounds = random_cell(dice)
        cells = Cells(ranges)
        cell = frozenset(cells.atom(bound) for bound in bounds)
        possible = Solver(ranges).values(bounds, {}) is not None
        assert cells.possible(cell) == possible, (ranges, bounds)
        if possible:
            wanted = {n: min(max(Fraction(0), real.low), real.high) for n, real in ranges.items()}
            point = cells.point(cell, wanted)
            assert all(bound.true_of(point) for bound in bounds), (ranges, bounds, point)
            assert all(ranges[n].low <= value <= ranges[n].high for n, value in point.items())
