"""Stories: what branches, what a wait includes, and what stops one."""

from __future__ import annotations

import pytest

from prioritylogic import check, load

SPEC = """
system: told
inputs: {go: button, stop: button, mode: [low, high], x: -100 % to 100 %}
machines:
  m:
    states: [a, b, c, d]
    start: a
    rules:
      - {id: open, from: a, if: pressed(go) and not pressed(stop), to: b}
      - {id: one, from: a, if: pressed(stop), to: c}
      - {id: two, from: a, if: pressed(stop), to: d}
      - {id: lock, from: b, after: 2 s, to: c}
  t:
    states: [t0, t1, t2]
    start: t0
    rules:
      - {id: owed, from: t0, if: go, takes: 1 s to 3 s, to: t1}
      - {id: maybe, from: t1, may: yes, to: t2}
  u:
    states: [u0, u1, u2]
    start: u0
    rules:
      - {id: up, from: u0, if: go, to: u1}
      - {id: more, from: u1, to: u2}
assume:
  - {id: A, never: go and stop and mode is high}
waive:
  - {id: rule-conflict:one+two, reason: a tie for the tests}
"""

STORIES = [
    ("press go", "m is b and t is t0", ""),
    ("press go, wait 1 s", "m is b", ""),
    ("press go, wait 2 s", "m is c", ""),  # the expiries at its end are included
    ("press go, wait 2 s", "t is t0", ""),  # what is optional waits to its upper end
    ("press go, wait 3 s", "t is t1", ""),
    ("press go, wait 1 s, take owed", "t is t1", ""),
    ("press go, take owed", "t is t1", "the rule is not available"),
    ("press go, wait 9 s", "t is not t2", ""),
    ("press go, wait 3 s, take maybe", "t is t2", ""),
    ("press stop", "m in (c, d)", ""),  # a tie branches, and every branch must end so
    ("press stop", "m is c", "is not true"),
    ("press go", "mode is low", "is not true"),  # an input that nothing sets branches
    ("set mode to high", "mode is high", ""),
    ("press go", "x < 50 %", "is not true"),  # an analog one by what the story compares
    ("press go, press stop", "mode is low", ""),  # a branch that an assumption excludes is no run
    ("set mode to high, press go, press stop", "m is a", "the assumptions forbid it"),
    ("together: [press go, press stop]", "m in (c, d)", ""),
    ("press go, check m is b, check u is u2", "m is b", ""),
    ("press go, check m is a", "m is b", "it is not true"),
]


@pytest.mark.parametrize(("steps", "end", "why"), STORIES)
def test_a_story_ends_as_told_or_says_why_not(steps: str, end: str, why: str) -> None:
    (answer,) = check(load(SPEC + f'stories:\n  - {{id: S, steps: [{steps}], end: "{end}"}}\n')).stories
    assert answer.verdict == ("fails" if why else "holds"), answer.reason
    assert why in answer.reason
    assert (answer.trace is not None) == bool(why)


def test_unsettled_stories_take_one_reaction_at_a_time() -> None:
    told = "stories:\n  - {id: S, unsettled: yes, steps: [press go], end: u is u1}\n"
    assert check(load(SPEC + told)).stories[0].verdict == "holds"
    assert check(load(SPEC + told.replace("unsettled: yes, ", ""))).stories[0].verdict == "fails"


def test_a_wait_in_an_unsettled_state_cannot_begin() -> None:
    told = "stories:\n  - {id: S, unsettled: yes, steps: [press go, wait 1 s], end: u is u1}\n"
    answer = check(load(SPEC + told)).stories[0]
    assert answer.verdict == "fails" and "no time can pass" in answer.reason


def test_what_never_settles_is_said() -> None:
    text = (
        "system: s\ninputs: {go: button}\nmachines:\n  m:\n    states: [a, b, c]\n    start: a\n"
        "    rules: [{id: r, from: a, if: go, to: b}, {id: s, from: b, to: c}, {id: t, from: c, to: b}]\n"
        "stories:\n  - {id: S, steps: [press go], end: m is b}\n"
    )
    answer = check(load(text)).stories[0]
    assert answer.verdict == "fails" and "it never settles" in answer.reason


def test_one_input_at_a_time_binds_stories_too() -> None:
    text = (
        "system: s\ninputs: {go: button, stop: button}\ninputs_change: one at a time\n"
        "machines:\n  m: {states: [a, b], start: a, rules: [{id: r, from: a, if: pressed(go), to: b}]}\n"
        "stories:\n  - {id: S, steps: [together: [press go, press stop]], end: m is b}\n"
    )
    answer = check(load(text)).stories[0]
    assert answer.verdict == "fails" and "one at a time" in answer.reason
