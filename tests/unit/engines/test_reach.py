"""An invariant is found where nothing goes wrong, and only there; within its work, the same each time."""

from __future__ import annotations

import pytest
from claiming import PLENTY, question
from making import DOOR

from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.obligations import discharged, obligations
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.semantics.terms import variables

HOLDING = [
    "never: m is b and m is c",
    "after: m is b, keep: m is b, for: 2 s",
    "after: m is b, expect: m is c, within: 2 s",
    "after: taken(open), apart: 2 s",
    "after: m is c, keep: m is c, until: pressed(stop)",
    "after: taken(open), at_once: m is b",
    "never: taken(lock) and taken(open)",
]
BREAKING = [
    "never: m is c",
    "never: m is a",  # at the start already
    "after: m is b, keep: m is b, for: 2001 ms",
    "after: m is b, expect: m is c, within: 1999 ms",
    "after: m is b, expect: m is c, within: under 2 s",
    "after: taken(open), apart: 2001 ms",
    "after: m is c, expect: m is a, within: 1 h",
    "never: (go) for 3 s",
]


def asked(requirement: str, text: str = DOOR) -> Transition:
    return question(text + f"requirements: [{{id: R, {requirement}}}]\n")


@pytest.mark.parametrize("requirement", HOLDING)
def test_where_nothing_goes_wrong_facts_are_found_that_prove_it(requirement: str) -> None:
    transition = asked(requirement)
    facts = invariant(transition, PLENTY, Limits())
    assert facts is not None
    assert set(variables(*facts)) <= set(transition.variables)
    assert all(discharged(o, Limits()) for o in obligations(transition, facts))


@pytest.mark.parametrize("requirement", BREAKING)
def test_where_something_goes_wrong_none_are(requirement: str) -> None:
    assert invariant(asked(requirement), PLENTY, Limits()) is None


@pytest.mark.parametrize(
    "requirement",
    ["never: m is a and m is not a", "after: go, keep: m is a or m is not a, for: 1 s", "always: 1 = 1"],
)
def test_what_cannot_go_wrong_in_any_state_needs_no_facts(requirement: str) -> None:
    assert invariant(asked(requirement), PLENTY, Limits()) == []


def test_dense_time_is_exact_at_strict_bounds() -> None:
    text = DOOR.replace("after: 2 s", "takes: over 1 s to under 2 s")
    within = "after: m is b, expect: m is not b, within: {}"
    assert invariant(asked(within.format("under 2 s"), text), PLENTY, Limits()) is not None
    assert invariant(asked(within.format("1999999 ms / 1000"), text), PLENTY, Limits()) is None
    keep = "after: m is b, keep: m is b, for: {}"
    assert invariant(asked(keep.format("1 s"), text), PLENTY, Limits()) is not None
    assert invariant(asked(keep.format("1000001 ms / 1000"), text), PLENTY, Limits()) is None


def test_the_same_question_gives_the_same_facts() -> None:
    def found() -> list[str]:
        transition = asked("after: m is b, keep: m is b, for: 2 s")
        facts = invariant(transition, PLENTY, Limits())
        assert facts
        return [Lemmas(transition).written(fact) for fact in facts]

    assert found() == found()


@pytest.mark.parametrize("work", [1, 1_000])
def test_too_little_work_is_said_as_such(work: int) -> None:
    with pytest.raises(LimitError, match=r"work limit of 1.* solver steps was reached") as caught:
        invariant(asked("after: m is b, keep: m is b, for: 2 s"), work, Limits())
    assert not caught.value.final


def test_no_time_ends_it() -> None:
    with pytest.raises(LimitError, match="time limit") as caught:
        invariant(asked("never: m is c"), PLENTY, Limits(seconds=0.0))
    assert caught.value.final


def test_what_the_solver_cannot_decide_is_not_called_a_lack_of_work() -> None:
    text = "system: s\ninputs: {x: 0 % to 100 %}\nrequirements: [{id: R, never: x * x = 50 %}]\n"
    with pytest.raises(LimitError) as caught:
        invariant(question(text), PLENTY, Limits())
    assert "work limit" not in str(caught.value) and not caught.value.final
