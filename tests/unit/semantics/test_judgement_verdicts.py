"""`check` on small specs, one for each sentence: verdicts, findings, and how stories end."""

from __future__ import annotations

import pytest
from playing import findings, spec, verdicts

from prioritylogic import check, load


def asked(*requirements: str) -> str:
    """Requirements as a block, called R0, R1, ..."""
    return "\n".join(f"- {{id: R{n}, {text}}}" for n, text in enumerate(requirements))


def answers(text: str) -> str:
    """The verdicts in order, one letter each: h, f or u."""
    return "".join(verdict[0] for verdict in verdicts(text).values())


def test_figures_at_the_exact_instant() -> None:
    """A rule taken at 3 s: in time for `within 3 s`, late for `under 3 s`, outside `keep for 3 s`."""
    text = spec(
        rules="- {id: r, from: a, after: 3 s, to: b}",
        requirements=asked(
            "after: m is a, expect: m is b, within: 3 s",
            "after: m is a, expect: m is b, within: under 3 s",
            "after: m is a, expect: m is b, within: 2999 ms",
            "after: m is a, keep: m is a, for: 3 s",
            "after: m is a, keep: m is a, for: 3001 ms",
            "while: m is a, expect: changed(m), every: 3 s",
            "while: m is a, expect: changed(m), every: under 3 s",
        ),
    )
    assert answers(text) == "hffhfhf"


def test_a_timed_condition_that_only_requirements_read_is_not_yet_true_at_its_boundary() -> None:
    """At T exactly `X for T` is not yet true and `X within last T` still is."""
    text = spec(
        rules="- {id: r, from: a, after: 3 s, to: b}",
        requirements=asked(
            "possible: (m is a) for 3 s",
            "possible: (m is a) for 2999 ms",
            "never: taken(r) and not ((m is a) within last 3 s)",
            "possible: m is b and not ((m is a) within last 3 s)",
        ),
    )
    assert answers(text) == "fhhh"


def test_a_timed_condition_that_a_rule_reads_has_the_order_of_the_reactions() -> None:
    """At T a press may come before, with and after the expiry that a rule reads."""
    text = spec(
        rules="- {id: r, from: a, if: pressed(stop) and (go for 3 s), to: b}",
        requirements=asked(
            "after: begins(go), keep: not taken(r), for: 3 s",
            "after: begins(go), keep: not taken(r), for: 3001 ms",
            "possible: pressed(stop) and m is a and go and before(go for 3 s)",
        ),
    )
    assert answers(text) == "hff"


UNCERTAIN = {
    "at most 3 s": "hff",
    "1 s to 3 s": "hfh",
    "at least 1 s": "ffh",
    "some day": "fff",
}


@pytest.mark.parametrize("takes", UNCERTAIN)
def test_uncertain_delays(takes: str) -> None:
    """Offered from the lower end on, taken by the upper; without one perhaps never, for safety."""
    text = spec(
        rules=f"- {{id: r, from: a, takes: {takes}, to: b}}",
        requirements=asked(
            "after: m is a, expect: m is b, within: 3 s",
            "after: m is a, expect: m is b, within: under 3 s",
            "after: m is a, keep: m is a, for: 1 s",
        ),
    )
    assert answers(text) == UNCERTAIN[takes]


def test_conflicts_are_found_by_pair_and_can_be_settled() -> None:
    """A tie is an error finding by pair of ids; `beats`, `order: first` and `tie: either` settle it."""
    rules = "- {id: r, from: a, if: pressed(go), to: b}\n- {id: q, from: a, if: pressed(stop), to: c}"
    assert findings(spec(rules=rules)) == {"rule-conflict:q+r"}
    assert not findings(spec(rules=rules.replace("to: c", "to: c, beats: r")))
    for key in ("order: first", "tie: either"):
        assert not findings(spec(rules=rules, machine=f"    {key}\n"))
    offered = rules.replace("if: pressed(stop)", "may: yes")
    assert not findings(spec(rules=offered))


