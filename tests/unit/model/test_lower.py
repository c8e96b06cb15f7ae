"""Expressions to formulas: each line is one sentence of the notation."""

from __future__ import annotations

import pytest
from saying import asked, built, codes, lowered

from prioritylogic.model.system import Real


@pytest.mark.parametrize(
    ("expression", "formula"),
    [
        # truth
        ("go and shut and done", "(go & shut & done)"),
        ("go implies shut", "(!go | shut)"),
        ("not not go", "go"),
        ("shut if go else done", "(go ? shut : done)"),
        ("go and yes", "go"),
        # names and their values
        ("helm is held[left]", "helm=held[left]"),
        ("helm is not free", "!helm=free"),
        ("left is last", "left=last"),
        ("last in cabin", "(last=left | last=right)"),
        ("helm is not in (free, held[right])", "!(helm=free | helm=held[right])"),
        ("last is other(last)", "last=(last=left ? right : left)"),
        ("last is (left if go else right)", "last=(go ? left : right)"),
        # indices: memory becomes a choice
        ("take[last]", "(last=left ? take[left] : take[right])"),
        ("take[other(last)]", "((last=left ? right : left)=left ? take[left] : take[right])"),
        ("helm is held[last]", "helm=(last=left ? held[left] : held[right])"),
        ("n[last] = 3", "(last=left ? n[left] : n[right])=3"),
        # numbers: exact, in base units
        ("lever[left] > 50 %", "1/2<lever[left]"),
        ("lever[left] >= limit", "1/25<=lever[left]"),
        ("heading / 4 = 0", "1/4*heading=0"),
        ("heading - 1 deg - 2 deg > 0", "0<(heading + -3)"),
        ("heading * lever[left] > 2 deg", "2<heading*lever[left]"),
        ("abs(lever[left]) != 0", "!max(lever[left], -1*lever[left])=0"),
        ("clamp(lever[left], 0, 5 %) = 0", "max(0, min(lever[left], 1/20))=0"),
        ("20 ms < 1 min", "true"),
        # runs over groups
        ("any(take[c] over c in cabin)", "(take[left] | take[right])"),
        ("all(n[c] = 0 over c in cabin)", "(n[left]=0 & n[right]=0)"),
        ("count(take[c] over c in cabin) = 1", "((take[left] ? 1 : 0) + (take[right] ? 1 : 0))=1"),
        ("count(go, shut) < 2", "((go ? 1 : 0) + (shut ? 1 : 0))<2"),
        ("sum(lever[c] over c in cabin) = 0", "(lever[left] + lever[right])=0"),
        ("max(n[c] over c in cabin) = 0", "max(n[left], n[right])=0"),
        ("min(n[left], 2) = 0", "min(n[left], 2)=0"),
        ("any(go over m in mast where m is not m)", "false"),
        ("sum(1 over m in mast where m in (fore, aft)) = 2", "true"),
        # moments
        ("pressed(go)", "(go & !go')"),
        ("released(go)", "(!go & go')"),
        ("begins(helm is free)", "(helm=free & !helm'=free)"),
        ("ends(shut)", "(!shut & shut')"),
        ("changed(last)", "!last=last'"),
        ("changed(heading)", "!heading=heading'"),
        ("before(lever[left] > 5 %)", "1/20<lever[left]'"),
        ("before(jam.raised) and jam.sounds", "(jam.raised' & jam.sounds)"),
        ("taken(grip)", "taken(grip[left], grip[right])"),
        ("taken(grip[right])", "taken(grip[right])"),
        ("shut for hold", "timer0(shut)"),
        ("not (go within last 2 s)", "!timer0(go)"),
        ("before(shut for 2 s)", "timer0'"),
        # terms are gone
        ("moved[left] and pushed", "(1/25<max(lever[left], -1*lever[left]) & go & !go')"),
    ],
)
def test_lowering(expression: str, formula: str) -> None:
    assert lowered(expression) == formula


