"""Settings with a range, and the spec with another value for one."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic import RequestError, SpecError, load
from prioritylogic.model.intervals import Interval
from prioritylogic.model.ranged import ranged

TEXT = """
system: varied
groups: {side: [left, right]}
settings:
  hold: {value: 1 min, range: 30 s to 120 s}
  wait[c in side]: {value: 3 s, range: 1 s to 9 s}
  pair[c in side, d in side]: {value: 3 s, range: 1 s to 9 s}
  most: {value: 2, range: whole 0 to 3}
  gain: {value: 2, range: 1 to 3}
  band: {value: 5 %, range: 1 % to 10 %}
  fixed: 4 s
  double: 2 * hold
inputs:
  go: button
  x: 0 % to 100 %
machines:
  m[c in side]:
    states: [a, b, c0]
    start: a
    rules:
      - {id: move, from: a, after: "wait[c]", to: b}
      - {id: back, from: b, after: double, to: a}
      - {id: stop, from: b, if: x > band, to: c0}
requirements:
  - {id: R, after: "m[left] is b", expect: "m[left] is a", within: double}
stories:
  - {id: S, text: none, steps: [wait 1 s], end: "m[left] is a"}
"""
SYSTEM = load(TEXT)


def test_what_is_known_of_a_setting() -> None:
    hold = ranged(SYSTEM, "hold")
    assert (hold.value, hold.range) == (Fraction(60), Interval(Fraction(30), Fraction(120)))
    assert (hold.unit, hold.factor, hold.is_time, hold.whole) == ("min", Fraction(60), True, False)
    assert ranged(SYSTEM, "most").whole
    band = ranged(SYSTEM, "band")
    assert (band.unit, band.range.high, band.is_time) == ("%", Fraction(1, 10), False)
    assert band.grain == Fraction(1, 1000) * Fraction(1, 10)
    assert ranged(SYSTEM, "gain").unit == "" and ranged(SYSTEM, "gain").grain == Fraction(1, 100)


def test_the_spec_with_another_value() -> None:
    other = ranged(SYSTEM, "hold").build(Fraction(45))
    assert other.rule("back[left]").delay.time == 90  # type: ignore[union-attr]
    assert other.stories == ()
    same = ranged(SYSTEM, "hold").build(Fraction(60))
    assert same.machines == SYSTEM.machines and same.requirements == SYSTEM.requirements


def test_one_member_alone() -> None:
    other = ranged(SYSTEM, "wait[left]").build(Fraction(5))
    times = [other.rule(f"move[{c}]").delay.time for c in ("left", "right")]  # type: ignore[union-attr]
    assert times == [5, 3]


def test_a_spec_may_be_refused_with_a_value() -> None:
    text = TEXT.replace("after: double", "takes: hold to 90 s")
    with pytest.raises(SpecError, match="no time at which"):
        ranged(load(text), "hold").build(Fraction(100))


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("hodl", "did you mean 'hold'"),
        ("q", "those with a range are hold, wait.left., wait.right., "),
        ("wait", "has an index; name one of wait.left., wait.right."),
        ("wait[middle]", "did you mean"),
        ("fixed", "has no range .* Write `fixed: {value: ..., range: ... to ...}`"),
        ("pair[left, right]", "several indices"),
    ],
)
def test_names_that_will_not_do(name: str, said: str) -> None:
    with pytest.raises(RequestError, match=said):
        ranged(SYSTEM, name)


def test_no_setting_has_a_range() -> None:
    with pytest.raises(RequestError, match="no setting has a range"):
        ranged(load("system: x\nsettings: {a: 3 s}\n"), "b")
