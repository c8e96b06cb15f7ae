"""Formulas said in words. Each line is a guard as an author writes it, and what comes back."""

from __future__ import annotations

import pytest

from prioritylogic.model.build import build
from prioritylogic.model.system import System
from prioritylogic.render.sentences import rule_sentence
from prioritylogic.render.wording import Wording
from prioritylogic.syntax.reader import read

SPEC = """
system: test
groups:
  end: [fore, aft]
inputs:
  knob: button
  door: signal
  lever[end]: -100 % to 100 %
  speed: 0 kn to 10 kn
  mode: [slow, fast, off]
memory:
  presses: {values: whole 0 to 3, start: 0}
  last: {values: end, start: fore}
terms:
  moved[e in end]: abs(lever[e]) > 5 %
  ready: door and mode is not off
  heavy: lever[fore] + lever[aft]
  pushed: pressed(knob) and door
machines:
  other_one:
    states: [idle, busy]
    start: idle
    rules:
      - {id: work, from: idle, if: pressed(door_bell), to: busy, set: {presses: presses + 1}}
      - {id: rest, from: busy, to: idle, after: 1 s, set: {last: aft}}
  main:
    states: [a, b, c]
    start: a
    rules:
      - {id: tested, from: any, if: GUARD, to: b}
outputs:
  shown: main is b
alerts:
  bell: {raise: main is b}
"""


def system_with(guard: str = "door", rule: str = "") -> System:
    text = SPEC.replace("GUARD", f'"{guard}"').replace(
        "  knob: button", "  knob: button\n  door_bell: button"
    )
    if rule:
        text = text.replace(f'{{id: tested, from: any, if: "{guard}", to: b}}', rule)
    return build(read(text), text)


def said(guard: str, written: bool = True) -> str:
    system = system_with(guard)
    rule = system.rule("tested")
    machine = system.machine("main")
    return Wording(system, rule.said if written else "", machine).condition(rule.guard)


GUARDS = {
    "pressed(knob)": "knob is pressed",
    "released(knob)": "knob is released",
    "not pressed(knob)": "knob is not pressed",
    "knob": "knob is down",
    "not knob": "knob is up",
    "before(knob)": "knob was down",
    "door": "door is yes",
    "begins(door)": "door turns yes",
    "ends(door)": "door turns no",
    "mode is slow": "mode is slow",
    "mode is not slow": "mode is not slow",
    "mode in (slow, fast)": "mode is slow or fast",
    "mode is not in (slow, fast)": "mode is neither slow nor fast",
    "before(mode) is off": "mode was off",
    "begins(mode is off)": "mode becomes off",
    "ends(mode is off)": "mode leaves off",
    "changed(mode)": "mode changes",
    "not changed(mode)": "mode does not change",
    "main is a": "main was a",
    "other_one is busy": "other_one is busy",
    "lever[fore] > 5 %": "lever[fore] is above 5 %",
    "not lever[fore] > 5 %": "lever[fore] is at most 5 %",
    "lever[fore] >= -5 %": "lever[fore] is at least -5 %",
    "5 % > lever[fore]": "lever[fore] is below 5 %",
    "lever[fore] = lever[aft]": "lever[fore] equals lever[aft]",
    "lever[fore] != 0 %": "lever[fore] differs from 0 %",
    "abs(lever[fore]) > 5 %": "abs(lever[fore]) is above 5 %",
    "clamp(lever[fore], -50 %, 50 %) < 20 %": "clamp(lever[fore], -50 %, 50 %) is below 20 %",
    "max(lever[fore], lever[aft]) < 20 %": "max(lever[fore], lever[aft]) is below 20 %",
    "lever[fore] - lever[aft] - 1 % < 20 %": "lever[fore] - lever[aft] - 1 % is below 20 %",
    "2 * lever[fore] < 20 %": "2 * lever[fore] is below 20 %",
    "speed > 4 kn": "speed is above 4 kn",
    "presses = 3": "presses equals 3",
    "presses < 2 and last is aft": "presses is below 2 and last is aft",
    "count(door, knob, moved[fore]) >= 2": (
        "count(door is yes, knob is down, moved[fore] is true) is at least 2"
    ),
    "door for 3 s": "door is yes for 3 s without a break",
    "not (door for 3 s)": "not (door is yes for 3 s without a break)",
    "(door and knob) for 20 ms": "(door is yes and knob is down) for 20 ms without a break",
    "pressed(knob) within last 3 s": "knob is pressed now or within the last 3 s",
    "taken(work)": "rule work is taken",
    "taken(work) or taken(rest)": "rule work or rest is taken",
    "not taken(work)": "rule work is not taken",
    "door and knob": "door is yes and knob is down",
    "door and (knob or ready)": "door is yes and (knob is down or ready is true)",
    "door and knob or mode is off": "(door is yes and knob is down) or mode is off",
    "not (door and knob)": "not (door is yes and knob is down)",
    "not (door or knob)": "door is no and knob is up",
    "door and mode in (slow, fast)": "door is yes and (mode is slow or fast)",
    "ready": "ready is true",
    "not ready": "ready is false",
    "before(ready)": "ready was true",
    "begins(ready)": "ready becomes true",
    "ends(ready)": "ready becomes false",
    "begins(door and knob)": "it begins that (door is yes and knob is down)",
    "begins(not (door and knob))": "it ends that (door is yes and knob is down)",
    "ready and pressed(knob)": "ready is true and knob is pressed",
    "pushed": "pushed is true",
    "heavy > 10 %": "heavy is above 10 %",
    "moved[fore] and not moved[aft]": "moved[fore] is true and moved[aft] is false",
    "knob if door else moved[fore]": "if door is yes then knob is down, else moved[fore] is true",
    "door and door_bell implies knob": "not (door is yes and door_bell is down) or knob is down",
}