def test_a_write_clash_names_the_pairs_that_differ() -> None:
    """Different values written by two machines: a clash; equal values: none."""
    machine = (
        "{{states: [a, b], start: a, rules: [{{id: r{0}, from: a, if: go, to: b, set: {{k: {1}}}}}]}}"
    )
    text = spec(
        machines="".join(f"  m{n}: {machine.format(n, k)}\n" for n, k in ((1, 1), (2, 2), (3, 1))),
        memory="{k: {values: whole 0 to 3, start: 0}}",
        requirements=asked("possible: k = 1", "possible: k = 2", "possible: k = 3"),
    )
    assert answers(text) == "hhf"
    assert findings(text) == {"write-clash:k:r1+r2", "write-clash:k:r2+r3"}


LOOP = "- {id: r, from: a, to: b}\n- {id: q, from: b, to: a}"


def test_loops_and_stuck_time() -> None:
    """A cycle of stutters and time that cannot go on are findings, and timed answers say so."""
    text = spec(rules=LOOP, requirements=asked("after: m is a, expect: m is b, within: 3 s"))
    assert {f.split(":")[0] for f in findings(text)} == {"endless-loop", "stuck-time"}
    (answer,) = check(load(text)).requirements
    assert answer.verdict == "holds" and "time can stop" in answer.reason


def test_assumptions_bind_every_run() -> None:
    """`always` and `never` exclude the reactions after which they are false."""
    rules = "- {id: r, from: a, if: pressed(go) and on, to: b}"
    text = spec(rules=rules, requirements=asked("never: m is b", "possible: on"))
    assert answers(text) == "fh"
    for kept_out in ("never: go and on", "never: changed(on)", "always: before(go) or not go"):
        assumed = text + f"assume:\n  - {{id: A, {kept_out}}}\n"
        assert verdicts(assumed)["R0"] == "holds"


def test_assumptions_that_leave_nothing() -> None:
    """One that is not true at rest, and a reachable instant with no way on, are error findings."""
    text = spec(rules="- {id: r, from: a, after: 2 s, to: b}")
    for assumed, kind in (
        ("always: on", "nothing-possible"),  # `on` starts as no
        ("always: pressed(go) or not go", "assumption-not-at-rest"),
        ("never: m is b", "stuck-time"),
    ):
        found = findings(text + f"assume:\n  - {{id: A, {assumed}}}\n")
        assert kind in {f.split(":")[0] for f in found}


def test_cases() -> None:
    """The first true case wins; an overlap with different values is a warning, a gap an error."""
    text = spec(
        inputs="{mode: [slow, fast, off]}",
        terms="""
pace:
  cases:
    - {when: mode is slow, is: low}
    - {when: mode is not off, is: high}
""",
        requirements=asked(
            "never: pace is low and mode is fast", "never: pace is high and mode is slow"
        ),
    )
    assert answers(text) == "hh"
    levels = {f.kind: f.level for f in check(load(text)).findings}
    assert levels == {"cases-gap": "error", "cases-overlap": "warning"}
    assert not findings(text.replace("{when: mode is not off, is: high}", "{otherwise: high}"))


def test_a_value_out_of_range() -> None:
    """Out of range is an error finding and ends the run."""
    text = spec(
        rules="- {id: r, from: a, if: pressed(go), set: {k: k + 1}}\n"
        "- {id: q, from: a, if: k > 3, to: b}",
        memory="{k: {values: whole 0 to 3, start: 0}}",
        requirements=asked("never: m is b"),
    )
    assert answers(text) == "h" and findings(text) == {"value-out-of-range:k"}


def test_analog_inputs_under_a_machine_that_changes() -> None:
    """A machine changing state under an unchanged lever is right; only feasible truths are joined."""
    text = spec(
        inputs="{x: 0 % to 100 %, y: 0 % to 100 %, go: button}",
        rules="- {id: r, from: a, if: pressed(go), to: b}",
        terms="{far: x > limit, limit: 20 % if m is a else 60 %, gap: abs(x - y)}",
        requirements=asked(
            "possible: before(far) and not far and m is b",
            "possible: far and m is b and x < 60 %",
            "possible: far and m is a and x < 60 %",
            "never: gap > 100 %",
            "never: gap > 99 %",
            "possible: gap < 1 % and x > 90 % and y < 80 %",
            "possible: before(x > 90 %) and x < 10 %",
        ),
    )
    assert answers(text) == "hfhhffh"


