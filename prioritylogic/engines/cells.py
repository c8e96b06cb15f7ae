"""Which joint truths of conditions on analog inputs are possible, exactly.

A *cell* is a set of conditions on analog inputs, each with its truth; a condition is a union of
convex pieces (semantics/linear.py), so a cell is possible if one piece of each can be chosen such
that they have a point in common. One input at a time, bounds on an interval decide that; where a
comparison joins several inputs (the limit on a sum) and no plain point of the box fits, Z3 does, over
exact reals. Answers are kept: an
exploration asks the same few questions again and again.

`point` picks the values that a trace shows: what the input was before if that fits, else the
plainest figure that does.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, TypeAlias

from prioritylogic.model.system import Real
from prioritylogic.semantics.linear import Below, Piece

if TYPE_CHECKING:
    import z3

AtomId: TypeAlias = int  # of a condition; the opposite of atom a is a ^ 1
Cell: TypeAlias = frozenset[AtomId]
Interval: TypeAlias = tuple[Fraction, bool, Fraction, bool]  # low, open, high, open
Box: TypeAlias = dict[int, Interval]
Terms: TypeAlias = tuple[tuple[int, Fraction], ...]


class Cells:
    """The possible cells over the analog inputs of one System, by input number."""

    def __init__(self, ranges: dict[int, Real]) -> None:
        self.ranges = ranges
        self._possible: dict[Cell, tuple[Below, ...] | None] = {frozenset(): ()}
        self._solver: Solver | None = None
        self._atoms: list[tuple[Piece, ...]] = []
        self._ids: dict[tuple[Piece, ...], AtomId] = {}

    def condition(self, true: Iterable[Piece], false: Iterable[Piece]) -> AtomId:
        """The number of a condition; its opposite has the number with the last bit turned."""
        where = tuple(tuple(sorted(pieces, key=in_order)) for pieces in (true, false))
        number = self._ids.get(where[0])
        if number is None:
            number = len(self._atoms)
            self._atoms += where
            self._ids.setdefault(where[1], number + 1)
            self._ids[where[0]] = number
        return number

    def atom(self, bound: Below) -> AtomId:
        """The number of a single comparison."""
        return self.condition([frozenset({bound})], [frozenset({bound.negated()})])

    @property
    def joint(self) -> bool:
        """Whether any comparison met so far concerns several inputs."""
        return any(len(bound.terms) > 1 for bound in self._bounds())

    def exactly(self, number: int, value: Fraction) -> Cell:
        """The cell in which an input has this value."""
        up = Below(((number, Fraction(1)),), value, True)
        down = Below(((number, Fraction(-1)),), -value, True)
        return frozenset({self.atom(up), self.atom(down)})

    def _bounds(self) -> set[Below]:
        """Every comparison met so far."""
        return {bound for pieces in self._atoms for piece in pieces for bound in piece}

    def possible(self, cell: Cell) -> bool:
        """Whether some values in range make all of the cell's conditions true."""
        if cell not in self._possible:
            self._possible[cell] = self._choose((), [self._atoms[atom] for atom in sorted(cell)])
        return self._possible[cell] is not None

    def _choose(
        self, chosen: tuple[Below, ...], left: list[tuple[Piece, ...]]
    ) -> tuple[Below, ...] | None:
        """One piece of each condition that is left, such that all have a point in common."""
        single = [bound for bound in chosen if len(bound.terms) == 1]
        if self._intervals(single) is None:
            return None
        if not left:
            return chosen if self._meet(chosen) else None
        for piece in left[0]:
            found = self._choose((*chosen, *sorted(piece, key=below_order)), left[1:])
            if found is not None:
                return found
        return None

    def _meet(self, bounds: tuple[Below, ...]) -> bool:
        """Whether comparisons have a point in common: a sum without a value left says no, a point
        of the box that fits says yes, and Z3 decides what is left."""
        single = [bound for bound in bounds if len(bound.terms) == 1]
        joint = [bound for bound in bounds if len(bound.terms) > 1]
        box = self._intervals(single)
        if box is None or not joint:
            return box is not None
        if not all(sums_meet(form, joint, box) for form in {upright(bound.terms) for bound in joint}):
            return False
        sides = [(n, (low, (low + high) / 2, high)) for n, (low, _, high, _) in box.items()]
        if len(sides) <= 4:
            for point in itertools.product(*(figures for _, figures in sides)):
                values = dict(zip(box, point, strict=True))
                if all(bound.true_of(values) for bound in bounds):
                    return True
        return self._model(bounds, {}) is not None

    def _intervals(self, bounds: Iterable[Below]) -> Box | None:
        """For each input its interval (low, open, high, open), or None if one is empty."""
        found = {n: (real.low, False, real.high, False) for n, real in self.ranges.items()}
        for bound in bounds:
            ((number, factor),) = bound.terms
            interval = cut(found[number], factor, bound)
            if interval is None:
                return None
            found[number] = interval
        return found

    def _model(self, bounds: Iterable[Below], fixed: dict[int, Fraction]) -> dict[int, Fraction] | None:
        """Values that make all of these true, some of them given; None if there are none."""
        if self._solver is None:
            self._solver = Solver(self.ranges)
        return self._solver.values(bounds, fixed)

    def point(self, cell: Cell, wanted: dict[int, Fraction]) -> dict[int, Fraction]:
        """Values of the cell: the wanted ones where they fit, else plain figures. Requires
        `possible(cell)`."""
        chosen = [self._atoms[atom] for atom in sorted(cell)]
        if all(any(all(b.true_of(wanted) for b in piece) for piece in pieces) for pieces in chosen):
            return dict(wanted)
        assert self.possible(cell), "the caller asks about possible cells"
        bounds = self._possible[cell] or ()
        single = [bound for bound in bounds if len(bound.terms) == 1]
        joint = len(single) < len(bounds)
        intervals = self._intervals(single)
        assert intervals is not None
        fixed: dict[int, Fraction] = {}
        for number, real in self.ranges.items():
            own = [bound for bound in single if bound.terms[0][0] == number]
            for value in (wanted[number], *plain_figures(intervals[number], real)):
                fits = all(bound.true_of({number: value}) for bound in own)
                if fits and (not joint or self._model(bounds, fixed | {number: value})):
                    fixed[number] = value
                    break
        if len(fixed) == len(self.ranges):  # each figure was tried together with those before it
            return fixed
        model = self._model(bounds, fixed)
        assert model is not None
        return model

    def corners(self) -> dict[int, tuple[Fraction, ...]]:
        """For each input, figures on and between all limits met so far that concern it alone."""
        limits = {number: {real.low, real.high} for number, real in self.ranges.items()}
        for bound in self._bounds():
            if len(bound.terms) == 1:
                ((number, factor),) = bound.terms
                limits[number].add(bound.limit / factor)
        found = {}
        for number, real in self.ranges.items():
            inside = sorted(x for x in limits[number] if real.low <= x <= real.high)
            between = {(a + b) / 2 for a, b in itertools.pairwise(inside)}
            found[number] = tuple(sorted({*inside, *between}))
        return found


