"""What is believed of a prover: only what a second solver proves, or the reference runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from claiming import PLENTY, prover
from making import DOOR, spec

from prioritylogic.engines import proving
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.proving import Bounded, Reaching
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.semantics.terms import Term

KEEP = "after: m is b, keep: m is b, for: 2 s"
LAMP = DOOR + "  lamp: {states: [x, y], start: x, rules: [{id: shine, from: x, if: go, to: y}]}\n"
Facts = Callable[[Transition], list[Term]]


def told(requirement: str, whole: bool = True, text: str = DOOR) -> Found:
    return prover(Reaching, spec(requirement, text)).seek(0, whole, PLENTY)


def claim(monkeypatch: pytest.MonkeyPatch, *texts: str) -> None:
    """Lets the finder claim that these facts are inductive and enough."""

    def invariant(transition: Transition, *_: Any) -> list[Term]:
        return [Lemmas(transition).read(text) for text in texts]

    monkeypatch.setattr(proving, "invariant", invariant)
    monkeypatch.setattr(proving, "thinned", lambda _transition, facts, _limits: facts)


def test_an_invariant_is_told_in_the_words_of_the_spec() -> None:
    found = told(KEEP)
    assert isinstance(found, Unbroken)
    assert set(found.invariant) == {"asked implies m is b", "m.time <= asked.time"}
    assert found.reason == (
        "an inductive invariant of 2 facts; cvc5 proves the same from the facts as they are written"
    )
    assert found.brief == "it has an inductive invariant, and cvc5 proves it"


def test_where_no_fact_is_needed_that_is_told() -> None:
    found = told("never: m is b and m is c")
    assert isinstance(found, Unbroken) and found.invariant == ()
    assert found.reason == "no step from any state breaks it; cvc5 proves the same"


def test_of_a_part_it_is_told_that_it_is_a_part() -> None:
    found = told(KEEP, whole=False, text=LAMP)
    assert isinstance(found, Unbroken)
    assert "about the part that it depends on" in found.reason
    whole = told(KEEP, whole=True, text=LAMP)
    assert isinstance(whole, Unbroken) and "part" not in whole.reason


@pytest.mark.parametrize(
    ("claimed", "refuted"),
    [
        (("1 = 0",), "starts true"),
        (("m is b",), "starts true"),
        (("m is not c",), "stays true"),
        (("asked implies m is b",), "is enough"),
        ((), "is enough"),
    ],
)
def test_a_finder_that_claims_too_much_is_caught(
    monkeypatch: pytest.MonkeyPatch, claimed: tuple[str, ...], refuted: str
) -> None:
    claim(monkeypatch, *claimed)
    with pytest.raises(DisagreementError, match=refuted):
        told(KEEP)


@pytest.mark.parametrize("requirement", ["never: m is c", "after: m is b, expect: m is c, within: 1 s"])
def test_no_claim_makes_a_requirement_hold_that_does_not(
    monkeypatch: pytest.MonkeyPatch, requirement: str
) -> None:
    for claimed in ((), ("m is not c",), ("m is a",), ("1 = 0",), ("m.time < 1 s",), ("m.time >= 0 s",)):
        claim(monkeypatch, *claimed)
        with pytest.raises(DisagreementError):
            told(requirement)


def test_what_is_proved_again_is_the_text_and_not_the_finders_terms(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A writer that leaves something out must not be believed."""
    monkeypatch.setattr(Lemmas, "written", lambda _self, _fact: "asked implies m is b")
    with pytest.raises(DisagreementError, match="is enough"):
        told(KEEP)


def test_no_second_opinion_is_said_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proving, "discharged", lambda asked, _limits: asked.name == "is enough" or None)
    found = told(KEEP)
    assert isinstance(found, Unbroken)
    assert found.reason.endswith(
        "no second opinion, since cvc5 did not finish (starts true and stays true)"
    )
    assert "cvc5" not in found.brief


def test_an_invariant_without_words_is_a_limit_and_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def invariant(transition: Transition, *_: Any) -> list[Term]:
        t, clock = transition.terms, transition.everything["m.time"]
        return [t.below(t.zero, t.multiply(clock, clock), True)]

    monkeypatch.setattr(proving, "invariant", invariant)
    monkeypatch.setattr(proving, "thinned", lambda _transition, facts, _limits: facts)
    with pytest.raises(LimitError, match="no words"):
        told(KEEP)


def test_a_name_has_one_value_even_if_nothing_asks_for_one_of_them() -> None:
    """Nobody asks whether m is c, yet "m is not b" and "m is a" were said as "m is a"."""
    sink = """
system: sink
inputs: {go: button}
machines:
  m:
    states: [a, b, c]
    start: a
    rules:
      - {id: never, from: a, after: 4 s, if: pressed(go) and not go, to: a}
      - {id: leave, from: b, after: 3 s, to: c}
      - {id: again, from: c, if: go and not go, to: b}
"""
    found = told("after: m is a, keep: m is a, for: 3 s", text=sink)
    assert isinstance(found, Unbroken) and found.invariant == ("m is a",)


def test_that_something_breaks_it_is_only_a_hint() -> None:
    assert told("never: m is c") == Broken()


def test_bounded_search_shows_a_run_of_the_whole() -> None:
    found = prover(Bounded, spec("never: m is c", LAMP)).seek(0, True, PLENTY)
    assert isinstance(found, Broken) and found.run is not None
    assert len(found.run.moments[-1].after.values) == 4  # two inputs, two machines


def test_no_time_is_left_for_the_second_solver_either(monkeypatch: pytest.MonkeyPatch) -> None:
    limits = Limits(seconds=60)
    real = proving.obligations

    def slow(*given: Any) -> Any:
        limits.seconds = 0.0
        return real(*given)

    monkeypatch.setattr(proving, "obligations", slow)
    with pytest.raises(LimitError, match="time limit"):
        prover(Reaching, spec(KEEP), limits).seek(0, True, PLENTY)
