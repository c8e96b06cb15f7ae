"""Z3 kept within limits: time, memory and work end it wherever it is, and a person can stop it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from fractions import Fraction
from pathlib import Path

import pytest
import z3
from claiming import EVERY_KIND, Facts, question

import prioritylogic
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import Translated, asked, given_up
from prioritylogic.errors import LimitError
from prioritylogic.semantics.terms import Terms, evaluate, variables

PATIENCE = 2.0  # seconds within which whatever is asked to stop has stopped


def pigeons(context: z3.Context, holes: int = 11) -> z3.Solver:
    """A question that takes Z3 for ever."""
    solver = z3.Solver(ctx=context)
    solver.set("ctrl_c", False)
    at = [[z3.Bool(f"{i} in {j}", context) for j in range(holes)] for i in range(holes + 1)]
    solver.add(*(z3.Or(*row) for row in at))
    for hole in zip(*at, strict=True):
        solver.add(*(z3.Or(z3.Not(a), z3.Not(b)) for n, a in enumerate(hole) for b in hole[:n]))
    return solver


# --------------------------------------------------------------------------- translation


@pytest.mark.parametrize("seed", range(4))
def test_a_term_and_its_translation_have_the_same_value(seed: int) -> None:
    facts = Facts(question(EVERY_KIND), seed)
    context = z3.Context()
    translated = Translated(context)
    for _ in range(40):
        fact = facts.fact()
        values = {
            name: facts.random.random() < 0.5
            if variable.sort == "Bool"
            else facts.random.randint(-3, 3)
            if variable.sort == "Int"
            else Fraction(facts.random.randint(-9, 9), 4)
            for name, variable in variables(fact).items()
        }
        swaps = [
            (translated.of(variable), translated.constant(values[name]))
            for name, variable in variables(fact).items()
        ]
        found = z3.simplify(z3.substitute(translated.of(fact), *swaps))
        assert bool(z3.is_true(found)) == bool(evaluate(fact, values)), fact


def test_a_prefix_keeps_the_variables_of_steps_apart() -> None:
    t = Terms()
    translated = Translated(z3.Context())
    fact = t.below(t.var("x", "Real"), t.const(Fraction(-1, 3)))
    assert str(translated.of(fact, "7:")) == "7:x < -1/3"
    assert translated.of(fact, "7:") is translated.of(fact, "7:")
    assert str(translated.of(fact)) == "x < -1/3"


def test_a_chain_of_any_length_is_translated() -> None:
    t = Terms()
    fact = t.var("p0", "Bool")
    for n in range(1, 5_000):
        fact = t.same(fact, t.var(f"p{n}", "Bool"))
    assert z3.is_eq(Translated(z3.Context()).of(fact))


# --------------------------------------------------------------------------- limits


def test_an_answer_comes_through() -> None:
    context = z3.Context()
    solver = z3.Solver(ctx=context)
    assert asked(context, Limits(), solver.check) == z3.sat


@pytest.mark.parametrize("seconds", [0.0, 0.2, 0.6])
def test_time_ends_it(seconds: float) -> None:
    context = z3.Context()
    solver = pigeons(context)
    limits, began = Limits(seconds=seconds), time.monotonic()
    with pytest.raises(LimitError, match=f"the time limit of {seconds:g} s was reached") as caught:
        asked(context, limits, solver.check)
    assert caught.value.final and caught.value.__cause__ is None
    assert time.monotonic() - began < seconds + PATIENCE
    assert threading.active_count() == 1, "nothing goes on behind our back"


def test_memory_ends_it() -> None:
    context = z3.Context()
    solver, began = pigeons(context), time.monotonic()
    with pytest.raises(LimitError, match="the memory limit of 1 MB was reached"):
        asked(context, Limits(memory=1_000_000), solver.check)
    assert time.monotonic() - began < PATIENCE


def test_the_context_can_be_used_after_it_was_stopped() -> None:
    context = z3.Context()
    solver = pigeons(context)
    with pytest.raises(LimitError):
        asked(context, Limits(seconds=0.1), solver.check)
    assert asked(context, Limits(), z3.Solver(ctx=context).check) == z3.sat


def test_what_z3_complains_of_never_comes_out_as_it_is() -> None:
    def complain() -> None:
        raise z3.Z3Exception(b"canceled")

    with pytest.raises(LimitError, match=r"work limit of 7 solver steps") as caught:
        asked(z3.Context(), Limits(), complain, 7)
    assert not caught.value.final


def test_a_fault_of_ours_comes_out_as_it_is() -> None:
    with pytest.raises(ZeroDivisionError):
        asked(z3.Context(), Limits(), lambda: 1 // 0)


def test_work_is_said_in_readable_figures() -> None:
    stop = given_up("max. resource limit exceeded", 30_000_000)
    assert str(stop) == "the work limit of 30 000 000 solver steps was reached"


# --------------------------------------------------------------------------- stopped by hand


def test_a_person_can_stop_it_and_is_not_told_of_a_limit() -> None:
    context = z3.Context()
    solver = pigeons(context)
    threading.Timer(0.3, lambda: os.kill(os.getpid(), signal.SIGINT)).start()
    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        asked(context, Limits(), solver.check)
    assert time.monotonic() - began < 0.3 + PATIENCE


HARD = """
system: lamps
groups:
  g: [a, b, c, d, e, f, h, i, j, k, l, m]
