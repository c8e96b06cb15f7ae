"""Compiled formulas: cheapest questions first, one question per condition on levers, memory of the
past only where it is read, and refusals by name. (That they mean what the reference says is tested
in `agreement/`.)"""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace

import pytest

from prioritylogic import load
from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.semantics.compile import Compiler, Declined, depth, plain

SYSTEM = load("""
system: levers
inputs: {go: button, x: -100 % to 100 %, y: -100 % to 100 %}
memory: {k: {values: whole 0 to 9, start: 0}}
machines:
  m: {states: [a, b], start: a, rules: [{id: r, from: a, if: pressed(go), to: b, set: {k: k + 1}}]}
requirements:
  - {id: R, never: "(x > 1 % and y > 1 %) for 2 s"}
""")
X, Y, GO, K = f.Read("x"), f.Read("y"), f.Read("go"), f.Read("k")
WAS_X = f.Read("x", before=True)
ON_B = f.Same(f.Read("m"), f.Const("b"))


def const(value: int | Fraction) -> f.Const:
    return f.Const(Fraction(value))


HIGH = f.Less(const(Fraction(1, 2)), X)


class Environment:
    """Answers questions, and notes which were asked."""

    def __init__(self, **answers: bool) -> None:
        self.answers, self.asked = answers, list[str]()

    def __getattr__(self, name: str):  # type: ignore[no-untyped-def]
        def ask(number: int) -> bool:
            self.asked.append(f"{name} {number}")
            return self.answers.get(name, False)

        return ask


def read(compiler: Compiler, formula: Formula, state: str = "a", k: int = 0, **answers: bool):  # type: ignore[no-untyped-def]
    """The value in a state, and the questions asked for it."""
    environment = Environment(**answers)
    frame = SimpleNamespace(
        n=[state, k], w=["a", 0], o=environment, was=environment.was, latch=environment.latch,
        taken=set(), sounds=set(), timed=[False],
    )  # fmt: skip
    return compiler.function(formula)(frame), environment.asked


def test_the_state_is_asked_before_a_button_and_a_button_before_a_lever() -> None:
    compiler = Compiler(SYSTEM)
    formula = f.All((HIGH, GO, f.Read("go", before=True), ON_B))
    assert read(compiler, formula) == (False, [])
    assert read(compiler, formula, "b") == (False, ["was 0"])
    assert read(compiler, formula, "b", was=True) == (False, ["was 0", "get 0"])
    assert read(compiler, formula, "b", was=True, get=True, cut=True) == (
        True,
        ["was 0", "get 0", "cut 0"],
    )
    costs = [compiler.cost(part) for part in (f.TRUE, ON_B, f.Read("go", before=True), GO, HIGH)]
    assert costs == sorted(set(costs))


def test_a_condition_on_levers_alone_is_one_question_however_often_it_is_written() -> None:
    compiler = Compiler(SYSTEM)
    moved = f.Less(const(Fraction(1, 20)), f.Greatest((X, f.Product(const(-1), X))))
    formula = f.Some((f.All((ON_B, moved)), f.All((GO, f.Not(moved)))))
    assert read(compiler, formula, "b", cut=True) == (True, ["cut 0"])
    assert read(compiler, formula, "a", get=True) == (False, ["get 0", "cut 1"])
    read(compiler, f.All((moved, HIGH, GO)))
    assert len(compiler.cuts) == 3  # moved, its opposite, and moved-and-high as one
    assert not compiler.joint


def test_a_comparison_that_depends_on_the_state_is_no_prepared_question() -> None:
    compiler = Compiler(SYSTEM)
    compiler.function(f.Less(X, K))
    assert compiler.joint and not compiler.cuts


def test_the_past_of_a_lever_is_a_stored_truth() -> None:
    compiler = Compiler(SYSTEM)
    was_high = f.Less(const(Fraction(1, 2)), WAS_X)
    begins = f.All((HIGH, f.Not(was_high)))
    assert read(compiler, begins, cut=True, latch=True) == (True, ["latch 0", "cut 0"])
    assert read(compiler, begins, latch=False) == (False, ["latch 0"])
    assert compiler.latches == [f.Not(HIGH)]  # as it reads now; the outermost condition of the past


def test_only_inputs_whose_past_is_read_are_remembered() -> None:
    compiler = Compiler(SYSTEM)
    compiler.function(f.All((GO, HIGH)))
    assert compiler.remembered == set()
    compiler.function(f.begins(GO))
    assert compiler.remembered == {0}


@pytest.mark.parametrize(
    ("formula", "why"),
    [
        (f.Less(X, WAS_X), "compared across two moments"),
        (f.Less(f.Product(X, Y), const(1)), "multiplied"),
        (f.Less(f.Choose(GO, WAS_X, const(0)), X), "across two moments"),
        (f.Same(f.Sum((WAS_X, K)), const(0)), "across two moments"),
    ],
)
def test_what_cannot_be_read_exactly_is_declined_by_name(formula: Formula, why: str) -> None:
    with pytest.raises(Declined, match=why):
        Compiler(SYSTEM).function(formula)


@pytest.mark.parametrize("deep", [10, 50, 90])
def test_nesting_beyond_what_python_parses_still_compiles(deep: int) -> None:
    compiler = Compiler(SYSTEM)
    formula: Formula = K
    for _ in range(deep):
        formula = f.Sum((f.Choose(ON_B, formula, const(0)), const(1)))
    assert read(compiler, formula, "b", k=2)[0] == 2 + deep
    assert read(compiler, formula, "a", k=2)[0] == 1


def test_a_part_that_is_shared_is_written_once() -> None:
    compiler = Compiler(SYSTEM)
    formula = doubled = f.Sum((K, const(1)))
    for _ in range(8):
        doubled = f.Sum((doubled, doubled))
    assert read(compiler, doubled, k=1)[0] == 2 * 2**8
    for _ in range(60):
        formula = f.Sum((formula, formula))  # written out it would have 2^60 parts
    compiler.function(formula)


def test_numbers_are_exact() -> None:
    third = f.Product(K, const(Fraction(1, 3)))
    assert read(Compiler(SYSTEM), third, k=2)[0] == Fraction(2, 3)
    assert read(Compiler(SYSTEM), f.Sum((const(-3), K)), k=2)[0] == -1


def test_depth_counts_open_parentheses() -> None:
    assert depth("a") == 0
    assert depth("(a)(b)") == 1
    assert depth("((a) + (b)) + (c)") == 2


def test_what_reads_the_past_or_an_event_is_not_plain() -> None:
    assert plain(f.All((GO, ON_B, HIGH)))
    for part in (f.Read("go", before=True), f.Taken(("r",)), f.TimedRead(0, GO)):
        assert not plain(f.Some((ON_B, part)))