def test_interleaved_machines() -> None:
    """Exactly one moves in a reaction; every order is explored; none is a conflict."""
    text = spec(
        machines="""\
  w[c in side]:
    states: [out, inside]
    start: out
    rules:
      - id: enter
        from: out
        if: on and w[other(c)] is out
        to: inside
""",
        groups="{side: [port, stbd]}",
        interleaved="w",
        requirements="""
- id: ONE
  never: w[port] is inside and w[stbd] is inside
- id: EACH
  each: c in side
  possible: w[c] is inside
- id: TWO
  never: taken(enter[port]) and taken(enter[stbd])
""",
    )
    assert answers(text) == "hhhh" and not findings(text)


STORIES = {
    # each step is one reaction, then stutters until settled
    "[press go]": "m is c",
    "[press go, wait 2 s]": "m is c",
    # optional rules that no step names wait to their upper end
    "[press go, wait 2999 ms]": "m is c",
    "[press go, wait 3 s]": "m is a",
    "[press go, wait 1 s, take home]": "m is a",
    # wait T includes the expiries at its end
    "[wait 10 s]": "late",
    "[wait 9999 ms]": "not late",
    # together: one reaction
    "[{together: [press go, press stop]}]": "m is a and go and stop",
    "[press stop, press go]": "m is c",
}
STORY_RULES = """
- {id: r, from: a, if: pressed(go) and not pressed(stop), to: b}
- {id: q, from: b, to: c}
- {id: home, from: c, takes: 1 s to 3 s, to: a}
- {id: old, from: a, after: 10 s, set: {late: yes}}
"""


@pytest.mark.parametrize("steps", STORIES)
def test_stories(steps: str) -> None:
    """How each step goes."""
    text = spec(
        rules=STORY_RULES,
        memory="{late: {values: yes_no, start: no}}",
        stories=f"- {{id: S, steps: {steps}, end: {STORIES[steps]}}}",
    )
    assert verdicts(text) == {"S": "holds"}


def test_unsettled_stories() -> None:
    """`unsettled: yes` suppresses the stutters."""
    text = spec(
        rules=STORY_RULES,
        memory="{late: {values: yes_no, start: no}}",
        stories="""
- {id: S1, steps: [press go], end: m is b, unsettled: yes}
- {id: S2, steps: [press go, release go], end: m is c, unsettled: yes}
""",
    )
    assert answers(text) == "hh"


def test_ties_and_unset_inputs_branch() -> None:
    """Every branch must satisfy `end`; one that an assumption excludes is none."""
    text = spec(
        inputs="{go: button, door: signal}",
        rules="- {id: r, from: a, if: pressed(go), to: b}\n- {id: q, from: a, if: pressed(go), to: c}",
        stories="""
- {id: S1, steps: [press go], end: m is b or m is c}
- {id: S2, steps: [press go], end: m is b}
- {id: S3, steps: [press go], end: door}
- {id: S4, steps: [set door to yes, press go], end: door}
""",
    )
    assert answers(text) == "hffh"
    assert verdicts(text + "assume:\n  - {id: A, always: door or not go}\n")["S3"] == "holds"


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ({"requirements": asked("possible: m is b")}, 1),  # the conflict is an error
        ({"requirements": asked("possible: m is b"), "waive": "{rule-conflict:q+r: known}"}, 0),
        ({"requirements": asked("never: m is b"), "waive": "{rule-conflict:q+r: known}"}, 1),
        (
            {
                "requirements": asked("never: m is b, expected: fails, reason: known"),
                "waive": "[{id: rule-conflict:q+r, reason: known}]",
            },
            0,
        ),
        (
            {
                "requirements": asked("never: m is b and m is c, expected: fails, reason: no"),
                "waive": "{rule-conflict:q+r: known}",
            },
            1,
        ),
    ],
)
def test_exit_codes(parts: dict[str, str], code: int) -> None:
    """1 for what is not as expected or not waived; 0 if all is as expected."""
    rules = "- {id: r, from: a, if: go, to: b}\n- {id: q, from: a, if: stop, to: c}"
    assert check(load(spec(rules=rules, **parts))).exit_code == code
