"""The report for people: what is said once, and what is advised."""

from __future__ import annotations

import dataclasses

from prioritylogic import CheckResult, FoundIssue, check, load
from prioritylogic.render.text import check_text

STRICT = """\
system: strict
inputs: {go: button}
machines:
  m:
    states: [a, b]
    start: a
    rules: [{id: r, from: a, after: over 3 s, may: yes, to: b}]
requirements:
  - {id: A, never: m is b and go}
  - {id: B, possible: m is b}
stories:
  - {id: S, steps: [take r], end: m is b}
"""


def test_one_reason_for_much_that_is_undecided_is_said_once_with_advice_that_fits() -> None:
    stored = "memory: {level: {values: 0 % to 100 %, start: 0 %}}\nmachines"
    assumed = "assume:\n  - {id: P, never: go and m is b}\nrequirements"
    spec = STRICT.replace("machines", stored).replace("requirements", assumed)
    text = " ".join(check_text(check(load(spec))).split())
    reason = "not applicable: exploring whole ticks is not exact here, because memory with analog values"
    assert text.count(reason) == 1
    assert f"stuck time and nothing possible: {reason}" in text
    assert "requirements are proved all the same" in text
    assert "-limit" not in text


def test_a_limit_is_answered_with_the_option_that_raises_it() -> None:
    text = " ".join(check_text(check(load(STRICT.replace("over 3 s", "3 s")), time_limit=1e-9)).split())
    assert text.count("the time limit of 1e-09 s was reached; more time (`--time-limit`)") == 1
    assert "--memory-limit" not in text and "are proved" not in text


TICKS = """\
system: ticks
inputs: {again: signal}
memory: {n: {values: whole 0 to 1, start: 0}}
machines:
  m:
    states: [a]
    start: a
    rules: [{id: go, from: a, after: 4 s, to: a, set: {n: n + 1}}]
  w:
    states: [b, c]
    start: b
    rules: [{id: spin, from: any, if: again, to: c}]
waive: {"endless-loop:spun": typed wrongly}
"""


def found(result: CheckResult, kind: str) -> FoundIssue:
    return next(issue for issue in result.findings if issue.kind == kind)


def test_findings_read_well() -> None:
    result = check(load(TICKS))
    assert found(result, "value-out-of-range").message == (
        "a value outside the range of n is written by go"
    )
    loop = "spin can be taken for ever within one instant, while no input changes"
    assert found(result, "endless-loop").message == loop
    stale = "endless-loop:spun is waived, but nothing of this id is found; did you mean"
    assert found(result, "stale-waiver").message == f"{stale} 'endless-loop:spin'?"
    text = check_text(result, 120)
    assert f"How endless-loop:spin comes about\n  {loop}\n" in text and f"seen here: {loop}" not in text
    assert "  note       stale-waiver:endless-loop:spun\n" in text


def test_the_place_of_a_finding_is_shown_if_it_has_one() -> None:
    result = check(load(TICKS))
    assert "error      endless-loop:spin  12:18\n" in check_text(result)
    nowhere = dataclasses.replace(result, findings=(FoundIssue("x:y", "x", "note", "so"),))
    assert "note       x:y\n" in check_text(nowhere)
