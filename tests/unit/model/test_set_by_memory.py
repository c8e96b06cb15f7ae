"""`set: n[who]: ...` with memory `who`: one rule for each of its values, exclusive and exact."""

from __future__ import annotations

import pytest
from saying import built, codes, say

from prioritylogic import check
from prioritylogic.model.system import System

SPEC = """\
system: tally
groups: {cabin: [left, right]}
inputs:
  take[cabin]: button
  add: button
memory:
  who: {values: cabin, start: left}
  n[cabin]: {values: whole 0 to 2, start: 0}
machines:
  owner:
    states: [on]
    start: on
    rules:
      - id: own
        each: c in cabin
        from: on
        if: pressed(take[c]) and not pressed(take[other(c)])
        set: {who: c}
  counter:
    states: [empty, used]
    start: empty
    rules:
      - id: wipe
        from: used
        if: pressed(take[left]) and pressed(take[right])
        to: empty
        set:
          n[left]: 0
          n[right]: 0
        beats: tally
RULE
      - id: seen
        from: empty
        if: pressed(add)
        after: 2 s
        to: used
requirements:
  - {id: MINE, after: "pressed(add) and who is right and n[right] = 0 and before(counter is used)
      and not (pressed(take[left]) and pressed(take[right]))", at_once: "n[right] = 1 and n[left] = 0"}
  - {id: ONE, always: "n[left] = 0 or n[right] = 0"}
  - {id: FULL, possible: "n[right] = 2 and who is left"}
  - {id: EMPTY, never: "n[left] = 2"}
  - {id: WHOSE, each: c in cabin, after: "taken(tally[c])", at_once: "who is c and n[c] > 0"}
"""
BY_MEMORY = """\
      - id: tally
        from: used
        if: pressed(add) and n[who] < 2
        set:
          n[who]: n[who] + 1
          n[other(who)]: 0
"""
BY_HAND = """\
      - id: tally
        each: c in cabin
        from: used
        if: pressed(add) and n[c] < 2 and who is c
        set:
          n[c]: n[c] + 1
          n[other(c)]: 0
"""


def spec(rule: str) -> str:
    return SPEC.replace("RULE\n", rule)


def test_each_value_becomes_an_instance_that_reads_and_writes_what_it_picks() -> None:
    system = built(spec(BY_MEMORY))
    for one, other in (("left", "right"), ("right", "left")):
        rule = system.rule(f"tally[{one}]")
        assert rule.family == "tally" and rule.member == (("who", one),)
        assert say(rule.guard) == f"(add & !add' & n[{one}]'<2 & who={one})"
        assert [(n, say(v)) for n, v in rule.writes] == [
            (f"n[{one}]", f"(n[{one}]' + 1)"),
            (f"n[{other}]", "0"),
        ]
    assert system.rule("wipe").beats == {"tally[left]", "tally[right]"}
    assert system.order == ("owner", "counter")  # whose memory picks comes first


def test_it_means_what_one_would_write_by_hand() -> None:
    system, by_hand = built(spec(BY_MEMORY)), built(spec(BY_HAND))
    assert [(r.id, r.guard, r.writes) for m in system.machines for r in m.rules] == [
        (r.id, r.guard, r.writes) for m in by_hand.machines for r in m.rules
    ]


def test_verdicts_are_right_and_the_instances_make_no_conflict() -> None:
    result = check(built(spec(BY_MEMORY)))
    verdicts = {a.id: a.verdict for a in result.requirements}
    assert verdicts == {
        "MINE": "holds",
        "ONE": "holds",
        "FULL": "holds",
        "EMPTY": "fails",
        "WHOSE": "holds",
    }
    assert not [issue for issue in result.findings if issue.level == "error"]


OWN = """\
system: own
groups: {cabin: [left, right], side: [top, low]}
inputs: {go: button}
memory:
  who: {values: cabin, start: left}
  at: {values: side, start: top}
  last[cabin]: {values: cabin, start: left}
  n[cabin,side]: {values: yes_no, start: no}
machines:
  lamp[s in side]:
    states: [dark, lit]
    start: dark
    rules: [{id: see, from: dark, if: 'SEEN', to: lit}]
  m:
    states: [a]
    start: a
    rules:
      - {id: r, each: s in side, from: a, if: pressed(go) and begins(go), set: {SET, who: other(who)}}
"""


def own(target: str, seen: str = "taken(r[s])") -> System:
    return built(OWN.replace("SET", target).replace("SEEN", seen))


def test_own_memory_picks_with_its_value_as_the_reaction_starts() -> None:
    rule = own('"n[who,s]": yes').rule("r[top,left]")
    assert rule.member == (("s", "top"), ("who", "left"))
    assert say(rule.guard).endswith("who'=left)")
    assert [(n, say(v)) for n, v in rule.writes] == [("n[left,top]", "true"), ("who", "right")]


def test_a_rule_is_named_with_or_without_the_memory_that_picks() -> None:
    assert say(own('"n[who,s]": yes').rule("see[top]").guard) == "taken(r[top,left], r[top,right])"
    one = own('"n[who,s]": yes', "taken(r[s,left])")
    assert say(one.rule("see[low]").guard) == "taken(r[low,left])"


def test_two_indices_may_be_memory_and_memory_may_be_indexed_by_memory() -> None:
    both = {r.id: next(n for n, _ in r.writes) for r in own('"n[who,at]": yes').machine("m").rules}
    assert both["r[top,left,low]"] == "n[left,low]" and len(both) == 8
    nested = own('"n[last[who],s]": yes')
    written = nested.rule("r[low,left,right,left]")  # who is left, last[left] right, last[right] left
    assert [n for n, _ in written.writes] == ["n[right,low]", "who"]


@pytest.mark.parametrize("key", ["takes: at most 3 s", "may: yes\n        fair: yes"])
def test_what_counts_over_time_is_refused(key: str) -> None:
    text = spec(BY_MEMORY).replace("        if: pressed(add) and n[who] < 2\n", f"        {key}\n")
    assert codes(text) == ["bad-timing"]
