"""What the hunt for wrong answers of the Z3 engines found, shrunk: each spec here once gave a crash, a wrong
verdict, or a run that was none. The reactions of the shortest run stand beside each requirement (None: it
holds)."""

from __future__ import annotations

import pytest
from proving import WORK, replay_difference, transition_of

import prioritylogic
from prioritylogic.engines import reach
from prioritylogic.engines.bounded import Unrolled
from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError

FOUND: dict[str, tuple[str, dict[str, int | None]]] = {
    "a run must have memory that its search left out": (
        """
system: unread
inputs: {b: button, w: {values: [p, q, r], start: p}}
memory: {f: {values: yes_no, start: no}, l: {values: [p, q, r], start: p}}
machines:
  m: {states: [a0, a1], start: a0, rules: [{id: m0, from: a0, if: pressed(b), set: {f: not f, l: w}}]}
  n: {states: [z0, z1], start: z0, rules: [{id: n0, from: z0, may: yes, to: z1}]}
requirements:
  - {id: R1, never: b}
  - {id: R2, never: l is q and w is r}
""",
        {"R1": 1, "R2": 2},
    ),
    "a tautology's invariant was a formula with binders": (
        """
system: tautology
inputs: {b: button}
machines: {m: {states: [a0, a1], start: a0, rules: [{id: m0, from: a0, if: b, takes: at most 1 s, to: a1}]}}
requirements:
  - {id: R1, after: b, keep: m is a0 or m is not a0, for: 1 s}
  - {id: R2, never: m is a0 and m is a1}
""",
        {"R1": None, "R2": None},
    ),
    "an input named as the requirement's own state was": (
        """
system: asked
inputs: {asked: button, b: button}
machines: {m: {states: [a0], start: a0}}
requirements:
  - {id: R1, never: released(asked)}
  - {id: R2, after: b, expect: asked, within: 1 s}
""",
        {"R1": 2, "R2": 1},
    ),
    "a rule named as its machine was shared its clock": (
        """
system: shared
inputs: {b: button, c: button}
machines:
  m:
    states: [a0, a1]
    start: a0
    rules:
      - {id: m, from: a0, if: b, takes: at least 2 s, to: a1}
      - {id: k, from: a0, if: pressed(c), to: a0}
      - {id: j, from: a1, after: 3 s, to: a0}
requirements:
  - {id: R1, after: m is a1, expect: m is a0, within: 3 s}
  - {id: R2, after: m is a1, expect: m is a0, within: 2 s}
""",
        {"R1": None, "R2": 2},
    ),
    "a rule named as a timer, beside timers and alerts": (
        """
system: rules
inputs: {b: button, timer0: button}
machines:
  m: {states: [a0, a1], start: a0, rules: [{id: timer0, from: a0, if: (b) for 1 s, takes: 1 s to 2 s, to: a1}]}
alerts: {al: {raise: b, repeat: 1 s}}
requirements:
  - {id: R1, after: b, keep: m is a0, for: 2 s, unless: not b}
  - {id: R2, after: b, expect: m is a1, within: 3 s, unless: not b}
  - {id: R3, never: m is a1 and timer0}
""",
        {"R1": 5, "R2": None, "R3": 3},
    ),
}


@pytest.mark.parametrize("name", FOUND)
def test_is_answered(name: str) -> None:
    text, lengths = FOUND[name]
    system = prioritylogic.load(text)
    said: dict[str, int | None] = {}
    for requirement in system.requirements:
        transition = transition_of(system, requirement)
        holds = reach.invariant(transition, WORK, Limits()) is not None
        found = Unrolled(transition, WORK, Limits()).first(6)
        assert holds == (found is None), requirement.id
        if found is not None:
            assert not replay_difference(system, requirement, found)
        said[requirement.id] = None if found is None else len(found.steps) - 1
    assert said == lengths


def test_an_irrational_figure_is_not_rounded() -> None:
    """There is such a run, but none that can be written down and replayed: so it stays undecided."""
    system = prioritylogic.load("""
system: square
inputs: {x: 0 % to 100 %}
machines: {m: {states: [a0], start: a0}}
requirements: [{id: R1, never: x * x = 50 %}]
""")
    with pytest.raises(LimitError, match="quotient of whole numbers"):
        Unrolled(transition_of(system, system.requirements[0]), WORK, Limits()).first(2)
