"""What the random systems found, shrunk: each spec here once made `check` crash or disagree."""

from __future__ import annotations

import pytest

import prioritylogic

FOUND = {
    "judged on a cone that has lost what another requirement's timer reads": """
system: lost
inputs: {b: button}
machines:
  m: {states: [a0, a1], start: a0, rules: [{id: m0, from: a0}]}
alerts:
  al: {raise: b}
requirements:
  - {id: R3, after: taken(m0), at_once: m is a1, during: (not al.raised) for 1 s}
  - {id: R4, after: before(b), keep: m is a0, for: 2 s}
""",
    "judged at the changes of another requirement's timer": """
system: others
inputs: {b: button, c: button}
machines:
  m: {states: [a0, a1], start: a0}
requirements:
  - {id: R1, after: not c, expect: not b, within: 1 s, during: before(c)}
  - {id: R5, after: (b) for 1 s, keep: m is not a1, for: 3 s}
""",
    "a timed condition inside another one, in a story": """
system: nested
inputs: {b: button}
machines:
  m: {states: [a0, a1], start: a0}
stories:
  - {id: S1, steps: [press b, wait 3 s], end: ((b) for 1 s) for 1 s}
  - {id: S2, steps: [press b, wait 1500 ms], end: ((b) for 1 s) for 1 s, expected: fails, reason: too soon}
""",
    "cones joined of which one has one member of an assumption": """
system: joined
groups: {side: [left, right]}
inputs:
  b[side]: button
  s[side]: signal
  x: signal
  y: signal
machines:
  m: {states: [a0, a1], start: a0, rules: [{id: r, from: a0, if: "pressed(b[right])", to: a1}]}
assume:
  - {id: A, each: c in side, never: "b[c] and s[c]"}
requirements:
  - {id: R1, never: "b[left] and s[left] and x"}
  - {id: R2, never: "b[left] and s[left] and y"}
""",
}
VERDICTS = {
    "lost": {"R3": "fails", "R4": "holds"},
    "others": {"R1": "fails", "R5": "holds"},
    "nested": {"S1": "holds", "S2": "fails"},
    "joined": {"R1": "holds", "R2": "holds"},
}


@pytest.mark.parametrize("name", FOUND)
def test_is_decided(name: str) -> None:
    result = prioritylogic.check(prioritylogic.load(FOUND[name]))
    said = {answer.id: answer.verdict for answer in (*result.requirements, *result.stories)}
    assert said == VERDICTS[result.system.name]


@pytest.mark.parametrize("takes", ["under 2 s", "over 1 s to 2 s", "over 3 s"])
def test_counting_reads_strict_bounds(takes: str) -> None:
    """They are read on region clocks; this was a traceback."""
    system = prioritylogic.load(f"""
system: strict
inputs: {{b: button}}
machines:
  m: {{states: [a0, a1], start: a0, rules: [{{id: m0, from: a0, takes: {takes}, to: a1}}]}}
""")
    assert prioritylogic.explore(system).counts.states == 2


def test_counting_declines_what_it_cannot_read() -> None:
    system = prioritylogic.load("""
system: stored
inputs: {b: button}
memory: {level: {values: 0 % to 100 %, start: 0 %}}
""")
    with pytest.raises(prioritylogic.PriorityLogicError, match="memory with analog values"):
        prioritylogic.explore(system)
