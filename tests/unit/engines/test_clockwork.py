"""Whole ticks: the common divisor, and which clocks of a still part run, are due, offer and are owed."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic import load
from prioritylogic.engines.clockwork import Clockwork, clockwork, durations, tick_of
from prioritylogic.engines.table import Table

TIMED = """
system: timed
inputs: {go: button, on: {values: signal, start: yes}}
machines:
  m:
    states: [a, b]
    start: a
    rules:
      - {id: late, from: a, after: 6 s, to: b}
      - {id: slow, from: a, if: on, takes: 2 s to 4 s}
      - {id: held, from: b, if: on for 2 s, to: a}
alerts:
  al: {raise: on, repeat: 8 s, silence: {by: pressed(go), for: 2 s}}
"""


@pytest.mark.parametrize(
    ("times", "tick"),
    [
        ([], Fraction(1)),
        ([Fraction(6), Fraction(4)], Fraction(2)),
        ([Fraction(1, 2), Fraction(1, 3)], Fraction(1, 6)),
        ([Fraction(3, 4), Fraction(9, 2)], Fraction(3, 4)),
    ],
)
def test_the_tick_is_the_greatest_common_divisor(times: list[Fraction], tick: Fraction) -> None:
    assert tick_of(times) == tick


def test_durations_are_those_that_the_system_measures() -> None:
    asked = "requirements:\n  - {id: R, after: go, expect: on for 5 s, within: 7 s}\n"
    assert set(durations(load(TIMED + asked))) == {2, 4, 6, 8}


def test_a_still_part_says_what_its_clocks_do() -> None:
    table = Table(load(TIMED))
    still = table.starts()[0].after
    parts, clocks = table.parts, table.parts.clocks
    work = clockwork(parts, still, Fraction(2))
    bits = {timer.kind: parts.bit(timer) for timer in parts.timers}
    assert work.settled
    assert set(work.due) == {
        (clocks.stay, 3, bits["stay"]),
        (clocks.timed, 1, bits["timed"]),
        (clocks.repeat, 4, bits["repeat"]),
    }  # the silence does not run
    assert work.offers == ((clocks.takes, 1, parts.offer_bit(0)),)
    assert work.owed == ((clocks.takes, 2),)
    assert dict(work.running) == {
        clocks.stay: None,
        clocks.takes: 2,
        clocks.timed: None,
        clocks.repeat: None,
    }


WORK = Clockwork(
    due=((0, 3, 1), (1, 1, 2)), offers=((2, 1, 4),), owed=((2, 2),),
    running=((0, None), (1, None), (2, 2)), settled=True,
)  # fmt: skip


@pytest.mark.parametrize(
    ("clocks", "ready", "blocked"),
    [
        ((0, 0, 0), 0, False),
        ((1, 0, 1), 4, False),  # offered, not owed
        ((1, 0, 2), 4, True),  # owed
        ((1, 1, 0), 2, True),  # due
        ((3, 1, 2), 7, True),
    ],
)
def test_time_stops_where_something_is_due_or_owed(
    clocks: tuple[int, ...], ready: int, blocked: bool
) -> None:
    assert (WORK.ready(clocks), WORK.blocked(clocks)) == (ready, blocked)


def test_no_time_passes_before_it_settles() -> None:
    assert WORK._replace(settled=False).blocked((0, 0, 0))


def test_one_tick_moves_what_runs_and_stops_where_nothing_changes_any_more() -> None:
    assert WORK.later((0, 0, 1)) == (1, 1, 2)
    assert WORK.later((0, 0, 2)) == (1, 1, 2)
    assert WORK._replace(running=()).later((5, 5, 5)) == (5, 5, 5)