inputs:
  take[g]: button
  lever[g]: -100 % to 100 %
  aim: -100 % to 100 %
machines:
  lamp[x in g]:
    states: [dark, lit, tired]
    start: dark
    rules:
      - {id: lit_up, from: dark, if: "take[x] and lever[x] * aim > 20 %", takes: 1 s to 3 s, to: lit}
      - {id: tire, from: lit, after: 2 s, to: tired}
      - {id: rest, from: tired, takes: over 1 s to under 7 s, to: dark}
requirements:
  - id: R
    after: count(lamp[x] is lit over x in g) > 3
    expect: count(lamp[x] is lit over x in g) < 2
    within: 4 s
"""


@pytest.fixture(scope="module")
def hard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hard") / "lamps.yaml"
    path.write_text(HARD, encoding="utf-8")
    return path


def program(*arguments: str) -> subprocess.Popen[str]:
    root = str(Path(prioritylogic.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": root}
    command = [sys.executable, "-m", "prioritylogic", "check", *arguments]
    pipe = subprocess.PIPE
    return subprocess.Popen(command, env=environment, stdout=pipe, stderr=pipe, text=True)


def test_the_program_stops_when_a_person_says_so(hard: Path) -> None:
    running = program(str(hard))
    time.sleep(3.0)
    assert running.poll() is None
    running.send_signal(signal.SIGINT)
    began = time.monotonic()
    out, err = running.communicate(timeout=20)
    assert time.monotonic() - began < PATIENCE
    assert running.returncode == 130
    assert "Traceback" not in err and "Stopped by hand" in err
    assert "it was stopped by hand" in " ".join(out.split())


def test_the_program_ends_within_two_seconds_of_its_time(hard: Path) -> None:
    began = time.monotonic()
    running = program(str(hard), "--time-limit", "2s")
    out, err = running.communicate(timeout=30)
    assert time.monotonic() - began < 2 + PATIENCE
    assert running.returncode == 3 and err == ""
    assert "the time limit of 2 s was reached" in " ".join(out.split())


def test_the_program_survives_having_no_memory(hard: Path) -> None:
    running = program(str(hard), "--memory-limit", "5MB")
    out, err = running.communicate(timeout=30)
    assert running.returncode == 3 and err == ""
    assert "the memory limit of 5 MB was reached" in " ".join(out.split())


@pytest.mark.parametrize("seconds", [0.3, 1.5])
def test_check_ends_within_two_seconds_of_its_time(hard: Path, seconds: float) -> None:
    system = prioritylogic.load(hard)
    began = time.monotonic()
    result = prioritylogic.check(system, time_limit=seconds)
    assert time.monotonic() - began < seconds + PATIENCE
    assert {answer.verdict for answer in result.requirements} == {"undecided"}
