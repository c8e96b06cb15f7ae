"""Formulas as terms: one page, in the shape of `reading.py`, which it shares no code with.

A truth value is a Bool term, a number an Int or Real term, and a name (a state, a mode) is a set of
guarded values: for each name the condition under which it is that one. So a comparison of two names
is plain logic, and no solver needs to know of names. A formula is read against a `Scene`, in a
reaction or at rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce
from typing import NamedTuple, TypeAlias

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import System
from prioritylogic.semantics.terms import Term, Terms

Names: TypeAlias = Mapping[str, Term]
Symbol: TypeAlias = Term | Names


class PhaseTerms(NamedTuple):
    """A timed condition: whether it runs, and whether it is done (`for`) or true (`within last`)."""

    running: Term
    holding: Term


class Shown(NamedTuple):
    """What an alert shows."""

    raised: Term
    cleared: Term


@dataclass
class Scene:
    """What a formula is read against; at rest `was` is `now` and there are no events. `known` keeps
    what was read, so that it is translated once."""

    now: Mapping[str, Symbol]
    was: Mapping[str, Symbol]
    phases: Mapping[int, PhaseTerms]
    alerts: Mapping[str, Shown]
    alerts_was: Mapping[str, Shown]
    expiring: Mapping[int, Term] = field(default_factory=dict)
    taken: Mapping[str, Term] = field(default_factory=dict)
    sounds: Mapping[str, Term] = field(default_factory=dict)
    known: dict[int, tuple[Formula, Symbol]] = field(default_factory=dict)


class Translator:
    """Translates the formulas of one System."""

    def __init__(self, system: System, terms: Terms) -> None:
        self.system = system
        self.terms = terms

    def true(self, formula: Formula, scene: Scene) -> Term:
        """A condition or event as a Bool term."""
        found = self.value(formula, scene)
        assert isinstance(found, Term) and found.sort == "Bool", formula
        return found

    def number(self, formula: Formula, scene: Scene) -> Term:
        """A quantity as an Int or Real term."""
        found = self.value(formula, scene)
        assert isinstance(found, Term) and found.sort != "Bool", formula
        return found

    def value(self, formula: Formula, scene: Scene) -> Symbol:
        """Any formula; a part met before is not translated again."""
        known = scene.known.get(id(formula))
        if known is None:
            known = scene.known[id(formula)] = (formula, self._value(formula, scene))
        return known[1]

    def _value(self, formula: Formula, scene: Scene) -> Symbol:
        t = self.terms
        match formula:
            case f.Const(value):
                return self.constant(value)
            case f.Read(name, before):
                return scene.was[name] if before else scene.now[name]
            case f.TimedRead(timer, operand, before):
                return self._timed(timer, operand, before, scene)
            case f.AlertRead(alert, "sounds", _):
                return scene.sounds.get(alert, t.false)
            case f.AlertRead(alert, what, before):
                shown = (scene.alerts_was if before else scene.alerts)[alert]
                return shown.cleared if what == "cleared" else shown.raised
            case f.Taken(rules):
                return t.any(*(scene.taken.get(rule, t.false) for rule in rules))
            case f.Not(operand):
                return t.negation(self.true(operand, scene))
            case f.All(parts):
                return t.all(*(self.true(part, scene) for part in parts))
            case f.Some(parts):
                return t.any(*(self.true(part, scene) for part in parts))
            case f.Choose(condition, then, other):
                return self.choose(
                    self.true(condition, scene), self.value(then, scene), self.value(other, scene)
                )
            case f.Same(left, right):
                return self.same(self.value(left, scene), self.value(right, scene))
            case f.Less(left, right, or_equal):
                return t.below(self.number(left, scene), self.number(right, scene), or_equal)
            case f.Sum(parts):
                return t.add(*(self.number(part, scene) for part in parts))
            case f.Product(left, right):
                return t.multiply(self.number(left, scene), self.number(right, scene))
            case f.Least(parts) | f.Greatest(parts):
                least = isinstance(formula, f.Least)
                numbers = [self.number(part, scene) for part in parts]
                return reduce(
                    lambda a, b: t.choose(t.below(a, b, True) if least else t.below(b, a, True), a, b),
                    numbers,
                )

    def _timed(self, timer: int, operand: Formula, before: bool, scene: Scene) -> Term:
        t, phase = self.terms, scene.phases[timer]
        expires = scene.expiring.get(timer, t.false)
        if self.system.timed[timer].kind == "for":
            if before:
                return phase.holding
            return t.all(t.any(phase.holding, expires), self.true(operand, scene))
        if before:
            return t.any(phase.running, phase.holding)
        lasts = t.all(phase.running, t.negation(expires))
        return t.any(lasts, phase.holding, self.true(operand, scene))

    # ----------------------------------------------------------------- symbols

    def constant(self, value: bool | Fraction | str) -> Symbol:
        """A constant; a whole number is an Int."""
        if isinstance(value, str):
            return {value: self.terms.true}
        return self.terms.figure(value)

    def choose(self, condition: Term, then: Symbol, other: Symbol) -> Symbol:
        """`then` if condition, else `other`."""
        t = self.terms
        if isinstance(then, Term):
            assert isinstance(other, Term)
            return t.choose(condition, then, other)
        assert not isinstance(other, Term)
        names = dict.fromkeys((*then, *other))
        chosen = {
            name: t.choose(condition, then.get(name, t.false), other.get(name, t.false))
            for name in names
        }
        return {name: holds for name, holds in chosen.items() if holds is not t.false}

    def same(self, left: Symbol, right: Symbol) -> Term:
        """Equality of two values of one kind."""
        t = self.terms
        if isinstance(left, Term):
            assert isinstance(right, Term)
            return t.same(left, right)
        assert not isinstance(right, Term)
        return t.any(*(t.all(left[name], right[name]) for name in left if name in right))