def cut(interval: Interval, factor: Fraction, bound: Below) -> Interval | None:
    """What a comparison of `factor` times a quantity leaves of the quantity's interval."""
    low, low_open, high, high_open = interval
    limit, strict = bound.limit / factor, not bound.or_equal
    if factor > 0 and (limit, not strict) < (high, not high_open):
        high, high_open = limit, strict
    elif factor < 0 and (limit, strict) > (low, low_open):
        low, low_open = limit, strict
    if low > high or (low == high and (low_open or high_open)):
        return None
    return low, low_open, high, high_open


def upright(terms: Terms) -> Terms:
    """The same sum with its first factor positive."""
    return terms if terms[0][1] > 0 else tuple((number, -factor) for number, factor in terms)


def sums_meet(form: Terms, bounds: Iterable[Below], box: Box) -> bool:
    """Whether one sum, seen as a quantity of its own, has a value left in the box."""
    low = sum((factor * box[n][0 if factor > 0 else 2] for n, factor in form), Fraction(0))
    high = sum((factor * box[n][2 if factor > 0 else 0] for n, factor in form), Fraction(0))
    interval: Interval | None = (low, False, high, False)
    for bound in bounds:
        if interval is not None and upright(bound.terms) == form:
            interval = cut(interval, Fraction(1 if bound.terms == form else -1), bound)
    return interval is not None


class Solver:
    """Z3 over the analog inputs as exact reals; expressions are built once and kept."""

    def __init__(self, ranges: dict[int, Real]) -> None:
        import z3

        self._z3 = z3
        self._solver = z3.SolverFor("QF_LRA")
        self._reals = {number: z3.Real(f"x{number}") for number in ranges}
        self._built: dict[Below, z3.BoolRef] = {}
        for number, real in ranges.items():
            low, high = self._exact(real.low), self._exact(real.high)
            self._solver.add(low <= self._reals[number], self._reals[number] <= high)

    def _exact(self, value: Fraction) -> z3.ExprRef:
        return self._z3.Q(value.numerator, value.denominator)

    def _literal(self, bound: Below) -> z3.BoolRef:
        known = self._built.get(bound)
        if known is None:
            total = self._z3.Sum([self._exact(factor) * self._reals[n] for n, factor in bound.terms])
            limit = self._exact(bound.limit)
            known = self._built[bound] = total <= limit if bound.or_equal else total < limit
        return known

    def values(self, bounds: Iterable[Below], fixed: dict[int, Fraction]) -> dict[int, Fraction] | None:
        """Values that make all of these true, some of them given; None if there are none."""
        solver = self._solver
        solver.push()
        solver.add(*map(self._literal, bounds))
        solver.add(*(self._reals[number] == self._exact(value) for number, value in fixed.items()))
        answer = solver.check()
        assert answer != self._z3.unknown, "linear real arithmetic is decidable"
        values = None
        if answer == self._z3.sat:
            model = solver.model()
            found = {n: model.eval(real, model_completion=True) for n, real in self._reals.items()}
            values = {
                n: Fraction(value.numerator_as_long(), value.denominator_as_long())
                for n, value in found.items()
            }
        solver.pop()
        return values


def plain_figures(interval: tuple[Fraction, bool, Fraction, bool], real: Real) -> list[Fraction]:
    """Figures of an interval, plainest first: nought, then round ones in the input's own unit."""
    low, low_open, high, high_open = interval

    def fits(value: Fraction) -> bool:
        return (low < value or (low == value and not low_open)) and (
            value < high or (value == high and not high_open)
        )

    found = [Fraction(0)]
    for step in (50, 20, 10, 5, 2, 1, Fraction(1, 2), Fraction(1, 10), Fraction(1, 100)):
        size = step * real.factor
        nearest = [math.ceil(low / size) * size, math.floor(high / size) * size]
        found += [x for y in nearest for x in (y, y + size, y - size)]
    found += [low, high, (low + high) / 2]
    chosen = [value for value in dict.fromkeys(found) if fits(value)]
    return sorted(chosen[:6], key=lambda value: (abs(value), value < 0)) + chosen[6:]


def below_order(bound: Below) -> tuple[object, ...]:
    """A fixed order of comparisons."""
    return (bound.terms, bound.limit, bound.or_equal)


def in_order(piece: Piece) -> list[tuple[object, ...]]:
    """A fixed order of pieces."""
    return sorted(map(below_order, piece))
