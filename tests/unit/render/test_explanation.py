"""Explanations in words: each kind is said, fits its width, and is data for programs."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files

import jsonschema
import pytest

import prioritylogic
from prioritylogic.evidence.explanation import Blocking, Causes, Explanation, Fact, Proof, Told
from prioritylogic.evidence.results import CheckResult
from prioritylogic.render.explanation import explanations
from prioritylogic.render.json import check_document
from prioritylogic.render.text import check_text

TEXT = """
system: door
inputs: {go: button, stop: button}
memory: {tries: {values: whole 0 to 3, start: 0}}
machines:
  m:
    states: [a, b, c]
    start: a
    rules:
      - {id: open, about: It opens., from: a, if: pressed(go), to: b}
      - {id: lock, from: b, after: 2 s, to: c, set: {tries: 1}}
      - {id: slam, from: b, may: yes, to: a}
requirements:
  - {id: NEVER, never: m is c}
  - {id: SLAM, never: taken(slam)}
  - {id: SOON, after: m is b, expect: m is c, within: 1 s}
  - {id: ALWAYS, after: m is b, expect: m is not b, within: 2 s}
  - {id: CAN, possible: m is c}
  - {id: CANNOT, possible: m is c and tries = 3}
  - {id: BACK, recoverable: m is a}
"""


@pytest.fixture(scope="module")
def result() -> CheckResult:
    system = prioritylogic.load(TEXT)
    return prioritylogic.check(system, explain=[r.id for r in system.requirements])


def said(result: CheckResult, name: str = "", width: int = 400) -> str:
    if name:
        result = replace(result, requirements=tuple(a for a in result.requirements if a.id == name))
    return "\n".join(explanations(result, width))


def told(result: CheckResult, explanation: Explanation) -> str:
    answer = replace(result.requirements[0], explanation=explanation)
    return said(replace(result, requirements=(answer,)))


def test_causes_have_rows_and_lines(result: CheckResult) -> None:
    text = said(result, "NEVER")
    assert "Why NEVER fails" in text
    assert "0 s  go pressed (row 2; line 3)" in text
    assert "0 s  rule open (row 2; line 10): It opens" in text
    assert "2 s  rule lock (row 3; line 11)" in text
    assert "what must be true is not, because\n    m is c" in text


def test_what_need_not_be_is_said(result: CheckResult) -> None:
    assert "rule slam is taken, though it could wait" in said(result, "SLAM")


def test_what_never_came_is_said_with_its_beginning(result: CheckResult) -> None:
    text = said(result, "SOON")
    assert "What is to come, asked since 0 s, has not come, because at the end" in text
    assert "m is not c (m is b)" in text


def test_a_way_there_is_said_as_such(result: CheckResult) -> None:
    assert "no run gets there:" in said(result, "CAN")
    assert "this makes its condition true:\n    m is c" in said(result, "CAN")


def test_a_proof_has_its_three_steps(result: CheckResult) -> None:
    text = said(result, "ALWAYS")
    for words in ("fact 1", "starts true", "stays true", "is enough", "induction stumbles over"):
        assert words in text
    assert "rule" not in text.partition("is enough")[2].partition("\n")[0]
    assert "no step gets there" in said(result, "CANNOT")


def test_what_cannot_be_said_is_told(result: CheckResult) -> None:
    assert "followed backwards" in said(result, "BACK")
    assert ("No single cause is named" in said(result, "BACK")) == ("BACK fails" in said(result, "BACK"))


def test_everything_fits_and_is_said_in_the_whole_text(result: CheckResult) -> None:
    assert max(map(len, said(result, width=80).splitlines())) <= 80
    assert said(result, width=80) in check_text(result, 80)


def test_other_proofs(result: CheckResult) -> None:
    plain = Proof((), (), None, False, False)
    assert "No step from any state breaks it" in told(result, plain)
    assert "By induction from 2 states" in told(
        result, replace(plain, several="induction from 2 states")
    )
    assert "was not found" in told(result, replace(plain, blocked=True))
    fact = Fact("m is a or timer9.done", "", (), True, ())
    proof = Proof((fact, replace(fact, at_rest=False, needs=(1,))), (), None, False, False)
    text = told(result, proof)
    assert (
        "only in a step without any rule" in text and "no step touches what makes it true, given" in text
    )
    assert "even from states without these facts" in text
    assert "requirement itself is passed on" in text


def test_a_blocking_step_is_said_with_all_that_happens(result: CheckResult) -> None:
    step = Blocking(
        (("m", "b"), ("asked", False)), Fraction(2), (("go", True),), ("lock",), (("m", "c"),), False, ()
    )
    text = told(result, Proof((), (), step, False, False, "induction from 2 different states in a row"))
    assert "m is b; not asked" in text
    assert "2 s pass; go pressed; rule lock (line 11); and that breaks it" in text
    assert "does not follow on so many different ones" in text


def test_causes_that_are_open_or_none(result: CheckResult) -> None:
    trace = result.requirements[0].trace
    assert trace is not None
    text = told(result, Causes(trace.run, (), settled=False))
    assert "nothing without which" in text and "There may be more" in text


def test_the_run_is_shown_again_if_something_is_left_out(result: CheckResult) -> None:
    trace = result.requirements[0].trace
    assert trace is not None
    shorter = replace(trace.run, moments=trace.run.moments[:2])
    assert "left out of the run here" in told(result, Causes(shorter, ()))


def test_programs_get_it_too(result: CheckResult) -> None:
    schema = json.loads((files("prioritylogic.render") / "check.schema.json").read_text("utf-8"))
    document = check_document([result])
    jsonschema.Draft202012Validator(schema).validate(document)
    kinds = [answer["explanation"]["kind"] for answer in document["systems"][0]["requirements"]]
    assert kinds == ["causes", "causes", "causes", "proof", "causes", "proof", "told"]
    plain = check_document([prioritylogic.check(prioritylogic.load(TEXT), only=["SLAM"])])
    assert plain["systems"][0]["requirements"][0]["explanation"] is None
    assert told(result, Told(("So it is.",))).endswith("So it is.")
