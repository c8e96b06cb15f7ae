"""Fischer's timed exclusion with its first figure left open: the published rows, exactly.

Source: Lamport 1987, "A fast mutual exclusion algorithm"; Lynch 1996, "Distributed Algorithms", 24.2; both
from memory. A process writes within `a` of its test and looks again after `b`: exclusion holds if and only
if a < b where both bounds are closed, and a <= b where one of them is strict. `test_fischer.py` has three
figures of each row, worked out by enumeration; here all figures from 0.5 s to 4 s are asked about at once.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic import Interval, find, load

SPEC = """
system: fischer
groups:
  process: [first, second]
settings:
  a: {value: 1 s, range: 0.5 s to 4 s}
memory:
  turn: {values: [free, first, second], start: free}
machines:
  p[i in process]:
    states: [rest, setting, pausing, checking, critical]
    start: rest
    rules:
      - {id: test, from: rest, if: turn is free, to: setting, may: yes}
      - {id: write, from: setting, takes: WRITE a, set: {turn: i}, to: pausing}
      - {id: wait, from: pausing, takes: WAIT 2 s, to: checking}
      - {id: enter, from: checking, if: turn is i, to: critical}
      - {id: retry, from: checking, if: turn is not i, to: rest}
      - {id: leave, from: critical, set: {turn: free}, to: rest, may: yes}
interleaved:
  - p
requirements:
  - id: EXCLUSION
    never: count(p[i] is critical over i in process) > 1
"""


@pytest.mark.parametrize(
    ("write", "wait", "at_two"),
    [
        ("at most", "at least", "fails"),
        ("under", "at least", "holds"),
        ("at most", "over", "holds"),
        ("under", "over", "holds"),
    ],
)
def test_exclusion_holds_exactly_below_the_other_figure(write: str, wait: str, at_two: str) -> None:
    system = load(SPEC.replace("WRITE", write).replace("WAIT", wait))
    (answer,) = find(system, "a").answers
    holds, fails = answer.parts
    closed = at_two == "holds"
    assert (holds.verdict, fails.verdict) == ("holds", "fails")
    assert holds.values == Interval(Fraction(1, 2), Fraction(2), True, closed)
    assert fails.values == Interval(Fraction(2), Fraction(4), not closed, True)
    (example,) = fails.examples  # the run at the boundary, or just beyond it
    assert example.end == 2 and fails.values.has(example.value)
    assert all("cvc5 proves the same" in ground.reason for ground in holds.grounds)