@pytest.mark.parametrize("guard", GUARDS)
def test_guards(guard: str) -> None:
    assert said(guard) == GUARDS[guard]


def test_names_that_the_author_did_not_write_are_not_put_into_his_mouth() -> None:
    assert said("door and mode is not off") == "door is yes and mode is not off"
    assert said("door and mode is not off", written=False) == "ready is true"


def test_a_claim_that_was_written_as_an_implication_is_said_as_one() -> None:
    system = system_with("door implies knob")
    wording = Wording(system, "door implies knob")
    assert wording.claim(system.rule("tested").guard, True) == "if door is yes, then knob is down"


def test_a_formula_that_would_fill_pages_is_cut() -> None:
    text = SPEC.replace("GUARD", " or ".join(f"(presses = {n % 4} and door)" for n in range(100)))
    text = text.replace("  knob: button", "  knob: button\n  door_bell: button")
    system = build(read(text), text)
    assert "too long" in Wording(system).condition(system.rule("tested").guard)


RULES = {
    "{id: tested, from: a, to: b}": "From a, at once, it enters b.",
    "{id: tested, from: any, if: door, to: b}": "From any state, as soon as door is yes, it enters b.",
    "{id: tested, from: [a, c], after: 2 s, to: b}": (
        "From a or c, once main has stayed there for 2 s, it enters b."
    ),
    "{id: tested, from: a, if: door, after: 2 s, to: b}": (
        "From a, once main has stayed there for 2 s and when door is yes, it enters b."
    ),
    "{id: tested, from: a, after: over 2 s, may: yes, to: b}": (
        "From a, once main has stayed there for more than 2 s, it may be taken or put off, even for "
        "ever; then it enters b."
    ),
    "{id: tested, from: a, may: yes, to: b}": (
        "From a, at any time, it may be taken or put off, even for ever; then it enters b."
    ),
    "{id: tested, from: a, takes: at most 3 s, to: b}": (
        "From a, at most 3 s after it got there, it enters b."
    ),
    "{id: tested, from: a, if: door, takes: 1 s to 2 s, to: b}": (
        "From a, while door is yes, 1 s to 2 s after that began, it enters b."
    ),
    "{id: tested, from: a, takes: over 1 s to under 2 s, to: b}": (
        "From a, more than 1 s and less than 2 s after it got there, it enters b."
    ),
    "{id: tested, from: a, takes: at least 5 s, to: b}": (
        "From a, some day, but at least 5 s after it got there, it enters b."
    ),
    "{id: tested, from: a, takes: some day, to: b}": "From a, some day after it got there, it enters b.",
    "{id: tested, from: a, takes: under 3 s, since: work, to: b}": (
        "From a, less than 3 s after rule work (or this one) was last taken, it enters b."
    ),
    "{id: tested, from: a, if: door, takes: 1 s to 2 s, since: work, set: {presses: 0}}": (
        "From a, 1 s to 2 s after rule work (or this one) was last taken, if door is yes, it sets "
        "presses to 0."
    ),
    "{id: tested, from: a, takes: at most 3 s, set: {presses: 0}}": (
        "From a, at most 3 s after it got there, it sets presses to 0. Taking it starts the count again."
    ),
    "{id: tested, from: a, if: door, takes: some day, fair: yes, to: b}": (
        "From a, while door is yes, some day after that began, it enters b. It is not passed over for "
        "ever, if it is possible again and again."
    ),
    "{id: tested, from: a, may: yes, fair: yes, to: b}": (
        "From a, at any time, it may be taken or put off (but not for ever, if that is possible again "
        "and again); then it enters b."
    ),
    "{id: tested, from: a, if: pressed(knob), set: {presses: 0, last: aft}}": (
        "From a, as soon as knob is pressed, it sets presses to 0 and sets last to aft."
    ),
    "{id: tested, from: a, if: pressed(knob)}": (
        "From a, as soon as knob is pressed, it changes nothing."
    ),
}


@pytest.mark.parametrize("rule", RULES)
def test_rules(rule: str) -> None:
    system = system_with(rule=rule)
    assert rule_sentence(system, system.machine("main"), system.rule("tested")) == RULES[rule]
