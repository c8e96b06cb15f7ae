"""What section 4 and the kinds of section 3 forbid: refused with a code, a place and a remedy.

The messages themselves are pinned in tests/invalid; here stands which sentence forbids what.
"""

from __future__ import annotations

import pytest
from test_notation_accepts import HEAD

from prioritylogic import SpecError, load

EXPRESSIONS = {
    # conditions and events are two kinds
    "before(pressed(go))": "event-not-allowed",
    "pressed(go) for 3 s": "event-not-allowed",
    "(pressed(go) and stop) for 3 s": "event-not-allowed",
    "taken(grip) for 3 s": "event-not-allowed",
    "jam[left].sounds for 3 s": "event-not-allowed",
    "begins(pressed(go))": "event-not-allowed",
    # only a button can be pressed
    "pressed(shut)": "wrong-arguments",
    "released(mode)": "wrong-arguments",
    # `is` and `in` for names, `=` and the like for quantities
    "helm = free": "wrong-comparison",
    "gear is 2": "wrong-comparison",
    "gear in (1, 2)": "wrong-comparison",
    "mode > 2": "wrong-comparison",
    "go = yes": "wrong-comparison",
    "done is no": "wrong-comparison",
    "helm": "wrong-type",
    "gear": "wrong-type",
    "helm is nowhere": "unknown-value",
    "helm is held": "unknown-value",
    "mode is last": "never-equal",
    "last in mast": "never-equal",
    # units
    "3 s + 4 deg > 0 s": "wrong-dimension",
    "heading + 3 > 4 deg": "bare-number",
    "hold = 9": "bare-number",
    "go for 3": "wrong-dimension",
    "go for 3 m": "wrong-dimension",
    "9 sec > hold": "unknown-unit",
    # indices and binders
    "take": "index-count",
    "take[left, right]": "index-count",
    "take[middle]": "unknown-value",
    "n[go] = 1": "bad-index",
    "n[mode] = 1": "bad-index",
    "take[word]": "bad-index",  # memory with a value more than the group
    "any(take[go] over go in cabin)": "shadowed",
    "any(take[left] over left in cabin)": "shadowed",
    "any(take[x] over x in cabin where shut)": "not-constant",
    "any(take[x] over x in crew)": "unknown-group",
    "other(mode) is manual": "wrong-arguments",
    # a delay follows a name, a call or a parenthesis
    "gear > 2 for 3 s": "needs-parentheses",
    "go within 3 s": "syntax",
    "go for 0 s": "bad-duration",
    # others' notations
    "go == stop": "wrong-operator",
    "go && stop": "wrong-operator",
    "1 < gear < 3": "chained-comparison",
    "go AND stop": "wrong-operator",
    "sqrt(gear) > 1": "unknown-function",
    "true": "unknown-name",
    "before(before(go))": "nested-before",
    "jam[left]": "not-readable",
    "go.raised": "not-readable",
    "taken(nothing)": "unknown-rule",
}


def codes(text: str) -> list[str]:
    with pytest.raises(SpecError) as caught:
        load(text)
    for problem in caught.value.problems:
        assert problem.message and problem.remedy and problem.span.line > 0
    return [problem.code for problem in caught.value.problems]


@pytest.mark.parametrize("expression", EXPRESSIONS)
def test_expressions(expression: str) -> None:
    """Each is refused, for the reason that the sentence gives."""
    assert EXPRESSIONS[expression] in codes(
        f"{HEAD}requirements:\n  - id: R\n    always: {expression}\n"
    )


RULES = {
    # timing
    "after: 2 s; takes: 1 s to 3 s": "bad-timing",
    "after: over 2 s": "bad-timing",
    "if: pressed(go); takes: 1 s to 3 s": "event-with-takes",
    "since: r; may: yes": "bad-timing",
    "takes: 3 s to 1 s": "bad-duration",
    "takes: over 3 s to under 3 s": "bad-duration",
    "takes: at most 3 s; may: yes": "bad-timing",
    "fair: yes": "bad-timing",
    "after: 2": "wrong-dimension",
    "takes: at least 1 s; since: nothing": "unknown-rule",
    # what stands still as the reaction starts never begins there
    "if: begins(m is b)": "never-begins",
    "if: begins(k)": "never-begins",
    "if: changed(m)": "never-begins",
    "if: taken(r)": "own-rule",
    # priority
    "if: go; beats: r": "beats-circle",
    "beats: engage": "beats-elsewhere",
    "beats: nothing": "unknown-rule",
    # writes
    "set: {go: yes}": "bad-write",
    "set: {k: 3}": "wrong-type",
}
MACHINE = """\
system: tiny
inputs: {go: button}
memory: {k: {values: yes_no, start: no}}
machines:
  n: {states: [a, b], start: a, rules: [{id: engage, from: a, if: pressed(go), to: b}]}
  m:
    states: [a, b]
    start: a
    rules:
      - {id: w, from: b, set: {k: yes}, to: a}
      - id: r
        from: a
        to: b
        """


