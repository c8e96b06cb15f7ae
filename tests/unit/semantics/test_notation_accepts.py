"""What a spec's author may write: each shorthand and form of section 4, accepted and understood."""

from __future__ import annotations

import pytest

from prioritylogic import load
from prioritylogic.model.system import Flag, OneOf, Real, Whole

HEAD = """\
system: tiny
groups: {cabin: [left, right], mast: [fore, mid, aft]}
settings:
  hold: 9 s
  limit: {value: 4 %, range: 1 % to 9 %, about: dead band}
  wait[c in cabin]: {left: 3 s, right: 4 s}
  twice: 2 * hold
inputs:
  take[cabin]: button
  go: button
  stop: {values: button, start: pressed}
  shut: signal
  known: {values: yes_no, start: yes}
  lever[c in cabin]: {values: -100 % to 100 %, start: 0 %}
  heading: 0 deg to 360 deg
  mode: [manual, automatic]
  band: {values: [low, high], start: low, about: a list with a start}
  gear: whole 0 to 3
  who: cabin
memory:
  last: {values: cabin, start: left}
  own[c in cabin]: {values: cabin, start: c}
  n[cabin]: {values: whole 0 to 3, start: 0}
  done: {values: yes_no, start: no}
  word: {values: [left, right, nobody], start: nobody}
terms:
  moved[c in cabin]: abs(lever[c]) > limit
  both: moved[left] and moved[right]
  pace:
    about: a table
    cases:
      - when: heading > 90 deg
        is: fast
      - {when: heading > 45 deg, is: middling}
      - otherwise: slow
machines:
  pilot:
    about: a machine
    states: [standby, active]
    start: standby
    rules: [{id: engage, from: standby, if: pressed(go), to: active}]
  helm:
    states:
      - free
      - held[cabin]
      - shared[cabin, mast]
    start: free
    rules:
      - id: grip
        each: c in cabin, d in cabin where d is not c
        from:
          - free
          - held[d]
        if: pressed(take[c]) and pace is not in (fast) and moved[c]
        to: held[c]
        set:
          last: c
          word: c
          n[c]: min(n[c] + 1, 3)
      - id: drop
        each: c in cabin
        from: held[c]
        after: wait[c]
        to: free
        beats: grip
  lamp[c in cabin]:
    states: [dark, lit]
    start: dark
    rules:
      - {id: light, from: any, if: "helm is held[c]", to: lit}
alerts:
  jam[c in cabin]:
    raise: shut and moved[c]
    repeat: 4 s
    clear:
      - pressed(go)
      - not shut
    silence: {by: pressed(stop), for: hold}
outputs:
  speed: sum(lever[c] over c in cabin)
  shown[c in cabin]: {value: "lamp[c] is lit", about: the lamp}
"""


def accepts(text: str) -> None:
    load(HEAD + text)


def test_inputs_and_memory() -> None:
    """An input's values may be a bare list, a range, whole numbers, a group, a word; with a start."""
    system = load(HEAD)
    domains = {i.name: (i.domain, i.start) for i in system.inputs}
    assert domains["take[left]"] == (Flag("button"), False)
    assert domains["stop"] == (Flag("button"), True)
    assert domains["shut"] == (Flag("signal"), None)
    assert domains["known"] == (Flag("yes_no"), True)
    assert domains["mode"] == (OneOf(("manual", "automatic")), None)
    assert domains["band"] == (OneOf(("low", "high")), "low")
    assert domains["gear"] == (Whole(0, 3), None)
    assert domains["who"] == (OneOf(("left", "right")), None)
    assert isinstance(domains["heading"][0], Real)
    assert {m.name: m.start for m in system.memory}["own[right]"] == "right"
    assert system.rule("drop[right]").delay.time == 4  # type: ignore[union-attr]
    assert system.machine("helm").states[-1] == "shared[right,aft]"