@pytest.mark.parametrize(
    ("expression", "formula"),
    [
        ("last is c", "last=left"),
        ("take[other(c)]", "take[right]"),
        ("helm is held[c]", "helm=held[left]"),
        ("c is right and pressed(go)", "false"),
        ("any(take[d] over d in cabin where d is not c)", "take[right]"),
        ("taken(grip[c])", "taken(grip[left])"),
    ],
)
def test_binders_stand_for_members(expression: str, formula: str) -> None:
    assert lowered(expression, each="c in cabin") == formula


def test_families_are_expanded_in_binder_order() -> None:
    system = built(asked("take[c] and lever[d] > 0", each="c in cabin, d in cabin where d is not c"))
    assert [r.member for r in system.requirements] == [
        (("c", "left"), ("d", "right")),
        (("c", "right"), ("d", "left")),
    ]


@pytest.mark.parametrize(
    "expression",
    [
        "lever[left] > 0.5",  # `%` has no dimension
        "heading > 0",  # 0 is at home everywhere
        "3 m / 2 s > 1 m/s",
        "1 kn > 0.5 m/s",
        "(heading if go else 0) > 1 deg",
        "2 * (3 s) > 1 s",
    ],
)
def test_units_that_fit(expression: str) -> None:
    assert codes(asked(expression)) == []


@pytest.mark.parametrize(
    ("expression", "code"),
    [
        ("3 m / 2 s > 1 m", "wrong-dimension"),
        ("1 s > 1 %", "wrong-dimension"),
        ("max(heading, 5) > 1 deg", "bare-number"),
        ("-5 < heading", "bare-number"),
    ],
)
def test_units_that_do_not_fit(expression: str, code: str) -> None:
    assert codes(asked(expression)) == [code]


def test_a_fault_is_reported_once_for_a_family_and_not_again_where_it_is_read() -> None:
    text = asked("wrong[c] and wrong[other(c)]", each="c in cabin").replace(
        "  pushed:", "  wrong[c in cabin]: nothing[c]\n  pushed:"
    )
    assert codes(text) == ["unknown-name"]


def test_what_an_input_can_be() -> None:
    system = built(
        "system: x\ngroups: {g: [a, b]}\ninputs:\n"
        "  b: {values: button, start: pressed}\n  s: {values: signal, start: no}\n  f: yes_no\n"
        "  l: [u, v]\n  g1: g\n  w: whole 0 to 3\n  r: 0 to 5 deg/s\n"
        "  t: {values: 0 min to 2 min, start: 1 min}\n"
    )
    starts = {i.name: i.start for i in system.inputs}
    assert starts == {"b": True, "s": False, "t": 60} | dict.fromkeys(("f", "l", "g1", "w", "r"))
    real = system.domain("r")
    assert isinstance(real, Real) and (real.low, real.high, real.unit) == (0, 5, "deg/s")
    assert system.domain("t") == Real(0, 120, "min", 60)


def test_buttons_start_released() -> None:
    assert {i.name: i.start for i in built(asked("go")).inputs}["go"] is False


def test_settings_refer_to_each_other_and_to_members() -> None:
    text = (
        "system: x\ngroups: {g: [a, b]}\nsettings:\n  long: 2 * short\n"
        "  short: {value: 3 s, range: 1 s to 9 s}\n"
        "  wait[c in g]: {a: 3 s, b: long}\n  same[g]: 1 s\ninputs: {i: signal}\n"
        "requirements:\n  - {id: R, each: c in g, possible: 'i for wait[c]'}\n"
        "  - {id: S, possible: 'i for same[a]'}\n"
    )
    assert [t.time for t in built(text).timed] == [3, 6, 1]


def test_a_table_of_cases_is_nested_choices_and_kept() -> None:
    text = asked("speed is fast").replace(
        "  pushed:",
        "  speed: {cases: [{when: go, is: fast}, {when: shut, is: last}, {otherwise: slow}]}\n  pushed:",
    )
    system = built(text)
    assert lowered("go") == "go"
    (cases,) = system.cases
    assert (len(cases.whens), len(cases.values), len(cases.spans)) == (2, 3, 3)
    term = next(t for t in system.terms if t.name == "speed")
    assert term.domain.values == ("fast", "slow", "left", "right")
