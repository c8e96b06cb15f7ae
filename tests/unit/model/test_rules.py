"""Rules: own names, time, priority, families, interleaving."""

from __future__ import annotations

from fractions import Fraction

from saying import NAMES, built, codes, say

from prioritylogic.model.system import Delay, System, Takes


def rules(*lines: str, machine: str = "m") -> str:
    """NAMES with one more machine whose rules are these lines."""
    head = f"  {machine}:\n    states: [a, b, c]\n    start: a\n    rules:\n"
    body = "".join(f"      - {line}\n" for line in lines)
    return NAMES.replace("alerts:\n", head + body + "alerts:\n")


def guard(system: System, rule: str) -> str:
    return say(system.rule(rule).guard)


def test_own_state_and_memory_mean_their_value_as_the_reaction_starts() -> None:
    text = rules(
        "{id: r, from: a, if: m is a and done and last is left and helm is free, set: {done: not done}}"
    )
    system = built(text)
    assert guard(system, "r") == "(m'=a & done' & last=left & helm=free)"
    assert [(n, say(v)) for n, v in system.rule("r").writes] == [("done", "!done'")]


def test_own_names_are_own_in_terms_too() -> None:
    text = rules("{id: r, from: a, if: at_a and pushed, to: b}").replace(
        "  pushed:", "  at_a: m is a\n  pushed:"
    )
    system = built(text + "requirements: [{id: R, possible: at_a}]\n")
    assert guard(system, "r") == "(m'=a & go & !go')"
    assert say(system.requirements[0].form.condition) == "m=a"


def test_a_timer_is_shared_and_its_reader_reads_its_own_names() -> None:
    text = rules(
        "{id: r, from: a, if: (m is a and shut) for 3 s, to: b}",
    )
    system = built(text + "requirements: [{id: R, possible: (m is a and shut) for 3 s}]\n")
    (timer,) = system.timed
    assert say(timer.condition) == "(m=a & shut)" and not timer.observed
    assert guard(system, "r") == "timer0((m'=a & shut))"
    assert say(system.requirements[0].form.condition) == "timer0((m=a & shut))"


def test_nested_timers_have_smaller_indices() -> None:
    system = built(rules("{id: r, from: a, if: ((shut for 3 s) or go) within last 5 s, to: b}"))
    assert [t.kind for t in system.timed] == ["for", "within last"]
    assert say(system.timed[1].condition) == "(timer0(shut) | go)"


def test_begins_of_own_names_and_others_may_begin() -> None:
    assert codes(rules("{id: r, from: a, if: begins(m is a and shut), to: b}")) == []
    assert codes(rules("{id: r, from: a, if: begins((m is a) for 3 s), to: b}")) == []
    assert codes(rules("{id: r, from: a, if: begins(m is a), to: b}")) == ["never-begins"]


def test_a_rule_of_another_machine_can_be_asked_for() -> None:
    system = built(rules("{id: r, from: a, if: taken(engage), to: b}"))
    assert guard(system, "r") == "taken(engage)"
    assert system.order.index("pilot") < system.order.index("m")
    assert codes(rules("{id: r, from: a, if: before(taken(r) within last 3 s), to: b}")) == []


def test_time() -> None:
    system = built(
        rules(
            "{id: r1, from: a, after: hold, to: b}",
            "{id: r2, from: a, after: over 2 s, may: yes, to: b}",
            "{id: r3, from: a, takes: over 1 s to under 2 s, to: b}",
            "{id: r4, from: a, takes: at most 3 s, since: r3, to: b}",
            "{id: r5, from: a, takes: at least 5 s, to: b}",
            "{id: r6, from: a, takes: some day, fair: yes, to: b}",
            "{id: r7, from: a, may: no, to: b}",
        )
    )
    rule = system.rule
    assert rule("r1").delay == Delay(Fraction(9)) and not rule("r1").optional
    assert rule("r2").delay == Delay(Fraction(2), strict=True) and rule("r2").may
    assert rule("r3").takes == Takes(Fraction(1), True, Fraction(2), True)
    assert rule("r4").takes == Takes(Fraction(0), False, Fraction(3), False, ("r3",))
    assert rule("r5").takes == Takes(Fraction(5))
    assert rule("r6").takes == Takes() and rule("r6").fair and rule("r6").optional
    assert not rule("r7").optional


