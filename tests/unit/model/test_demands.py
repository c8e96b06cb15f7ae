"""Requirements, assumptions, alerts, stories and remarks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from saying import NAMES, built, codes, say

from prioritylogic.model.formula import Not, Read
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    KeepFor,
    KeepUntil,
    Possible,
    Recoverable,
    Requirement,
    Respond,
)

GO, SHUT = Read("go"), Read("shut")


def requirement(body: str) -> Requirement:
    return built(f"{NAMES}requirements: [{{id: R, {body}}}]\n").requirements[0]


@pytest.mark.parametrize(
    ("body", "keys", "form"),
    [
        ("always: go", "always", Always(GO)),
        ("never: go", "never", Always(Not(GO))),
        ("possible: go", "possible", Possible(GO)),
        ("recoverable: go", "recoverable", Recoverable(GO)),
        ("after: go, at_once: shut", "after at_once", Respond(GO, SHUT, Fraction(0))),
        ("after: go, expect: shut, within: 3 s", "after expect within", Respond(GO, SHUT, Fraction(3))),
        (
            "after: go, expect: shut, within: under 3 s",
            "after expect within",
            Respond(GO, SHUT, Fraction(3), True),
        ),
        ("after: go, expect: shut", "after expect", Respond(GO, SHUT, None)),
        ("after: go, keep: shut, until: go", "after keep until", KeepUntil(GO, SHUT, GO)),
        ("after: go, keep: shut, for: 3 s", "after keep for", KeepFor(GO, SHUT, Fraction(3))),
        ("while: go, expect: shut, every: 3 s", "while expect every", Every(GO, SHUT, Fraction(3))),
        ("after: go, apart: 3 s", "after apart", Apart(GO, Fraction(3))),
    ],
)
def test_forms(body: str, keys: str, form: object) -> None:
    found = requirement(body)
    assert (found.keys, found.form) == (keys, form)
    assert [key for key, _ in found.said] == keys.split()


@pytest.mark.parametrize(
    ("body", "formula"),
    [
        ("always: go", "(!shut | go)"),
        ("never: go", "(!shut | !go)"),
        ("possible: go", "(go & shut)"),
    ],
)
def test_during_narrows(body: str, formula: str) -> None:
    found = requirement(f"{body}, during: shut")
    assert say(found.form.condition) == formula and found.during == SHUT
    assert found.said[-1] == ("during", "shut")


def test_during_joins_the_trigger() -> None:
    assert say(requirement("after: go, expect: done, during: shut").form.after) == "(go & shut)"
    assert (
        say(requirement("while: go, expect: done, every: 1 s, during: shut").form.while_)
        == "(go & shut)"
    )


def test_expected_failures() -> None:
    head = f"{NAMES}requirements:\n  - id: R\n    each: c in cabin\n    always: take[c]\n"
    some = built(head + "    expected: {fails: [right], reason: worn}\n").requirements
    assert [(r.expected, r.reason) for r in some] == [("holds", "worn"), ("fails", "worn")]
    every = built(head + "    expected: fails\n    reason: worn\n").requirements
    assert [r.expected for r in every] == ["fails", "fails"]
    silent = built(head + "    expected: fails\n")
    assert ("expected-without-reason", "R") in [(r.kind, r.subject) for r in silent.remarks]


def test_assumptions() -> None:
    system = built(
        NAMES
        + "assume:\n  - {id: A, never: changed(mode)}\n  - {id: B, each: c in cabin, after: 'take[c]', "
        "expect: shut, within: under 3 s}\n  - {id: C, again_and_again: go}\n"
        "requirements: [{id: R, always: go, assuming: [B, C]}]\n"
    )
    a, b, _, c = system.assumptions
    assert say(a.holds) == "mode=mode'"
    assert (b.member, b.holds, b.within, b.under) == ((("c", "left"),), None, 3, True)
    assert c.again_and_again == GO and system.requirements[0].assuming == ("B", "C")


def test_alerts() -> None:
    text = NAMES.replace(
        "jam: {raise: shut and go}",
        "jam[c in cabin]: {raise: 'take[c]', repeat: 6 s, clear: [pressed(go), not shut], "
        "silence: {by: pressed(go), for: 2 s}}",
    )
    left, right = built(text).alerts
    assert (left.name, right.name, left.repeat, left.silence_for) == ("jam[left]", "jam[right]", 6, 2)
    assert say(left.clear) == "((go & !go') | !shut)"


def test_stories() -> None:
    text = (
        NAMES
        + """\
