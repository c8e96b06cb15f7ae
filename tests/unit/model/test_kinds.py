"""Condition, event or mixed: shown by what may stand before `for`, in `before`, and what warns."""

from __future__ import annotations

import pytest
from saying import NAMES, built, codes

from prioritylogic.model.formula import FALSE, Read
from prioritylogic.model.types import Truth, Typed, both, either


def warned(expression: str) -> list[str]:
    text = f"{NAMES}requirements: [{{id: R, after: {expression!r}, at_once: go}}]\n"
    return [r.subject for r in built(text).remarks if r.kind == "mixed-condition"]


def hidden(*lines: str) -> list[tuple[str, int]]:
    """The binders that values hide, with their columns, in a spec whose machine has a state `c`."""
    text = NAMES.replace("states: [standby, active]", "states: [standby, active, c]") + "".join(lines)
    return [(r.subject, r.span.column) for r in built(text).remarks if r.kind == "hidden-binder"]


def test_a_value_that_hides_a_binder_is_told() -> None:
    requirement = "requirements: [{{id: R, each: c in cabin, possible: '{}'}}]\n"
    assert hidden(requirement.format("pilot is c and take[c]")) == [("c", 62)]
    assert hidden(requirement.format("pilot in (active, c) and take[c]")) == [("c", 71)]
    assert hidden(requirement.format("pilot is active and last is c")) == []
    assert hidden("requirements: [{id: R, possible: 'any(pilot is c over c in mast)'}]\n") == [("c", 48)]
    assert (
        hidden("requirements: [{id: R, each: d in cabin, possible: 'pilot is c and take[d]'}]\n") == []
    )


def is_event(expression: str) -> bool:
    text = f"{NAMES}requirements: [{{id: R, always: go, during: {expression!r}}}]\n"
    return codes(text) == ["event-not-allowed"]


@pytest.mark.parametrize(
    "expression",
    [
        "pressed(go)",
        "released(go)",
        "begins(shut)",
        "ends(shut)",
        "changed(mode)",
        "taken(grip)",
        "jam.sounds",
        "pushed",
        "pressed(go) and shut",
        "pressed(go) or pressed(take[left])",
        "not (not pressed(go) or shut)",
        "not (pressed(go) implies shut)",
        "any(pressed(take[c]) over c in cabin)",
        "pressed(go) if shut else pressed(take[left])",
    ],
)
def test_events(expression: str) -> None:
    assert is_event(expression) and not warned(expression)


@pytest.mark.parametrize(
    "expression",
    [
        "shut",
        "not pressed(go)",
        "not (pressed(go) and shut)",
        "pressed(go) implies shut",
        "pressed(go) within last 3 s",
        "jam.raised and not jam.cleared",
        "before(shut)",
    ],
)
def test_conditions(expression: str) -> None:
    assert not is_event(expression) and not warned(expression)


@pytest.mark.parametrize(
    "expression",
    ["pressed(go) or shut", "not pressed(go) implies shut", "pressed(go) if shut else shut"],
)
def test_mixed_ones_are_warned_of(expression: str) -> None:
    assert not is_event(expression) and warned(expression) == ["R.after"]


def test_mixed_ones_are_fine_where_nothing_begins() -> None:
    mixed = "pressed(go) or shut"
    text = (
        f"{NAMES}assume: [{{id: A, always: {mixed}}}]\n"
        f"requirements: [{{id: R, after: go, expect: shut, unless: {mixed}}}, "
        f"{{id: S, never: {mixed}}}]\n"
    ).replace("jam: {raise: shut and go}", f"jam: {{raise: shut, clear: {mixed}}}")
    assert not [r for r in built(text).remarks if r.kind == "mixed-condition"]


def test_constants_do_not_count() -> None:
    event = Typed(Read("a"), Truth(), "event", "condition")
    never = Typed(FALSE, Truth())
    assert both([event, never]) == either([event, never]) == "event"