EXPRESSIONS = """\
helm in (held[left], held[right]) implies last in (left, right)
helm is not in (free, held[left]) or last in cabin
left is last or last is right
any(helm is held[c] over c in cabin) or helm is free
count(take[c] over c in cabin where c is not left) <= 1
count(go, stop, shut) < 4
sum(lever[c] if take[c] else 0 % over c in cabin) <= 200 %
max(n[c] over c in cabin) <= 3 and min(n[left], n[right], 2) >= 0
any(any(take[c] and take[d] over d in cabin where d is not c) over c in cabin) implies go or not go
any(take[c] and take[d] over c in cabin, d in cabin where c is not d) implies go or not go
abs(lever[left] - lever[right]) <= 200 % and clamp(lever[left], -10 %, 10 %) <= 10 %
heading < 6.3 rad and heading >= 0 and gear * 2 - 1 != 2 and 2 * lever[left] / 4 <= 50 %
go for 3 s implies go
(go and stop) for (hold + 1 s) implies go
go for hold implies go for 9000 ms and go for 0.15 min
pressed(go) within last 3 s or not (pressed(go) within last 3 s)
(go within last 3 s) for 2 s implies go within last 3 s
before(go within last 3 s) or not before(go for 3 s)
changed(mode) implies mode is not before(mode)
taken(grip) or taken(grip[left, right]) or taken(drop[left]) implies changed(helm) or helm is held[last]
take[last] or not take[other(last)] or n[last] <= 3
jam[left].raised and not jam[left].cleared or not jam[left].sounds
1 <= (1 if go else 2 if stop else 3)
(last if go else left) is left or go
pace is fast implies heading > 90 deg
word is nobody or word is last
go implies stop implies go
not not go or not go
"go or not go"
'go or not go'
shown[left] implies lamp[left] is lit
before(lever[left] > 5 %) or not before(lever[left] > 5 %)
begins(helm is held[left]) or not ends(shut and go)
last is before(last) or changed(last)
speed <= 200 % and hold > 0 and wait[last] > 0 s
-lever[left] <= 100% and limit=4%
"""


@pytest.mark.parametrize("expression", EXPRESSIONS.splitlines())
def test_expressions(expression: str) -> None:
    """The operators, functions and lookups of the expression grammar."""
    accepts(f"requirements:\n  - id: R\n    always: {expression}\n")


REQUIREMENTS = """\
always: go or not go; during: shut
never: go and stop; assuming: DOOR
possible: pilot is active; assuming: [DOOR, PRESS]
recoverable: pilot is standby
after: pressed(go); at_once: pilot is active
after: pressed(go); expect: pilot is active; within: hold; unless: pressed(stop) or shut
after: pressed(go); expect: pilot is active; within: under 2 s
after: pressed(go); expect: pilot is active; assuming: [PRESS, AGAIN]
after: pressed(go); keep: pilot is active; until: shut
after: pressed(go); keep: pilot is active; for: 2 * hold
while: jam[left].raised; expect: jam[left].sounds; every: 4 s
while: jam[left].raised; expect: jam[left].sounds; every: under 5 s; during: shut
after: jam[left].sounds; apart: 4 s
each: c in cabin; never: take[c] and n[c] = 3
each: c in cabin, d in mast where c is left; never: helm is shared[c, d]
never: go; expected: fails; reason: a button can be pressed
never: go; expected: {fails: all, reason: a button can be pressed}
each: c in cabin; never: take[c]; expected: {fails: [left, right], reason: known}
each: c in cabin; never: take[c]; expected: {fails: left, reason: known}
"""
ASSUME = """\
assume:
  - {id: DOOR, text: shut, always: shut or not shut}
  - {id: STEADY, never: changed(mode)}
  - id: ONE
    each: c in cabin
    never: take[c] and go
  - {id: PRESS, after: shut, expect: pressed(go), within: 3 s}
  - {id: SOMEDAY, after: shut, expect: not shut}
  - {id: AGAIN, again_and_again: pressed(go)}
"""


