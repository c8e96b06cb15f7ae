"""The few causes that matter: each needed, nothing needless, and each with its line."""

from __future__ import annotations

import pytest
from making import spec

import prioritylogic
from prioritylogic import Answer
from prioritylogic.engines import causes as module
from prioritylogic.engines.causes import Following, causes, deeds, without
from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError
from prioritylogic.evidence.explanation import Causes
from prioritylogic.model.system import System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

TWO_WAYS = """
system: lamp
inputs: {a: button, b: button, c: button}
machines:
  m:
    states: [dark, lit]
    start: dark
    rules:
      - {id: by_a, from: dark, if: pressed(a), to: lit}
      - {id: by_b, from: dark, if: pressed(b), to: lit}
  n:
    states: [x, y]
    start: x
    rules:
      - {id: aside, from: x, if: pressed(c), to: y}
"""


def asked(requirement: str, text: str = TWO_WAYS) -> tuple[System, Answer]:
    system = spec(requirement, text)
    return system, prioritylogic.check(system, explain=["R"]).requirements[0]


def names(answer: Answer) -> list[tuple[str, str]]:
    assert isinstance(answer.explanation, Causes)
    return [(cause.kind, cause.name) for cause in answer.explanation.causes]


def test_a_press_and_the_rule_that_reads_it() -> None:
    system, answer = asked("never: m is lit")
    pressed, rule = names(answer)
    assert pressed[0] == "input" and rule == ("rule", f"by_{pressed[1]}")
    assert isinstance(answer.explanation, Causes)
    for cause in answer.explanation.causes:
        assert cause.name in system.text.splitlines()[cause.span.line - 1]


def test_waiting_needs_the_rule_with_the_delay() -> None:
    _, answer = asked("never: m is c", "\n".join(spec().text.splitlines()) + "\n")
    assert names(answer) == [("input", "go"), ("rule", "open"), ("rule", "lock")]


def test_what_makes_no_difference_is_left_out() -> None:
    system = spec("never: m is lit", TWO_WAYS)
    requirement = system.requirements[0]
    reference = Reference(system)
    start = next(reference.starts((False, False, False)))
    both = next(reference.reactions(start.after, (True, False, True), frozenset()))
    run = Run((start, both), both.time)
    assert len(deeds(reference, run)) == 2
    found = causes(system, requirement, run, Limits())
    assert found is not None and found.settled
    assert [cause.name for cause in found.causes] == ["a", "by_a"]
    assert found.run.moments[1].taken == {"by_a"}


def test_of_two_ways_to_the_same_neither_rule_is_needed() -> None:
    text = TWO_WAYS.replace("if: pressed(b)", "if: pressed(a)").replace("pressed(c)", "pressed(b)")
    text = text.replace("start: dark", "start: dark\n    tie: either")
    _, answer = asked("never: m is lit", text)
    assert names(answer) == [("input", "a")]


def test_a_run_that_breaks_it_at_the_start_has_no_cause() -> None:
    _, answer = asked("never: m is dark")
    assert names(answer) == []


def test_an_optional_rule_is_a_deed() -> None:
    text = TWO_WAYS.replace("if: pressed(a), to: lit", "may: yes, to: lit").replace("pressed(b)", "b")
    text = text.replace("from: dark, if: b", "from: dark, if: pressed(b) and pressed(c)")
    _, answer = asked("never: m is lit", text)
    assert names(answer) == [("offer", "by_a")]


def test_what_is_owed_is_taken_by_itself() -> None:
    text = TWO_WAYS.replace("if: pressed(a), to: lit", "takes: 1 s to 2 s, to: lit")
    text = text.replace("if: pressed(c), to: y", "after: 4 s, to: y")
    _, answer = asked("never: m is lit and n is y", text)
    assert names(answer) == [("rule", "by_a"), ("rule", "aside")]


def test_to_get_to_what_is_possible() -> None:
    _, answer = asked("possible: m is lit and n is y")
    assert next(name for name in names(answer) if name[0] == "input")[1] in ("a", "b", "c")
    assert len(names(answer)) == 4
    assert isinstance(answer.explanation, Causes) and len(answer.explanation.parts) == 2


def test_a_rule_is_taken_away() -> None:
    system = spec("never: m is lit", TWO_WAYS)
    _, answer = asked("never: m is lit")
    assert answer.trace is not None
    run = answer.trace.run
    (rule,) = run.moments[-1].taken
    requirement = system.requirements[0]
    done = deeds(Reference(system), run)
    assert Following(system, requirement, run, Limits()).shown(done) is not None
    assert Following(without(system, rule), requirement, run, Limits()).shown(done) is None


def test_too_many_runs_leave_causes_open(monkeypatch: pytest.MonkeyPatch) -> None:
    system, answer = asked("never: m is lit")
    assert answer.trace is not None
    monkeypatch.setattr(module, "MOST_OUTCOMES", 1)
    assert causes(system, system.requirements[0], answer.trace.run, Limits()) is None


def test_a_time_limit_ends_it() -> None:
    system, answer = asked("never: m is lit")
    assert answer.trace is not None
    with pytest.raises(LimitError):
        causes(system, system.requirements[0], answer.trace.run, Limits(seconds=0))


def test_what_is_done_again_is_told_where_it_is_done() -> None:
    again = """
system: counter
inputs: {go: button}
memory: {c: {values: whole 0 to 3, start: 0}}
machines:
  m:
    states: [a, b]
    start: a
    rules:
      - {id: r, from: a, if: pressed(go) and c < 3, to: b, set: {c: c + 1}}
      - {id: s, from: b, after: 5 s, to: a}
"""
    _, answer = asked("never: c = 3", again)
    assert isinstance(answer.explanation, Causes)
    done = [(int(cause.time), cause.row) for cause in answer.explanation.causes if cause.kind == "input"]
    assert done == [(0, 2), (5, 3), (5, 4), (10, 5), (10, 6)]
