"""An invariant loses what it does not need, keeps what it does, and is still one."""

from __future__ import annotations

import pytest
import z3
from claiming import PLENTY, question
from making import DOOR

from prioritylogic.engines import thinning
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.obligations import discharged, obligations
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.thinning import nothing_needed, thinned
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.semantics.terms import Term

KEEP = DOOR + "requirements: [{id: R, after: m is b, keep: m is b, for: 2 s}]\n"
ANSWER = DOOR + "requirements: [{id: R, after: m is b, expect: m is c, within: 2 s}]\n"
PLAIN = DOOR + "requirements: [{id: R, never: m is b and m is c}]\n"
KEPT = ("asked implies m is b", "m.time <= asked.time")
IDLE = ("m is c implies not asked", "m is a implies not asked", "asked implies m.time < 2 s")


@pytest.fixture(scope="module")
def keeping() -> Transition:
    return question(KEEP)


def after_thinning(transition: Transition, *texts: str) -> list[str]:
    lemmas = Lemmas(transition)
    return [lemmas.written(f) for f in thinned(transition, list(map(lemmas.read, texts)), Limits())]


def proved(transition: Transition, facts: list[Term]) -> bool:
    return all(discharged(o, Limits()) for o in obligations(transition, facts))


def test_what_is_needed_stays(keeping: Transition) -> None:
    assert after_thinning(keeping, *KEPT) == list(KEPT)


@pytest.mark.parametrize("at", range(3))
def test_what_is_not_needed_goes_wherever_it_stands(keeping: Transition, at: int) -> None:
    needed = list(KEPT)
    for idle in IDLE:
        given = [*needed[:at], idle, *needed[at:]]
        left = after_thinning(keeping, *given)
        assert len(left) == 2 and set(left) <= set(given)


def test_all_at_once_and_in_their_order(keeping: Transition) -> None:
    assert after_thinning(keeping, KEPT[1], KEPT[0], *IDLE) == [KEPT[1], KEPT[0]]


def test_of_two_that_say_the_same_the_first_stays(keeping: Transition) -> None:
    assert after_thinning(keeping, *KEPT, KEPT[0]) == list(KEPT)


@pytest.mark.parametrize("text", [KEEP, ANSWER])
def test_what_a_solver_finds_is_still_proved(text: str) -> None:
    transition = question(text)
    found = invariant(transition, PLENTY, Limits())
    assert found is not None
    left = thinned(transition, found, Limits())
    assert left and set(left) <= set(found)
    assert proved(transition, left)
    for one in left:
        assert not all(
            discharged_or_refuted(transition, [other for other in left if other is not one])
        ), "one fact less and it is no proof"


def discharged_or_refuted(transition: Transition, facts: list[Term]) -> list[bool]:
    answers = []
    for obligation in obligations(transition, facts):
        solver = z3.Solver(ctx=z3.Context())
        solver.from_string(obligation.text)
        answers.append(solver.check() == z3.unsat)
    return answers


def test_where_nothing_is_needed_nothing_stays() -> None:
    transition = question(PLAIN)
    assert nothing_needed(transition, Limits())
    assert after_thinning(transition, "m is a or m is b or m is c", "m.time >= 0 s") == []


def test_where_something_is_needed_that_is_said(keeping: Transition) -> None:
    assert not nothing_needed(keeping, Limits())


def test_facts_that_are_no_proof_are_left_alone(keeping: Transition) -> None:
    """It takes away; it never claims more than it was given."""
    assert after_thinning(keeping, KEPT[0]) == [KEPT[0]]
    assert after_thinning(keeping) == []


def test_too_many_facts_are_left_alone(keeping: Transition, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(thinning, "MOST_FACTS", 4)
    assert after_thinning(keeping, *KEPT, *IDLE) == [*KEPT, *IDLE]


def test_where_a_question_is_too_much_work_all_stays(
    keeping: Transition, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(thinning, "WORK", 1)
    assert after_thinning(keeping, *KEPT, *IDLE) == [*KEPT, *IDLE]


def test_no_time_ends_it(keeping: Transition) -> None:
    lemmas = Lemmas(keeping)
    with pytest.raises(LimitError, match="time limit"):
        thinned(keeping, list(map(lemmas.read, (*KEPT, *IDLE))), Limits(seconds=0.0))
