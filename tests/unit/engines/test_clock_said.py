"""An exploration says which clock it went by, and why."""

from __future__ import annotations

import prioritylogic

SPEC = """
system: watch
inputs:
  b: button
machines:
  m:
    states: [up, down]
    start: up
    rules:
      - {id: fall, from: up, takes: BOUND, to: down}
      - {id: rise, from: down, if: pressed(b), to: up}
requirements:
  - {id: BACK, recoverable: m is up}
  - {id: DUE, after: m is up, expect: m is down, within: 3 s}
  - {id: OWN, after: pressed(b), keep: m is up, until: b for 1 s}
"""


def reasons(bound: str) -> dict[str, str]:
    system = prioritylogic.load(SPEC.replace("BOUND", bound))
    return {answer.id: answer.reason for answer in prioritylogic.check(system).requirements}


def test_a_strict_bound_is_named() -> None:
    assert "on region clocks since fall has a strict bound" in reasons("under 2 s")["DUE"]


def test_a_timed_condition_of_the_requirement_is_named() -> None:
    system = prioritylogic.load(SPEC.replace("BOUND", "some day"))
    (answer,) = prioritylogic.check(system, ["OWN"]).requirements
    assert answer.verdict == "fails"
    spec = SPEC.replace("BOUND", "some day").replace("keep: m is up", "keep: m is up or m is down")
    (answer,) = prioritylogic.check(prioritylogic.load(spec), ["OWN"]).requirements
    assert "since a timed condition that only this requirement reads is more" in answer.reason


def test_whole_ticks_are_the_usual_and_go_without_saying() -> None:
    said = reasons("at most 2 s")
    assert "clocks" not in said["DUE"]
    assert "on region clocks, as `recoverable` needs" in said["BACK"]
