"""Terms: what the constructors simplify has the same value, in our own evaluation and in Z3's."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction

import pytest
import z3

from prioritylogic.engines.solving import Translated
from prioritylogic.semantics.terms import Figure, Term, Terms, evaluate, subterms, variables

NAMES: dict[str, Figure] = {
    "p": True,
    "q": False,
    "i": 2,
    "j": -1,
    "x": Fraction(1, 2),
    "y": Fraction(3),
}


class Growing:
    """Random terms, each beside what it must be worth under `values`, worked out in plain Python."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.t = Terms()
        self.values: dict[str, Figure] = {
            name: self.figure(type(value)) for name, value in NAMES.items()
        }

    def figure(self, kind: type) -> Figure:
        if kind is bool:
            return self.dice.random() < 0.5
        whole = self.dice.randint(-2, 2)
        return whole if kind is int else Fraction(whole, self.dice.choice([1, 1, 2, 3]))

    def leaf(self, kind: type) -> tuple[Term, Figure]:
        if self.dice.random() < 0.3:
            value = self.figure(kind)
            return self.t.const(value), value
        name = self.dice.choice([n for n, v in NAMES.items() if type(v) is kind])
        sort = {bool: "Bool", int: "Int", Fraction: "Real"}[kind]
        return self.t.var(name, sort), self.values[name]  # type: ignore[arg-type]

    def truth(self, depth: int) -> tuple[Term, bool]:
        t, dice = self.t, self.dice
        form = dice.randrange(9) if depth else 8
        if form < 2:
            parts = [self.truth(depth - 1) for _ in range(dice.randint(0, 3))]
            join, fold = ((t.all, all), (t.any, any))[form]
            return join(*(term for term, _ in parts)), fold(value for _, value in parts)
        if form == 2:
            term, value = self.truth(depth - 1)
            return t.negation(term), not value
        if form == 3:
            (one, a), (other, b), (last, c) = (self.truth(depth - 1) for _ in range(3))
            return t.choose(one, other, last), b if a else c
        if form == 4:
            (one, a), (other, b) = (self.truth(depth - 1) for _ in range(2))
            return t.same(one, other), a == b
        if form == 5:
            parts = [self.truth(depth - 1) for _ in range(3)]
            return t.at_most_one([term for term, _ in parts]), sum(v for _, v in parts) <= 1
        if form in (6, 7):
            (one, a), (other, b) = (self.number(depth - 1) for _ in range(2))
            if form == 6:
                return t.same(one, other), a == b
            equal = dice.random() < 0.5
            return t.below(one, other, equal), a <= b if equal else a < b
        term, leaf = self.leaf(bool)
        return term, bool(leaf)

    def number(self, depth: int) -> tuple[Term, Fraction]:
        t, dice = self.t, self.dice
        form = dice.randrange(6) if depth else 5
        if form == 0:
            parts = [self.number(depth - 1) for _ in range(dice.randint(0, 3))]
            return t.add(*(term for term, _ in parts)), sum((v for _, v in parts), Fraction(0))
        if form == 1:
            term, value = self.number(depth - 1)
            factor = dice.choice([Fraction(0), Fraction(1), Fraction(-1), Fraction(2, 3)])
            pair = (t.const(factor), term)
            return t.multiply(*(pair if dice.random() < 0.5 else pair[::-1])), value * factor
        if form == 2:
            condition, holds = self.truth(depth - 1)
            (one, a), (other, b) = (self.number(depth - 1) for _ in range(2))
            return t.choose(condition, one, other), a if holds else b
        if form == 3:
            term, value = self.number(depth - 1)
            return t.real(term), value
        if form == 4:
            term, value = self.number(depth - 1)
            whole = t.choose(t.is_whole(term), t.whole(term), t.const(7))
            return whole, value if value.denominator == 1 else Fraction(7)
        term, leaf = self.leaf(dice.choice([int, Fraction]))
        return term, Fraction(leaf)


def grown(seed: int) -> tuple[Growing, Term, Figure]:
    growing = Growing(seed)
    term, value = growing.truth(4) if seed % 2 else growing.number(4)
    return growing, term, value


def test_simplified_terms_have_the_same_value() -> None:
    for seed in range(1_500):
        growing, term, value = grown(seed)
        assert evaluate(term, growing.values) == value, (seed, term)


def test_z3_gives_terms_the_same_value() -> None:
    for seed in range(300):
        growing, term, value = grown(seed)
        context = z3.Context()
        solver, translated = z3.Solver(ctx=context), Translated(context)
        for name, variable in variables(term).items():
            solver.add(translated.of(variable) == translated.constant(growing.values[name]))
        figure = value if isinstance(value, bool) or term.sort == "Real" else int(value)
        solver.add(translated.of(term) != translated.constant(figure))
        assert solver.check() == z3.unsat, (seed, term)


def test_substituting_is_evaluating_twice() -> None:
    for seed in range(500):
        growing, term, value = grown(seed)
        t = growing.t
        half = {name: t.const(v) for name, v in list(growing.values.items())[::2]}
        (partly,) = t.substitute([term], half)
        assert not set(half) & set(variables(partly))
        assert evaluate(partly, growing.values) == value, (seed, term)


def test_constants_all_round_leave_a_constant() -> None:
    for seed in range(500):
        growing, term, value = grown(seed)
        t = growing.t
        everything = {name: t.const(v) for name, v in growing.values.items()}
        (done,) = t.substitute([term], everything)
        if not any(part.op == "*" for part in subterms([term])):
            assert done.op == "const" and done.leaf == value, (seed, term)


def test_equal_terms_are_one() -> None:
    t = Terms()
    x, y = t.var("x", "Real"), t.var("y", "Real")
    assert t.add(x, y) is t.add(x, y)
    assert t.var("x", "Real") is x
    assert t.var("x", "Bool") is not x
    assert t.const(1) is not t.const(Fraction(1)) and t.const(True) is not t.const(1)


@pytest.mark.parametrize(
    "make",
    [
        lambda t, x, y: t.all(x, t.any(y, t.negation(y))),
        lambda t, x, y: t.any(x, t.all(y, t.negation(y))),
        lambda t, x, y: t.choose(t.true, x, y),
        lambda t, x, y: t.same(x, t.true),
        lambda t, x, y: t.negation(t.negation(x)),
        lambda t, x, y: t.all(x, x),
    ],
)
def test_what_is_obvious_vanishes(make: Callable[[Terms, Term, Term], Term]) -> None:
    t = Terms()
    x, y = t.var("x", "Bool"), t.var("y", "Bool")
    assert make(t, x, y) is x