def test_beats_means_the_family_and_order_first_the_list() -> None:
    system = built(
        rules("{id: r, from: a, to: b, beats: s}", "{id: s, each: c in cabin, from: a, to: c}").replace(
            "to: c}", "to: b}"
        )
    )
    assert system.rule("r").beats == {"s[left]", "s[right]"}
    text = rules("{id: r, each: c in cabin, from: a, to: b}", "{id: s, from: any, to: c}")
    system = built(text.replace("    states: [a, b, c]", "    order: first\n    states: [a, b, c]"))
    assert system.rule("r[left]").beats == {"r[right]", "s"}
    assert system.rule("r[right]").beats == {"s"} and not system.rule("s").beats
    assert system.rule("s").sources == {"a", "b", "c"}


HATCHES = """\
system: x
groups: {cabin: [left, right], side: [top, low]}
inputs:
  go[cabin]: button
machines:
  hatch[c in cabin]:
    states:
      - shut
      - open[side]
    start: shut
    rules:
      - {id: lift, each: s in side, from: shut, if: 'pressed(go[c])', to: 'open[s]', beats: drop}
      - {id: drop, from: any, takes: at most 3 s, since: lift, to: shut}
  lamp:
    states: [dark, lit]
    start: dark
    rules:
      - {id: light, from: dark, if: 'hatch[left] is open[top] or taken(lift)', to: lit}
"""


def test_a_family_of_machines() -> None:
    system = built(HATCHES)
    assert [m.name for m in system.machines] == ["hatch[left]", "hatch[right]", "lamp"]
    left = system.machine("hatch[left]")
    assert left.states == ("shut", "open[top]", "open[low]")
    assert [r.id for r in left.rules] == ["lift[left,top]", "lift[left,low]", "drop[left]"]
    assert left.rules[0].member == (("c", "left"), ("s", "top"))
    assert left.rules[0].beats == {"drop[left]"}
    assert left.rules[2].takes.since == ("lift[left,top]", "lift[left,low]")
    assert guard(system, "light") == (
        "(hatch[left]=open[top] | "
        "taken(lift[left,top], lift[left,low], lift[right,top], lift[right,low]))"
    )


def test_interleaved_machines_read_each_other_as_the_reaction_starts() -> None:
    text = (
        rules("{id: r, from: a, if: helm is free and last is left and pilot is active, to: b}")
        + "interleaved: [m, helm]\ninputs_change: one at a time\n"
    )
    system = built(text)
    assert system.interleaved == {"m", "helm"} and system.one_input_at_a_time
    assert guard(system, "r") == "(helm'=free & last'=left & pilot=active)"
    assert built(HATCHES + "interleaved: hatch\n").interleaved == {"hatch[left]", "hatch[right]"}


def test_order_follows_what_is_read_now_and_else_the_spec() -> None:
    text = rules("{id: r, from: a, if: jam.raised and last is left, to: b}")
    assert built(text).order == ("pilot", "helm", "jam", "m")
    assert built(rules("{id: r, from: a, if: before(jam.raised), to: b}")).order == (
        "pilot",
        "helm",
        "m",
        "jam",
    )


def test_a_circle_through_an_alert_says_where_before_belongs() -> None:
    text = rules("{id: r, from: a, if: jam.raised, to: b}").replace(
        "raise: shut and go", "raise: m is b"
    )
    assert codes(text) == ["circular-order"]
    assert codes(text.replace("if: jam.raised", "if: before(jam.raised)")) == []
