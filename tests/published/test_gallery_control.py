"""Lessons of the gallery about who has priority: a table of verdicts, column by column one edit apart.

Sources, as in the specs' heads: Machinery Directive 2006/42/EC, Annex I, 1.2.2, 1.2.4.3, 1.2.5, and
IEC 60204-1, 9.2 (emergency stop); ISO 13851, types I to III (two-hand control); ISO 10218-1, from memory
(enabling device). That the last comes or the first keeps: common practice, no source.
"""

from __future__ import annotations

import functools
import itertools
import re

import pytest
from lessons import edits
from places import GALLERY

import prioritylogic
from prioritylogic.evidence.results import CheckResult

COMMAND = ("first_keeps", "last_come", "drafts/last_come_tie")
STOP = ("emergency_stop", "emergency_stop_restarts")
HANDS = ("two_hand_1", "two_hand_2", "two_hand_3")
GRIP = ("enabling_device", "enabling_device_reopens")

# Requirements and stories, and for each lesson of the family whether it holds or fails.
VERDICTS = {
    COMMAND: {
        "FREE": "holds holds fails",
        "LAST-COME": "fails holds holds",
        "FIRST-KEEPS": "holds fails fails",
        "OLD-PRESS": "holds holds holds",
        "LAST-WINS": "fails holds holds",
        "FIRST-WINS": "holds fails fails",
        "TOGETHER": "holds holds fails",
    },
    STOP: {
        "CUT": "holds holds",
        "PERMITS": "holds holds",
        "NO-RESTART": "holds fails",
        "START-ONLY": "holds fails",
        "STOP-WINS": "holds fails",
        "MODE": "holds fails",
        "RESTART": "holds fails",
        "HELD": "holds fails",
    },
    HANDS: {
        "STOP": "holds holds holds",
        "TOGETHER": "holds holds holds",
        "BOTH-RELEASED": "fails holds holds",
        "IN-TIME": "fails fails holds",
        "TIED-DOWN": "fails holds holds",
        "SLOW": "fails fails holds",
        "QUICK": "holds holds holds",
        "AGAIN": "holds holds holds",
    },
    GRIP: {
        "MIDDLE": "holds holds",
        "RELEASE": "holds holds",
        "CLENCH": "holds holds",
        "RELEASED-FIRST": "holds fails",
        "HOLD-TO-RUN": "holds holds",
        "WORKS": "holds holds",
        "CRAMP": "holds fails",
    },
}
NEXT = [pair for family in VERDICTS for pair in itertools.pairwise(family)]
LESSONS = [(family, name) for family in VERDICTS for name in family]


@functools.cache
def checked(name: str) -> CheckResult:
    return prioritylogic.check(prioritylogic.load(GALLERY / f"{name}.yaml"))


@pytest.mark.parametrize(("one", "other"), NEXT)
def test_each_is_one_edit_from_the_next(one: str, other: str) -> None:
    assert edits(one, other) == 1


@pytest.mark.parametrize(("family", "name"), LESSONS, ids=[name for _, name in LESSONS])
def test_every_verdict_is_in_the_table(family: tuple[str, ...], name: str) -> None:
    column = family.index(name)
    result = checked(name)
    found = {(a.id, a.verdict) for a in (*result.requirements, *result.stories)}
    assert found == {(id, row.split()[column]) for id, row in VERDICTS[family].items()}


@pytest.mark.parametrize("name", [name for _, name in LESSONS if not name.startswith("drafts/")])
def test_nothing_else_is_found(name: str) -> None:
    result = checked(name)
    assert result.exit_code == 0
    assert [f.id for f in result.findings if not f.waived] == []


def test_the_same_presses_have_opposite_winners() -> None:
    last, first = checked("last_come"), checked("first_keeps")
    played = [[s.said for s in story.steps] for r in (last, first) for story in r.system.stories[:2]]
    assert all(steps == ["press take[fore]", "wait 5 s", "press take[aft]"] for steps in played)
    assert [a.verdict for a in last.stories[:2]] == ["holds", "fails"]
    assert [a.verdict for a in first.stories[:2]] == ["fails", "holds"]


def test_a_tie_that_nobody_settled_is_a_conflict() -> None:
    """Two presses in one instant, and each wins in one of two runs."""
    result = checked("drafts/last_come_tie")
    (conflict,) = (f for f in result.findings if f.kind == "rule-conflict")
    assert conflict.id == "rule-conflict:take_helm+take_helm" and conflict.level == "error"
    assert conflict.trace is not None and len(conflict.trace.run.moments) == 2
    assert result.exit_code == 1
    for name in ("last_come", "first_keeps"):
        (asked,) = (q for q in checked(name).questions if q.kind == "rule-conflict")
        assert asked.verdict == "holds"


def test_a_stricter_type_runs_only_where_the_others_do() -> None:
    """The three types side by side read one pair of buttons, and type I is no more than both of them."""
    text = (GALLERY / f"{HANDS[0]}.yaml").read_text(encoding="utf-8")
    machines = []
    for number, name in enumerate(HANDS, start=1):
        block = (GALLERY / f"{name}.yaml").read_text(encoding="utf-8")
        block = block.partition("machines:\n")[2].partition("requirements:\n")[0]
        machines.append(re.sub(r"\b(press|close|open|rearm)(?=[:,\n])", rf"\1_{number}", block))
    head = text.partition("machines:\n")[0].replace("press is running", "press_3 is running")
    asked = {
        "STRICTER-3": "press_3 is running implies press_2 is running",
        "STRICTER-2": "press_2 is running implies press_1 is running",
        "TYPE-1": "(press_1 is running implies both) and (both implies press_1 is running)",
    }
    rows = [f"  - {{id: {id}, text: x., always: {claim}}}\n" for id, claim in asked.items()]
    joint = "".join((head, "machines:\n", *machines, "requirements:\n", *rows))
    assert [a.verdict for a in prioritylogic.check(prioritylogic.load(joint)).requirements] == [
        "holds"
    ] * 3
