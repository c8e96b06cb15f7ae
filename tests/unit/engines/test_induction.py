"""Induction by itself: which argument is used, what it rests on, and that faults in it are noticed."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import prioritylogic
from prioritylogic.engines import templates, unwinding
from prioritylogic.engines.induction import Inducting
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.requirements.observer import observer

WORK = 20_000_000
UNTIMED = """
system: door
inputs: {go: button, stop: button}
machines:
  m:
    states: [shut, ajar, open]
    start: shut
    rules:
      - {id: nudge, from: shut, if: pressed(go), to: ajar}
      - {id: push, from: ajar, if: pressed(go), to: open}
      - {id: pull, from: any, if: pressed(stop) and not pressed(go), to: shut}
requirements:
  - {id: STEPS, never: m is open and before(m) is shut}
  - {id: ORDER, never: m is open and not go}
  - {id: SHUT, never: m is shut and taken(push)}
"""
ONCE = """
system: latch
inputs: {b: button}
machines:
  m:
    states: [shut, open]
    start: shut
    rules:
      - {id: move, from: shut, if: changed(b), to: open}
requirements:
  - {id: NEVER, never: taken(move)}
"""
TIMED = """
system: lamp
inputs: {b: button}
memory:
  presses: {values: whole 0 to 3, start: 0}
machines:
  m:
    states: [new, off, on]
    start: new
    rules:
      - {id: light, from: off, if: pressed(b), to: on, set: {presses: "min(presses + 1, 3)"}}
      - {id: fade, from: on, after: 2 s, to: off}
      - {id: tidy, from: new, to: off}
requirements:
  - {id: FADES, after: m is on, expect: m is off, within: 2 s}
  - {id: COUNTS, never: m is on and presses = 0}
  - {id: SOONER, after: m is on, expect: m is off, within: 1 s}
  - {id: AT-ONCE, never: before(m) is new and m is off and not (b) for 1 s}
"""


def seek(text: str, id_: str, work: int = WORK) -> Found:
    system = prioritylogic.load(text)
    asked = list(system.requirements)
    watching = {n: found for n, r in enumerate(asked) if (found := observer(r)) is not None}
    engine = Inducting(system, asked, watching, Limits(), Options())
    number = next(n for n, r in enumerate(asked) if r.id == id_)
    return engine.seek(number, True, work)


def test_without_clocks_states_in_a_row_are_counted() -> None:
    found = seek(UNTIMED, "STEPS")
    assert isinstance(found, Unbroken)
    assert found.reason == "induction from 1 state in a row; cvc5 proves the same"
    found = seek(UNTIMED, "SHUT")
    assert isinstance(found, Unbroken) and found.brief.endswith("and cvc5 proves it")


def test_its_base_finds_a_shortest_run() -> None:
    found = seek(UNTIMED, "ORDER")
    assert isinstance(found, Broken) and found.run is not None
    assert len(found.run.moments) == 5  # go pressed, let go, pressed, let go


def test_with_clocks_it_rests_on_facts_that_are_written_down() -> None:
    found = seek(TIMED, "FADES")
    assert isinstance(found, Unbroken) and found.invariant
    assert "cvc5 proves the same from the facts as they are written" in found.reason
    counted = seek(TIMED, "COUNTS")
    assert isinstance(counted, Unbroken)
    assert any("presses" in fact for fact in counted.invariant)


def test_what_only_the_first_reaction_breaks_is_no_fact_about_states() -> None:
    assert seek(TIMED, "AT-ONCE") == Broken()


def test_all_questions_together_have_so_much_work() -> None:
    with pytest.raises(LimitError, match="no set of template clauses"):
        seek(TIMED, "SOONER")
    with pytest.raises(LimitError, match=r"the work limit of 100\s000 solver steps"):
        seek(TIMED, "SOONER", 100_000)


def test_it_says_the_same_every_time() -> None:
    assert [seek(TIMED, "FADES") for _ in range(2)] == [seek(TIMED, "FADES")] * 2


def test_too_many_clauses_are_declined(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(templates, "MOST_CANDIDATES", 10)
    with pytest.raises(LimitError, match="more than 10 template clauses"):
        seek(TIMED, "FADES")


# --------------------------------------------------------------------------- planted faults

Patch = pytest.MonkeyPatch


def a_clause_that_a_step_makes_false_is_kept(patch: Patch) -> None:
    patch.setattr(templates.Pruning, "_dropped", lambda own, left, *_: left)
    patch.setattr(templates.Pruning, "enough", lambda own, left: left)
    patch.setattr("prioritylogic.engines.proving.thinned", lambda _, facts, __: facts)
    patch.setattr(templates, "MOST_CANDIDATES", 100_000)


def only_the_first_reaction_prunes(patch: Patch) -> None:
    old = templates.Pruning._dropped
    patch.setattr(
        templates.Pruning,
        "_dropped",
        lambda own, left, solver, broken, after, later: (
            left if later else old(own, left, solver, broken, after, later)
        ),
    )
    patch.setattr(templates.Pruning, "enough", lambda own, left: left[:40])
    patch.setattr("prioritylogic.engines.proving.thinned", lambda _, facts, __: facts)


@pytest.mark.parametrize(
    "fault", [a_clause_that_a_step_makes_false_is_kept, only_the_first_reaction_prunes]
)
def test_the_second_solver_notices(fault: Callable[[Patch], None], monkeypatch: Patch) -> None:
    fault(monkeypatch)
    with pytest.raises((DisagreementError, LimitError)) as caught:
        seek(TIMED, "SOONER")
    assert isinstance(caught.value, DisagreementError)


def test_a_step_that_is_never_asked_is_noticed(monkeypatch: Patch) -> None:
    monkeypatch.setattr(unwinding.Unwinding, "_possible", lambda *_: False)
    with pytest.raises(DisagreementError, match="second solver refutes"):
        seek(UNTIMED, "ORDER")


def test_a_base_that_is_never_asked_is_noticed(monkeypatch: Patch) -> None:
    monkeypatch.setattr(unwinding.Unrolled, "next", lambda _: None)
    with pytest.raises((DisagreementError, LimitError)):
        seek(UNTIMED, "ORDER")


def a_base_one_reaction_short(patch: Patch) -> None:
    old = unwinding.Unrolled.next

    def late(own: unwinding.Unrolled) -> object:
        if own not in asked:
            asked.append(own)
            return None
        return old(own)

    asked: list[unwinding.Unrolled] = []
    patch.setattr(unwinding.Unrolled, "next", late)


def states_that_differ_in_too_little(patch: Patch) -> None:
    def equal(own: unwinding.Unwinding, one: int, other: int) -> object:
        t, values = own.transition.terms, own.transition.symbolic.named["m"]
        return t.all(*(t.same(own._at(one, v), own._at(other, v)) for v in values))

    patch.setattr(unwinding.Unwinding, "_equal", equal)


@pytest.mark.parametrize(
    "fault, text, id_",
    [
        (a_base_one_reaction_short, ONCE, "NEVER"),
        (states_that_differ_in_too_little, UNTIMED, "ORDER"),
    ],
)
def test_another_engine_or_the_second_solver_notices(
    fault: Callable[[Patch], None], text: str, id_: str, monkeypatch: Patch
) -> None:
    assert isinstance(seek(text, id_), Broken)
    fault(monkeypatch)
    try:
        assert isinstance(seek(text, id_), Unbroken)  # as the oracle of the agreement tests denies
    except DisagreementError as noticed:
        assert "refutes" in str(noticed)