stories:
  - id: S
    each: c in cabin
    steps:
      - press take[c]
      - wait 2 s
      - set lever[c] to 5 %
      - set mode to automatic
      - set shut to yes
      - together: [press go, "release take[c]"]
      - check helm is held[c]
    end: last is c
    unsettled: yes
"""
    )
    left, right = built(text).stories
    assert [s.said for s in left.steps][:3] == ["press take[left]", "wait 2 s", "set lever[left] to 5 %"]
    assert [s.value for s in left.steps[2:5]] == [Fraction(1, 20), "automatic", True]
    assert [p.name for p in right.steps[5].parts] == ["go", "take[right]"]
    assert say(right.steps[6].condition) == "helm=held[right]" and left.unsettled


def test_a_story_takes_a_family_or_one_rule() -> None:
    text = NAMES.replace("if: pressed(take[c])", "if: take[c]\n        takes: at most 2 s")
    system = built(text + 'stories: [{id: S, steps: ["take grip", "take grip[left]"]}]\n')
    family, one = system.stories[0].steps
    assert family.rules == ("grip[left]", "grip[right]") and one.rules == ("grip[left]",)


def test_timers_of_requirements_observe_and_those_of_the_system_do_not() -> None:
    text = (
        NAMES + "outputs: {lamp: shut for 3 s}\nrequirements: [{id: R, possible: go for 2 s}, "
        "{id: S, possible: shut for 3 s}]\n"
    )
    assert {t.said: t.observed for t in built(text).timed} == {"shut for 3 s": False, "go for 2 s": True}


def test_unused_names_are_remarked() -> None:
    subjects = {r.subject for r in built(NAMES).remarks if r.kind == "unused-name"}
    assert subjects == {"hold", "mast", "heading", "mode", "last", "n", "done", "moved", "pushed"}
    read = built(NAMES + "requirements: [{id: R, possible: mode is manual}]\n")
    assert "mode" not in {r.subject for r in read.remarks}
    pressed = built(NAMES + "stories: [{id: S, steps: [set mode to manual]}]\n")
    assert "mode" in {r.subject for r in pressed.remarks}


def test_waivers_in_both_ways_of_writing() -> None:
    assert built(NAMES + "waive: {a-b: because}\n").waived == (("a-b", "because"),)
    assert built(NAMES + "waive: [{id: a-b, reason: because}]\n").waived == (("a-b", "because"),)


def test_outputs_know_how_they_are_shown() -> None:
    text = NAMES + (
        "outputs: {f: go, e: pressed(go), v: last, q: lever[left], w: heading * 2}\n"
    ).replace("lever[left]", "'lever[left]'")
    f, e, v, q, w = built(text).outputs
    assert (f.domain.word, e.domain.word, v.domain.values) == ("yes_no", "yes_no", ("left", "right"))
    assert (q.domain, q.unit, q.factor, w.unit) == (None, "%", Fraction(1, 100), "deg")


def test_all_problems_are_found_at_once() -> None:
    text = NAMES + (
        "requirements: [{id: R, possible: nothing}, {id: S, always: go for 0 s}]\n"
        "stories: [{id: T, steps: [press shut]}]\n"
    )
    assert sorted(codes(text)) == ["bad-duration", "bad-step", "unknown-name"]
