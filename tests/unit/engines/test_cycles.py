"""Runs without an end: which count, what breaks a requirement, and what a lasso shows."""

from __future__ import annotations

import pytest

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.cycles import Search, asked_of
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.evidence.results import Answer

BRIDGE = """
system: bridge
about: A call to a bridge, which is answered by somebody.
inputs:
  call: button
  cancel: button
machines:
  helm:
    states: [free, asked, given]
    start: free
    rules:
      - id: ask
        from: free
        if: pressed(call)
        to: asked
      - id: answer
        from: asked
        RULE
        to: given
      - id: drop
        from: asked
        if: pressed(cancel)
        to: free
      - id: again
        from: asked
        if: pressed(call)
        to: asked
        beats: [drop]
      - id: end
        from: given
        after: 2 s
        to: free
assume:
  - id: CALLS
    again_and_again: pressed(call)
  - id: SHORT
    after: pressed(call)
    expect: released(call)
    within: 1 s
  - id: NEVER-BOTH
    after: pressed(call)
    expect: pressed(cancel) and not pressed(cancel)
requirements:
  - id: R
    REQUIREMENT
"""


def answer(rule: str, *lines: str, limits: Limits | None = None) -> Answer:
    """What is said of a requirement about the bridge, where `answer` is such a rule."""
    requirement = "\n    ".join(lines)
    text = BRIDGE.replace("RULE", "\n        ".join(rule.split("; "))).replace(
        "REQUIREMENT", requirement
    )
    options = Options(engines=("explorer",))
    result = check(prioritylogic.load(text), (), limits, options)
    return result.requirements[0]


UNLESS = "unless: pressed(cancel) or pressed(call)"
ASKED = ("after: helm is asked", "expect: helm is given")
KEPT = (*ASKED, UNLESS)


@pytest.mark.parametrize(
    ("rule", "lines", "verdict"),
    [
        ("may: yes", KEPT, "fails"),
        ("may: yes; fair: yes", KEPT, "holds"),
        ("may: yes; fair: yes; if: cancel", KEPT, "fails"),
        ("takes: some day", KEPT, "holds"),
        ("takes: at least 1 s", KEPT, "holds"),
        ("takes: at least 1 s; may: yes", KEPT, "fails"),
        ("takes: over 1 s", KEPT, "holds"),
        ("takes: at least 1 s; fair: yes", KEPT, "holds"),
        ("takes: at most 1 s", KEPT, "holds"),
        ("takes: some day", ASKED, "fails"),  # it is dropped
        ("takes: some day", (*ASKED, "unless: pressed(cancel)"), "fails"),  # its delay starts over
        ("may: yes; fair: yes", (*ASKED, "unless: pressed(cancel)"), "holds"),
        ("takes: some day", ("after: helm is given", "expect: helm is free"), "holds"),
        ("takes: some day", ("after: helm is given", "expect: helm is asked"), "fails"),
        (
            "takes: some day",
            ("after: helm is given", "expect: helm is asked", "assuming: [CALLS]"),
            "holds",
        ),
        (
            "takes: at least 1 s",
            ("after: helm is given", "expect: helm is asked or pressed(call)", "assuming: [CALLS]"),
            "holds",
        ),
    ],
)
def test_which_runs_count(rule: str, lines: tuple[str, ...], verdict: str) -> None:
    found = answer(rule, *lines)
    assert (found.verdict, found.engine) == (verdict, "cycles"), found.reason
    assert (found.trace is not None) == (verdict == "fails")


def test_a_run_in_which_nothing_happens_any_more() -> None:
    found = answer("may: yes", *KEPT)
    assert found.trace is not None and found.trace.marked == 1
    assert found.trace.note == "no answer ever comes"
    assert found.trace.loop == len(found.trace.run.moments) == 2


def test_a_run_that_repeats() -> None:
    found = answer("takes: some day", *ASKED, "unless: pressed(cancel)")
    assert found.trace is not None and found.trace.loop is not None
    run, loop = found.trace.run, found.trace.loop
    assert loop < len(run.moments) and run.end > run.moments[loop].time
    assert {rule for moment in run.moments[loop:] for rule in moment.taken} == {"again"}


@pytest.mark.parametrize(
    ("lines", "verdict"),
    [
        (("never: helm is asked and not call",), "fails"),
        (("never: helm is asked and not call", "assuming: [NEVER-BOTH]"), "holds"),
        (("possible: helm is given", "assuming: [CALLS]"), "holds"),
        (("possible: helm is given", "assuming: [CALLS, NEVER-BOTH]"), "fails"),
        (("possible: call", "assuming: [NEVER-BOTH]"), "fails"),
        (("while: call", "expect: released(call)", "every: 1 s"), "fails"),
        (("while: call", "expect: not call", "every: 1 s", "assuming: [SHORT]"), "holds"),
        (("while: call", "expect: not call", "every: 500 ms", "assuming: [SHORT]"), "fails"),
        (("recoverable: helm is given", "assuming: [CALLS]"), "holds"),
        (("recoverable: helm is asked", "assuming: [NEVER-BOTH]"), "fails"),
    ],
)
def test_every_form_under_assumptions(lines: tuple[str, ...], verdict: str) -> None:
    found = answer("takes: some day", *lines)
    assert found.verdict == verdict, found.reason