@pytest.mark.parametrize("keys", REQUIREMENTS.splitlines())
def test_requirement_forms(keys: str) -> None:
    """Every form of the table, with the keys that each also takes."""
    accepts(f"{ASSUME}requirements:\n  - id: R\n    " + keys.replace("; ", "\n    ") + "\n")


TAKES = {
    "at most 3 s": (0, False, 3, False),
    "under 3 s": (0, False, 3, True),
    "1 s to 2 s": (1, False, 2, False),
    "over 1 s to under 2 s": (1, True, 2, True),
    "1 s to under 2 s": (1, False, 2, True),
    "over 1 s to 2 s": (1, True, 2, False),
    "at least 5 s": (5, False, None, False),
    "over 2 s": (2, True, None, False),
    "some day": (0, False, None, False),
}


@pytest.mark.parametrize("takes", TAKES)
def test_uncertain_delays(takes: str) -> None:
    """Every form of `takes`."""
    rule = f"{{id: r, from: a, takes: {takes}, to: a}}"
    system = load(f"system: x\nmachines: {{m: {{states: [a], start: a, rules: [{rule}]}}}}\n")
    found = system.rule("r").takes
    assert found is not None
    assert (found.low, found.low_strict, found.high, found.high_strict) == TAKES[takes]


def test_stories() -> None:
    """Every step, alone and together; values of every kind of input."""
    accepts(
        """\
stories:
  - id: S1
    text: steps
    steps:
      - press go
      - release go
      - set go to pressed
      - set shut to yes
      - set mode to automatic
      - set gear to 2
      - set lever[left] to limit + 1 %
      - set heading to 0.5 rad
      - set who to right
      - together:
          - release go
          - press take[left]
      - wait 2 s
      - wait hold
      - check helm is not free
    end: helm is held[left]
    unsettled: yes
  - id: S2
    each: c in cabin, d in cabin where d is not c
    steps: ["press take[c]", "check take[c] and not take[d]"]
  - {id: S3, steps: [press go], end: pilot is standby, expected: fails, reason: it engages}
"""
    )


def test_waivers_both_ways() -> None:
    """`waive`: a finding's id, with a reason."""
    for waive in ("[{id: 'rule-conflict:a+b', reason: known}]", "{rule-conflict:a+b: known}"):
        system = load(f"{HEAD}waive: {waive}\n")
        assert system.waived == (("rule-conflict:a+b", "known"),)


def test_yaml_forms() -> None:
    """Comments, block scalars, quoted keys and texts, plain texts over several lines."""
    accepts(
        """\
# a comment
requirements:
  - "id": R1     # another
    'text': >
      Folded, with a colon: kept.
    never: >-
      go and
      stop
  - id: R2
    text: "quoted # no comment"
    never: go and
      stop
"""
    )


def test_on_off_yes_and_no_are_plain_words() -> None:
    """YAML 1.2: `on`, `off`, `yes` and `no` are plain words, and may be states."""
    system = load(
        """\
system: x
inputs: {on: button, off: button, answer: [yes, no]}
machines:
  m:
    states: [on, off]
    start: off
    rules:
      - {id: r, from: off, if: pressed(on) and answer is no, to: on}
requirements: [{id: R, never: m is on and off}]
"""
    )
    assert system.machine("m").states == ("on", "off")


def test_only_the_words_of_the_grammar_are_reserved() -> None:
    """Key and unit names are free: `s`, `to`, `step`, `over`, `set`, `last`, `wait`."""
    load(
        """\
system: x
inputs: {step: button, s: button, over: button, to: signal, set: signal, last: signal, each: signal}
requirements: [{id: R, always: not (step and s and over and to and set and last and each)}]
stories: [{id: S, steps: [press s, set to to yes, set set to no, check last or not last]}]
"""
    )


def test_interleaved_and_inputs_change() -> None:
    """`interleaved` names machines, families or members; `inputs_change: one at a time`."""
    for names in ("[pilot, lamp]", "pilot", "['lamp[left]', 'lamp[right]']"):
        accepts(f"interleaved: {names}\ninputs_change: one at a time\nnotation: 1\n")