@pytest.mark.parametrize("keys", RULES)
def test_rules(keys: str) -> None:
    """Each combination of keys that has no meaning is refused."""
    assert RULES[keys] in codes(MACHINE + keys.replace("; ", "\n        ") + "\n")


REQUIREMENTS = {
    "always: go; never: stop": "no-form",
    "after: go": "no-form",
    "after: go; keep: shut; until: stop; for: 3 s": "no-form",
    "always: go; unless: stop": "bad-unless",
    "while: pressed(go); expect: shut; every: 3 s": "event-not-allowed",
    "after: go; keep: pressed(stop); for: 3 s": "event-not-allowed",
    "never: go; during: pressed(stop)": "event-not-allowed",
    "never: go; assuming: NOTHING": "unknown-assumption",
    "never: go; expected: fail": "unknown-choice",
    "each: c in cabin; never: take[c]; expected: {fails: [middle]}": "bad-expected",
    "each: c in crew; never: go": "unknown-group",
    "each: c in cabin where c is not c; never: go": "no-member",
    "each: go in cabin; never: shut": "shadowed",
}


@pytest.mark.parametrize("keys", REQUIREMENTS)
def test_requirements(keys: str) -> None:
    """What makes up no form, or asks nothing, is refused."""
    text = f"{HEAD}requirements:\n  - id: R\n    " + keys.replace("; ", "\n    ") + "\n"
    assert REQUIREMENTS[keys] in codes(text)


STEPS = {
    "press shut": "bad-step",
    "set helm to free": "bad-step",
    "set gear to 4": "bad-step",
    "set mode to sideways": "unknown-value",
    "take engage": "bad-step",
    "wait 3": "wrong-dimension",
    "wait 0 s": "bad-duration",
    "push go": "syntax",
    "check pressed(go)": "event-not-allowed",
    "{together: [press go, wait 3 s]}": "bad-step",
    "{together: [press go, release go]}": "bad-step",
}


@pytest.mark.parametrize("step", STEPS)
def test_steps(step: str) -> None:
    """A step that the environment cannot do is refused."""
    assert STEPS[step] in codes(f"{HEAD}stories:\n  - id: S\n    steps:\n      - {step}\n")


MIXED = "pressed(go) or shut"


@pytest.mark.parametrize(
    ("keys", "warned"),
    [
        (f"after: {MIXED}; expect: stop; within: 3 s", {"R.after"}),
        (f"after: go; expect: {MIXED}; within: 3 s", {"R.expect"}),
        (f"after: go; keep: {MIXED}; until: stop", {"R.keep"}),
        (f"after: go; keep: stop; until: {MIXED}", {"R.until"}),
        (f"while: {MIXED}; expect: stop; every: 3 s", {"R.while"}),
        (f"after: go; expect: stop; within: 3 s; unless: {MIXED}", set()),
        (f"always: {MIXED}", set()),
        (f"never: {MIXED}", set()),
        ("after: pressed(go) and shut; expect: not pressed(stop); within: 3 s", set()),
        # `not` of an event is a condition, of whatever parts the event is made
        ("after: go; keep: not (pressed(go) and not pressed(stop)); for: 3 s", set()),
        ("after: go; keep: not (pressed(go) or shut and released(go)); for: 3 s", set()),
        ("after: go; keep: not not pressed(go) or shut; for: 3 s", {"R.keep"}),
    ],
)
def test_mixed_conditions_are_warned_of(keys: str, warned: set[str]) -> None:
    """An event `or` a condition is mixed: a warning where one of the two is wanted, else fine."""
    system = load(f"{HEAD}requirements:\n  - id: R\n    " + keys.replace("; ", "\n    ") + "\n")
    assert {r.subject for r in system.remarks if r.kind == "mixed-condition"} == warned


def test_a_circle_names_itself_and_the_place_of_before() -> None:
    """A cycle is an error that names the cycle and proposes where `before(...)` belongs."""
    machine = "{{states: [a, b], start: a, rules: [{{id: r{0}, from: a, if: {1} is a, to: b}}]}}"
    text = f"system: x\nmachines:\n  m: {machine.format(1, 'n')}\n  n: {machine.format(2, 'm')}\n"
    with pytest.raises(SpecError) as caught:
        load(text)
    (problem,) = caught.value.problems
    assert "'m' reads 'n', 'n' reads 'm'" in problem.message and "before(n)" in problem.remedy
    load(text + "interleaved: [m, n]\n")
    load(text.replace("if: n is a", "if: before(n) is a"))


def test_a_family_of_states_needs_an_index() -> None:
    """`held[cabin]` declares one state for each member; `held` alone is none of them."""
    with pytest.raises(SpecError) as caught:
        load(f"{HEAD}requirements:\n  - {{id: R, never: helm is held}}\n")
    assert "held[left], held[right]" in caught.value.problems[0].remedy
