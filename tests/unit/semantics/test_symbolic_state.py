"""The state as variables: names, what is stored, and what is refused. (What the steps mean is held against
the reference in tests/agreement/test_symbolic.py.)"""

from __future__ import annotations

import pytest

import prioritylogic
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.symbolic import Symbolic
from prioritylogic.semantics.terms import Terms, variables

EVERYTHING = """
system: everything
inputs: {b: button, mode: {values: [p, q, r], start: p}, level: 0 % to 100 %, n: whole 0 to 3}
memory: {f: {values: yes_no, start: no}, k: {values: whole 0 to 2, start: 0}}
machines:
  one: {states: [only], start: only}
  m:
    states: [a0, a1]
    start: a0
    rules:
      - {id: m0, from: a0, after: 2 s, to: a1}
      - {id: m1, from: a1, after: 1 s, if: b, to: a0}
      - {id: m2, from: a1, takes: 1 s to 2 s, to: a0}
      - {id: m3, from: a0, since: m2, takes: at most 3 s, set: {k: "min(k + 1, 2)", f: (b) for 1 s}}
alerts: {al: {raise: m is a1, repeat: 1 s, silence: {by: pressed(b), for: 4 s}}}
"""


def symbolic(text: str) -> Symbolic:
    return Symbolic(prioritylogic.load(text), Terms())


def test_what_is_stored() -> None:
    """Two names are one bit, one name none; `takes` without `since` needs no bit."""
    assert list(symbolic(EVERYTHING).variables) == [
        "b", "mode is p", "mode is q", "mode is r", "level", "n", "f", "k",
        "m is a0", "m.time", "m.over1", "m.over2",
        "al.raised", "al.cleared", "al.since", "al.silenced", "al.silence",
        "timer0.time", "timer0.done", "m2.clock", "m3.clock", "m3.counting",
    ]  # fmt: skip


def test_a_reaction_gives_every_variable_its_value() -> None:
    made = symbolic(EVERYTHING)
    first, other = made.first(), made.reaction(made.state)
    assert set(first.after) == set(other.after) == set(made.variables)
    assert not set(variables(*first.after.values())) & set(made.variables)
    for reaction in (first, other):
        known = {*made.variables, *reaction.choices}
        everything = [*reaction.after.values(), *reaction.allowed, *reaction.in_range]
        assert set(variables(*everything)) <= known


def test_no_two_things_share_a_variable() -> None:
    made = symbolic("""
system: same
inputs: {timer0: button, b: button}
machines:
  m:
    states: [a0, a1]
    start: a0
    rules:
      - {id: m, from: a0, if: (b) for 1 s, takes: 1 s to 2 s, to: a1}
      - {id: al, from: a1, after: 1 s, to: a0}
      - {id: timer1, from: a1, since: m, takes: at most 1 s, to: a0}
alerts: {al: {raise: b, repeat: 1 s}}
""")
    names = list(made.variables)
    assert {"m.time", "m.clock", "timer0", "timer0_.time", "timer1.clock", "al.since"} <= set(names)


def test_a_choice_between_rules_without_effect_is_not_guessed() -> None:
    with pytest.raises(Declined, match="m0"):
        symbolic("""
system: idle
inputs: {b: button}
memory: {f: {values: yes_no, start: no}}
machines:
  m:
    states: [a0]
    start: a0
    tie: either
    rules: [{id: m0, from: a0, if: b, set: {f: f}}, {id: m1, from: a0, if: b, set: {f: f}}]
  n: {states: [z0, z1], start: z0, rules: [{id: n0, from: z0, if: taken(m0), to: z1}]}
""")
