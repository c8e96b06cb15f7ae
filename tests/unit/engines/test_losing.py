"""Events that are lost, rules that are never taken, states that are never reached: told, placed, waivable."""

from __future__ import annotations

import pytest

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.evidence.results import FoundIssue

HELD = """
system: held
inputs:
  take: button
  stop: button
machines:
  m:
    states: [free, held, locked]
    start: free
    rules:
      - {id: grab, from: free, if: pressed(take), to: held}
      - {id: lock, from: held, after: 2 s, to: locked, beats: drop}
      - {id: drop, from: held, if: pressed(stop), to: free}
      - {id: open, from: locked, if: pressed(take), to: free}
requirements:
  - {id: R, possible: m is locked}
"""
LOST = "lost-event:drop:stop"
KINDS = ("lost-event", "rule-never-taken", "state-never-reached")


def found(text: str, engines: tuple[str, ...] = Options().engines) -> dict[str, FoundIssue]:
    result = check(prioritylogic.load(text), options=Options(engines=engines))
    assert {q.verdict for q in result.questions if q.kind in KINDS} <= {"holds", "fails"}
    return {issue.id: issue for issue in result.findings if issue.kind in KINDS}


@pytest.mark.parametrize("engines", [("explorer",), ("reachability", "bounded search")])
def test_a_press_at_the_instant_of_an_expiry_can_be_lost(engines: tuple[str, ...]) -> None:
    (issue,) = found(HELD, engines).values()
    assert (issue.id, issue.level, issue.span.line) == (LOST, "warning", 13)
    assert "a press of stop can be lost" in issue.message and "lock is taken" in issue.message
    assert issue.trace is not None and issue.trace.run.moments[-1].taken == {"lock"}


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("beats: drop", "if: not pressed(stop)", "the expiry waits, and is stored"),
        ("after: 2 s", "if: pressed(stop)", "the rule that wins answers the press"),
        ("if: pressed(stop), to: free", "if: stop, to: free", "a button that is held is seen later"),
        ("if: pressed(stop)", "if: pressed(stop) within last 1 s", "the press is remembered"),
        (
            "if: pressed(stop), to",
            "if: pressed(stop), may: yes, to",
            "whether it is offered is a choice",
        ),
        ("if: pressed(stop), to", "if: not pressed(stop), to", "no press makes it true"),
    ],
)
def test_nothing_is_lost(old: str, new: str, why: str) -> None:
    assert old in HELD
    assert LOST not in found(HELD.replace(old, new)), why


def test_a_release_and_a_change_are_lost_alike() -> None:
    for event, said in [("released(stop)", "a release of stop"), ("changed(stop)", "a change of stop")]:
        assert said in found(HELD.replace("pressed(stop)", event))[LOST].message


def test_what_an_interleaved_machine_does_meanwhile_loses_a_press() -> None:
    text = HELD.replace("requirements:", OTHER + "requirements:").replace("beats: drop", "if: take")
    assert "lost-event:grab:take" in found(text)


OTHER = """  n:
    states: [up, down]
    start: up
    rules:
      - {id: fall, from: up, if: stop, to: down}
      - {id: rise, from: down, if: not stop, to: up}
interleaved: [m, n]
"""


def test_a_waiver_accepts_it() -> None:
    waived = f"{HELD}waive:\n  - {{id: '{LOST}', reason: the operator presses again}}\n"
    assert found(waived)[LOST].waived == "the operator presses again"


FAMILY = """
system: families
groups: {side: [left, right]}
inputs:
  b[side]: button
machines:
  m:
    states:
      - idle
      - busy[side]
      - gone[side]
    start: idle
    rules:
      - id: begin
        each: s in side
        from: idle
        if: b[s] and not b[other(s)] and s is left
        to: busy[s]
      - id: done
        each: s in side
        from: busy[s]
        if: not b[s]
        to: idle
      - id: leave
        each: s in side
        from: gone[s]
        to: idle
"""


@pytest.mark.parametrize("engines", [("explorer",), ("reachability", "bounded search")])
def test_whole_families_are_told_once_and_others_by_member(engines: tuple[str, ...]) -> None:
    told = found(FAMILY, engines)
    assert set(told) == {
        "rule-never-taken:begin[right]",
        "rule-never-taken:done[right]",
        "rule-never-taken:leave",
        "state-never-reached:m.busy[right]",
        "state-never-reached:m.gone",
    }
    assert told["state-never-reached:m.gone"].span.line == 11
    assert told["rule-never-taken:done[right]"].message.endswith("m is never busy[right]")
    assert "its condition is false" in told["rule-never-taken:begin[right]"].message


def test_nothing_is_missing_from_a_part() -> None:
    result = check(prioritylogic.load(HELD), limits=Limits(seconds=1e-9))
    assert not [issue for issue in result.findings if issue.kind in KINDS]
    assert {q.verdict for q in result.questions if q.kind in KINDS} == {"undecided"}


@pytest.mark.parametrize("engines", [("explorer",), ("reachability", "bounded search")])
def test_what_begins_with_two_buttons_is_lost_with_either(engines: tuple[str, ...]) -> None:
    text = HELD.replace("pressed(stop)", "begins(take and stop)")
    issue = found(text, engines)[LOST]
    assert "a press of stop can be lost" in issue.message


def test_what_only_was_is_not_waited_for() -> None:
    assert LOST not in found(HELD.replace("pressed(stop)", "take and not before(stop)"))


def test_each_of_two_events_of_one_button_is_told() -> None:
    either = "(pressed(stop) and take) or ends(stop and take)"
    assert LOST in found(HELD.replace("pressed(stop)", either))
