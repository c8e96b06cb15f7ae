"""The report for people: what is said once, and what is advised."""

from __future__ import annotations

from prioritylogic import check, load
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
    text = " ".join(check_text(check(load(STRICT))).split())
    reason = "not applicable: exploring whole ticks is not exact here, because rule r waits for `over`"
    assert text.count(reason) == 1
    assert f"A, B and all that is asked of every spec: {reason}" in text
    assert "closed bounds (`after: T`, `takes: at most T`) can be decided today" in text
    assert "-limit" not in text


def test_a_limit_is_answered_with_the_option_that_raises_it() -> None:
    text = " ".join(check_text(check(load(STRICT.replace("over 3 s", "3 s")), time_limit=1e-9)).split())
    assert text.count("the time limit of 1e-09 s was reached; more time (`--time-limit`)") == 1
    assert "--memory-limit" not in text and "closed bounds" not in text
