"""Why a formula is true at one point, as linear constraints, and what they leave to one variable.

What: a formula over reals that is true at a point is true wherever all comparisons that make it true
there come out the same; those are half-spaces, together a convex set around the point. `reasons` walks
the formula and collects them, `shadow` says which values one variable takes in that set: an interval,
with its ends in it or not, exactly (by Z3's simplex, over rationals).

Why not more at once: a formula is a union of many such sets, most of which nobody asks about. Whoever
needs another one has another point.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal, NamedTuple

import z3

from prioritylogic.engines.bounded import figure
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import asked
from prioritylogic.errors import LimitError
from prioritylogic.model.intervals import Interval, made
from prioritylogic.semantics.terms import Figure, Term, evaluated

Line = dict[str, Fraction]  # factors by name; the constant under ""


class Constraint(NamedTuple):
    """A line that is below, at most, or equal to nought."""

    line: tuple[tuple[str, Fraction], ...]
    relation: Literal["<", "<=", "="]


def reasons(facts: Iterable[Term], point: Mapping[str, Figure]) -> tuple[Constraint, ...]:
    """Constraints that hold at the point, and with which all of these facts are true."""
    facts = tuple(facts)
    walk = _Walk(point, evaluated(facts, point))
    for fact in facts:
        walk.need(fact)
    return tuple(walk.found)


@dataclass
class _Walk:
    """One walk; every part is looked at once."""

    point: Mapping[str, Figure]
    values: Mapping[int, Figure]
    found: dict[Constraint, None] = field(default_factory=dict)
    needed: set[int] = field(default_factory=set)
    lines: dict[int, Line] = field(default_factory=dict)

    def need(self, term: Term) -> None:
        """Whatever makes this condition what it is at the point."""
        if id(term) in self.needed:
            return
        self.needed.add(id(term))
        true = bool(self.values[id(term)])
        match term.op:
            case "not":
                self.need(term.args[0])
            case "and" | "or" if true == (term.op == "and"):
                for part in term.args:
                    self.need(part)
            case "and" | "or":  # one that differs is enough
                self.need(next(p for p in term.args if bool(self.values[id(p)]) == true))
            case "ite":
                self.need(term.args[0])
                self.need(term.args[1 if self.values[id(term.args[0])] else 2])
            case "=" if term.args[0].sort == "Bool":
                for part in term.args:
                    self.need(part)
            case "=" | "<" | "<=":
                self._compare(term, true)
            case "is_int":
                self._fix(term)
            case _:
                assert term.op == "const", f"{term.op} is no condition over reals"

    def _compare(self, term: Term, true: bool) -> None:
        left, right = map(self.line, term.args)
        line = _plus(left, right, Fraction(-1))
        if term.op == "=" and not true:
            below = self.values[id(term.args[0])] < self.values[id(term.args[1])]
            self._note(line if below else _times(line, Fraction(-1)), "<")
        elif term.op == "=":
            self._note(line, "=")
        elif true:
            self._note(line, "<" if term.op == "<" else "<=")
        else:
            self._note(_times(line, Fraction(-1)), "<=" if term.op == "<" else "<")

    def _note(self, line: Line, relation: Literal["<", "<=", "="]) -> None:
        if any(name for name in line):
            self.found[Constraint(tuple(sorted(line.items())), relation)] = None

    def line(self, term: Term) -> Line:
        """A figure as a line, where what it hangs on is as at the point."""
        if id(term) not in self.lines:
            self.lines[id(term)] = self._line(term)
        return self.lines[id(term)]

    def _line(self, term: Term) -> Line:
        match term.op:
            case "var":
                return {str(term.leaf): Fraction(1)}
            case "to_real":
                return self.line(term.args[0])
            case "+":
                total: Line = {}
                for part in term.args:
                    total = _plus(total, self.line(part), Fraction(1))
                return total
            case "*":
                one, other = map(self.line, term.args)
                if any(one) and any(other):
                    self._fix(term.args[0])
                    one = {"": Fraction(self.values[id(term.args[0])])}
                scalar, line = (one, other) if not any(one) else (other, one)
                return _times(line, scalar.get("", Fraction(0)))
            case "ite":
                self.need(term.args[0])
                return self.line(term.args[1 if self.values[id(term.args[0])] else 2])
            case "to_int":
                self._fix(term)
        return {"": Fraction(self.values[id(term)])}

    def _fix(self, term: Term) -> None:
        """What is no line is as at the point, and so is all that it is made of."""
        for part in term.args:
            line = self.line(part)
            for name in filter(None, line):
                self._note({name: Fraction(1), "": -Fraction(self.point[name])}, "=")
        if term.op == "var":
            self._note({str(term.leaf): Fraction(1), "": -Fraction(self.point[str(term.leaf)])}, "=")


def _plus(one: Line, other: Line, factor: Fraction) -> Line:
    total = dict(one)
    for name, value in other.items():
        total[name] = total.get(name, Fraction(0)) + factor * value
    return {name: value for name, value in total.items() if value}


def _times(line: Line, factor: Fraction) -> Line:
    return {name: value * factor for name, value in line.items() if value * factor}


def shadow(constraints: Iterable[Constraint], name: str, limits: Limits) -> Interval:
    """The values that one variable takes where all constraints hold; it is bounded by them.

    Raises:
        LimitError: the time is over.
    """
    context = z3.Context()
    variable = z3.Real(name, context)
    given = [_constraint(each, context) for each in constraints]

    def end(highest: bool) -> tuple[Fraction, bool]:
        optimize = z3.Optimize(ctx=context)
        optimize.add(*given)
        goal = optimize.maximize(variable) if highest else optimize.minimize(variable)
        if asked(context, limits, optimize.check) != z3.sat:
            raise LimitError("the ends of an interval were not found")
        unbounded, value, _ = (optimize.upper_values if highest else optimize.lower_values)(goal)
        assert figure(unbounded) == 0, "the setting is bounded"
        solver = z3.Solver(ctx=context)
        solver.add(*given, variable == value)
        return Fraction(figure(value)), asked(context, limits, solver.check) == z3.sat

    (low, low_in), (high, high_in) = end(False), end(True)
    found = made(low, high, low_in, high_in)
    assert found is not None, "a point is in its own surroundings"
    return found


def _constraint(constraint: Constraint, context: z3.Context) -> Any:
    def real(value: Fraction) -> Any:
        return z3.RealVal(f"{value.numerator}/{value.denominator}", context)

    total: Any = real(Fraction(0))
    for name, factor in constraint.line:
        total = total + (real(factor) * z3.Real(name, context) if name else real(factor))
    match constraint.relation:
        case "<":
            return total < 0
        case "<=":
            return total <= 0
    return total == 0
