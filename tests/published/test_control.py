"""Published control logic: a drive's states, the bridge watch alarm.

Sources: CiA 402 / IEC 61800-7-201; IMO MSC.128(75). They stand in the specs' first lines.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from places import file_of
from textbook import Configuration, reach

import prioritylogic
from prioritylogic.semantics.clocks import NEVER
from prioritylogic.semantics.reference import Reference

# CiA 402: the patterns of bits 3, 2, 1, 0 (x: any), and the transitions that each command makes.
PATTERNS = {
    "shutdown": "x110",
    "switch on": "0111",
    "disable operation": "0111",
    "enable operation": "1111",
    "disable voltage": "xx0x",
    "quick stop": "x01x",
}
TRANSITIONS = {
    "shutdown": {2, 6, 8},
    "switch on": {3},
    "disable voltage": {7, 9, 10, 12},
    "quick stop": {7, 10, 11},
    "disable operation": {5},
    "enable operation": {4, 16},
}
VALUES = list(itertools.product((False, True), repeat=4))  # bits 3, 2, 1, 0


def meant(value: tuple[bool, ...]) -> set[str]:
    """The commands whose pattern a value fits."""
    return {
        command
        for command, pattern in PATTERNS.items()
        if all(p == "x" or (p == "1") == bit for p, bit in zip(pattern, value, strict=True))
    }


@pytest.mark.parametrize("name", ["drive_states", "watch_alarm"])
def test_all_is_as_published(name: str) -> None:
    result = prioritylogic.check(prioritylogic.load(file_of(name)))
    assert [a.id for a in (*result.requirements, *result.stories) if a.verdict != "holds"] == []
    assert result.exit_code == 0


def test_the_commands_of_a_drive_cover_every_value_and_only_two_share_one() -> None:
    assert [value for value in VALUES if not meant(value)] == []
    shared = {value: meant(value) for value in VALUES if len(meant(value)) > 1}
    assert shared == {(False, True, True, True): {"switch on", "disable operation"}}


def test_each_command_makes_its_published_transitions() -> None:
    """In every state and under every value of the four bits, against patterns and transition table."""
    system = prioritylogic.load(file_of("drive_states"))
    reference = Reference(system)
    assert [i.name for i in system.inputs] == ["bit_0", "bit_1", "bit_2", "bit_3", "reset", "broken"]
    (start,) = reference.starts((False,) * 6)
    for value, state in itertools.product(VALUES, system.machine("drive").states):
        inputs = (*reversed(value), False, False)
        here = replace(start.after, values=(*inputs, state))
        (moment,) = reference.reactions(here, inputs, frozenset())
        numbers = {int(rule[1:]) for rule in moment.taken} - {1, 14}  # these two need no command
        allowed = set().union(*(TRANSITIONS[command] for command in meant(value)))
        assert numbers <= allowed


def test_from_fault_to_operation_takes_four_transitions() -> None:
    """Fault reset, shutdown, switch on, enable operation: 15, 2, 3, 4."""
    rules = prioritylogic.load(file_of("drive_states")).machine("drive").rules
    assert {rule.id for rule in rules} == {f"t{n}" for n in range(1, 17)}

    def steps(now: Configuration) -> Iterator[Configuration]:
        yield from ((rule.target,) for rule in rules if now[0] in rule.sources)

    assert reach(steps, ("fault",))["enabled",] == 4
    assert len(reach(steps, ("not_ready",))) == 8


@pytest.mark.parametrize("minutes", [3, 12])
def test_the_watch_alarm_calls_at_its_published_instants(minutes: int) -> None:
    """MSC.128(75): Td, then 15 s, 30 s and 120 s after it; a reset that stays pressed is none [memory]."""
    text = (
        file_of("watch_alarm")
        .read_text(encoding="utf-8")
        .replace("value: 3 min", f"value: {minutes} min")
    )
    reference = Reference(prioritylogic.load(text))
    (moment,) = reference.starts((True,))
    now, called = Fraction(0), {}
    while (due := reference.until_due(moment.after)) < NEVER:
        now += due
        state = reference.passed(moment.after, due)
        (moment,) = reference.reactions(state, (True,), reference.due(state))
        called[moment.after.values[-1]] = now - 60 * minutes
    assert called == {"visual": 0, "audible": 15, "remote": 30, "third": 120}


def test_the_watch_alarm_is_right_for_every_dormant_time() -> None:
    """MSC.128(75): from 3 to 12 min, all values at once."""
    found = prioritylogic.find(prioritylogic.load(file_of("watch_alarm")), "dormant_time")
    whole = prioritylogic.Interval(Fraction(180), Fraction(720), True, True)
    parts = [part for answer in found.answers for part in answer.parts]
    assert len(parts) == 7 and {(part.verdict, part.values) for part in parts} == {("holds", whole)}