def test_a_run_that_breaks_it_goes_on_for_ever_and_keeps_the_assumption() -> None:
    found = answer("takes: some day", "never: helm is given", "assuming: [CALLS]")
    assert found.verdict == "fails" and found.trace is not None
    run, loop = found.trace.run, found.trace.loop
    assert loop is not None and loop < len(run.moments)
    assert found.trace.marked is not None and found.trace.marked < len(run.moments) - 1


def test_what_waiting_breaks_in_the_middle_of_a_run() -> None:
    lines = ("after: helm is asked", "expect: helm is given", "within: 3 s", "assuming: [CALLS]")
    found = answer("takes: at least 1 s", *lines)
    assert found.trace is not None and found.trace.marked is None
    assert found.trace.at is not None and found.trace.at < found.trace.run.end


def test_slack_is_not_asked_of_what_leans_on_such_assumptions() -> None:
    lines = ("while: call", "expect: not call", "every: 1 s", "assuming: [SHORT]")
    text = BRIDGE.replace("RULE", "may: yes").replace("REQUIREMENT", "\n    ".join(lines))
    result = check(prioritylogic.load(text), (), None, Options(slack=True))
    assert result.requirements[0].verdict == "holds" and result.requirements[0].slack is None


def test_no_run_counts() -> None:
    found = answer("takes: some day", "never: helm is given", "assuming: [CALLS, NEVER-BOTH]")
    assert found.verdict == "holds" and "there is no such run at all" in found.reason


@pytest.mark.parametrize(("limits", "kind"), [(Limits(seconds=0), "time"), (Limits(memory=1), "memory")])
def test_a_limit_leaves_it_open(limits: Limits, kind: str) -> None:
    found = answer("takes: some day", *KEPT, limits=limits)
    assert found.verdict == "undecided" and f"the {kind} limit of" in found.reason


@pytest.mark.parametrize(
    ("lines", "verdict"),
    [
        (("after: (helm is asked) for 2 s", "expect: helm is given"), "fails"),
        (("after: (helm is asked) for 2 s", "expect: helm is given", UNLESS), "holds"),
        (("after: (helm is given) for 2 s", "expect: helm is free"), "holds"),
        (("after: (helm is given) for 3 s", "expect: helm is free and helm is asked"), "holds"),
        (("after: (helm is free) for 3 s", "expect: helm is given"), "fails"),
        (("after: helm is asked", "expect: (helm is given) for 2 s", UNLESS), "fails"),
        (("after: helm is asked", "expect: (helm is given) for 1 s", UNLESS), "holds"),
        (("never: call for 2 s", "assuming: [SHORT]"), "holds"),
        (("never: call for 1 s", "assuming: [SHORT]"), "holds"),
        (("never: call for 500 ms", "assuming: [SHORT]"), "fails"),
        (("possible: call for 1500 ms", "assuming: [SHORT]"), "fails"),
    ],
)
def test_timed_conditions_of_its_own(lines: tuple[str, ...], verdict: str) -> None:
    found = answer("takes: some day", *lines)
    assert found.verdict == verdict, found.reason


def test_recoverable_declines_a_timed_condition_of_its_own_by_name() -> None:
    found = answer("takes: some day", "recoverable: call for 2 s", "assuming: [CALLS]")
    assert found.verdict == "undecided" and "its condition is timed" in found.reason


def test_it_needs_exploring() -> None:
    text = BRIDGE.replace("RULE", "may: yes").replace("REQUIREMENT", "\n    ".join(ASKED))
    options = Options(engines=("reachability",))
    result = check(prioritylogic.load(text), (), Limits(), options)
    assert result.requirements[0].verdict == "undecided"


@pytest.mark.parametrize(
    ("rule", "dense"),
    [
        ("takes: some day; fair: yes", False),
        ("takes: at least 1 s; fair: yes", True),
        ("takes: over 1 s", True),
    ],
)
def test_which_clock_is_exact(rule: str, dense: bool) -> None:
    text = BRIDGE.replace("RULE", "\n        ".join(rule.split("; ")))
    system = prioritylogic.load(text.replace("REQUIREMENT", "\n    ".join(ASKED)))
    asked = asked_of(system, system.requirements[0])
    assert Search(system, asked, Limits(), Options()).dense == dense
