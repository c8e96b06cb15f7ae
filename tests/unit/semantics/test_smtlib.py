"""Terms as SMT-LIB: what is written is what Z3's own reader reads, in the smallest standard logic."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
import z3

import prioritylogic
from prioritylogic.semantics.smtlib import script
from prioritylogic.semantics.terms import Figure, Term, Terms, evaluate, variables

X, Y, N, P, Q = "x", "takes[left].clock", "ändern", "asked", "p is über"


class Vocabulary:
    """Some terms to build from."""

    def __init__(self) -> None:
        self.t = t = Terms()
        self.x, self.y, self.n = t.var(X, "Real"), t.var(Y, "Real"), t.var(N, "Int")
        self.p, self.q = t.var(P, "Bool"), t.var(Q, "Bool")
        self.half = t.const(Fraction(1, 2))


VALUES: dict[str, Figure] = {X: Fraction(-7, 3), Y: Fraction(5, 2), N: -3, P: True, Q: False}

Making = Callable[[Vocabulary], Term]
EVERY_OPERATION: dict[str, tuple[Making, str]] = {
    "not": (lambda v: v.t.negation(v.p), "(not |asked|)"),
    "and": (lambda v: v.t.all(v.p, v.q), "(and |asked| |p is über|)"),
    "or": (lambda v: v.t.any(v.p, v.q), "(or |asked| |p is über|)"),
    "same truth": (lambda v: v.t.same(v.p, v.q), "(= |asked| |p is über|)"),
    "choice": (lambda v: v.t.choose(v.p, v.q, v.t.var("r", "Bool")), "(ite |asked| |p is über| |r|)"),
    "choice of reals": (
        lambda v: v.t.below(v.t.choose(v.p, v.x, v.y), v.t.zero),
        "(< (ite |asked| |x| |takes[left].clock|) 0.0)",
    ),
    "same": (lambda v: v.t.same(v.x, v.y), "(= |x| |takes[left].clock|)"),
    "less": (lambda v: v.t.below(v.x, v.y), "(< |x| |takes[left].clock|)"),
    "at most": (lambda v: v.t.below(v.x, v.y, True), "(<= |x| |takes[left].clock|)"),
    "sum": (
        lambda v: v.t.below(v.t.add(v.x, v.y, v.half), v.t.zero),
        "(+ |x| |takes[left].clock| (/ 1.0 2.0))",
    ),
    "product": (lambda v: v.t.below(v.t.multiply(v.half, v.x), v.t.zero), "(* (/ 1.0 2.0) |x|)"),
    "square": (lambda v: v.t.below(v.t.multiply(v.x, v.x), v.half), "(* |x| |x|)"),
    "whole as real": (lambda v: v.t.below(v.n, v.x), "(< (to_real |ändern|) |x|)"),
    "is it whole": (lambda v: v.t.is_whole(v.x), "(is_int |x|)"),
    "real as whole": (lambda v: v.t.same(v.t.whole(v.x), v.n), "(= (to_int |x|) |ändern|)"),
    "negative whole": (lambda v: v.t.below(v.n, v.t.const(-3)), "(< |ändern| (- 3))"),
    "negative real": (lambda v: v.t.below(v.x, v.t.const(Fraction(-3))), "(< |x| (- 3.0))"),
    "negative quotient": (
        lambda v: v.t.below(v.x, v.t.const(Fraction(-22, 7))),
        "(< |x| (- (/ 22.0 7.0)))",
    ),
    "true": (lambda v: v.t.true, "(assert true)"),
    "false": (lambda v: v.t.false, "(assert false)"),
}


def answer(text: str) -> str:
    """What Z3 says to a script, read by its own front end."""
    solver = z3.Solver(ctx=z3.Context())
    solver.from_string(text)
    return str(solver.check())


@pytest.mark.parametrize("name", EVERY_OPERATION)
def test_each_operation_is_written_in_standard_words(name: str) -> None:
    make, written = EVERY_OPERATION[name]
    assert written in script([make(Vocabulary())])


@pytest.mark.parametrize("name", EVERY_OPERATION)
def test_each_operation_is_read_as_it_is_meant(name: str) -> None:
    make, _ = EVERY_OPERATION[name]
    v = Vocabulary()
    fact, values = make(v), {**VALUES, "r": True}
    given = [
        v.t.same(variable, v.t.const(values[called])) for called, variable in variables(fact).items()
    ]
    meant = bool(evaluate(fact, values))
    assert answer(script([*given, fact])) == ("sat" if meant else "unsat")
    assert answer(script([*given, v.t.negation(fact)])) == ("unsat" if meant else "sat")


@pytest.mark.parametrize(
    ("make", "logic"),
    [
        (lambda v: v.p, "QF_UF"),
        (lambda v: v.t.below(v.x, v.t.zero), "QF_LRA"),
        (lambda v: v.t.below(v.n, v.t.const(1)), "QF_LIA"),
        (lambda v: v.t.below(v.n, v.x), "QF_LIRA"),
        (lambda v: v.t.below(v.t.multiply(v.half, v.x), v.t.zero), "QF_LRA"),
        (lambda v: v.t.below(v.t.multiply(v.x, v.y), v.t.zero), "QF_NRA"),
        (lambda v: v.t.below(v.t.multiply(v.n, v.n), v.t.const(1)), "QF_NIA"),
        (lambda v: v.t.below(v.t.multiply(v.n, v.x), v.t.zero), "QF_NIRA"),
        (lambda v: v.t.is_whole(v.x), "QF_LIRA"),
    ],
)
def test_the_logic_is_the_smallest_that_will_do(make: Making, logic: str) -> None:
    text = script([make(Vocabulary())])
    assert text.startswith(f"(set-logic {logic})\n")


def test_a_part_that_occurs_twice_is_written_once() -> None:
    v = Vocabulary()
    part = v.t.all(v.p, v.t.below(v.x, v.y))
    text = script([v.t.any(part, v.q), v.t.same(part, v.t.var("r", "Bool"))])
    assert text.count("(< |x|") == 1 and text.count("(define-fun") == 1
    assert answer(text) == "sat"


def test_sharing_keeps_a_script_small_that_would_be_huge() -> None:
    t = Terms()
    fact = t.var("p0", "Bool")
    for n in range(1, 60):
        fact = t.same(t.all(fact, t.var(f"p{n}", "Bool")), t.any(fact, t.var(f"q{n}", "Bool")))
    assert len(script([fact])) < 20_000


def test_a_comment_stands_before_everything() -> None:
    text = script([Terms().true], "it starts true\nand so on")
    assert text.startswith("; it starts true\n; and so on\n(set-logic")


def random_fact(v: Vocabulary, random: Random, depth: int) -> Term:
    t = v.t
    if not depth:
        reals = [
            v.x,
            v.y,
            v.n,
            t.const(random.randint(-3, 3)),
            t.const(Fraction(random.randint(-9, 9), 4)),
        ]
        return random.choice(
            [v.p, v.q, t.below(random.choice(reals), random.choice(reals), random.random() < 0.5)]
        )
    parts = [random_fact(v, random, depth - 1) for _ in range(3)]
    return random.choice(
        [t.all(*parts), t.any(*parts), t.negation(parts[0]), t.choose(*parts), t.same(*parts[:2])]
    )


def test_what_is_written_has_the_value_that_is_meant() -> None:
    random, seen = Random(5), set()
    for _ in range(120):
        v = Vocabulary()
        fact = random_fact(v, random, 3)
        given = [
            v.t.same(variable, v.t.const(VALUES[name])) for name, variable in variables(fact).items()
        ]
        meant = bool(evaluate(fact, VALUES))
        seen.add(meant)
        assert answer(script([*given, fact])) == ("sat" if meant else "unsat")
    assert seen == {True, False}


PRINT = """
from prioritylogic.semantics.smtlib import script
from test_smtlib import EVERY_OPERATION, Vocabulary
v = Vocabulary()
print(script([make(v) for make, _ in EVERY_OPERATION.values()]))
"""


def test_another_process_with_other_hashes_writes_the_same() -> None:
    def run(seed: str) -> bytes:
        root = str(Path(prioritylogic.__file__).parents[1])
        path = os.pathsep.join((root, str(Path(__file__).parent)))
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            "PYTHONPATH": path,
            "PYTHONIOENCODING": "utf-8",
        }
        command = [sys.executable, "-c", PRINT]
        return subprocess.run(command, env=environment, check=True, capture_output=True).stdout

    assert run("1") == run("77")
