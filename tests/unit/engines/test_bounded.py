"""A shortest run that goes wrong, as short in time and as plain as it can be; run on the reference."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from claiming import PLENTY, question
from making import DOOR

from prioritylogic import load
from prioritylogic.engines.bounded import Found, Unrolled, plain_figures, rerun
from prioritylogic.engines.limits import Limits
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.model.system import Possible, Real
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run


def found(text: str, work: int = PLENTY, most: int = 20) -> Found | None:
    return Unrolled(question(text), work, Limits()).first(most)


def shown(text: str) -> Run:
    """The run that is found, taken by the reference, which must see it go wrong at its end."""
    system = load(text)
    result = found(text)
    assert result is not None
    run = rerun(Reference(system), result)
    judgement = Judgement(Reference(system), system.requirements[0], run)
    if isinstance(system.requirements[0].form, Possible):
        assert judgement.reached() == len(run.moments) - 1
    else:
        failure = judgement.failure()
        assert failure is not None and failure.moment in (None, len(run.moments) - 1)
    return run


def door(requirement: str) -> str:
    return DOOR + f"requirements: [{{id: R, {requirement}}}]\n"


@pytest.mark.parametrize(
    ("requirement", "reactions", "end"),
    [
        ("never: m is a", 1, 0),
        ("never: m is b", 2, 0),
        ("never: m is c", 3, 2),
        ("possible: m is c and pressed(stop)", 3, 2),
        ("after: m is b, expect: m is c, within: 1 s", 2, 2),  # late: it breaks while time passes
        ("after: m is c, expect: m is a, within: 7 s", 3, 10),
        ("after: m is c, keep: m is c, for: 3 s", 4, 2),
        ("after: taken(open), apart: 3 s", 5, 4),
        ("never: (go) for 3 s", 3, 3),
    ],
)
def test_the_run_is_shortest_and_takes_the_least_time(
    requirement: str, reactions: int, end: int
) -> None:
    run = shown(door(requirement))
    assert len(run.moments) == reactions
    assert end - 2 <= run.end <= end + 1 and run.end.denominator == 1


def test_instants_are_on_whole_ticks_where_they_can_be() -> None:
    run = shown(door("after: m is b, expect: m is c, within: 1 s"))
    assert all(moment.time.denominator == 1 for moment in run.moments)


def test_where_a_strict_bound_forbids_whole_ticks_they_are_parted() -> None:
    text = DOOR.replace("after: 2 s", "takes: over 1 s to under 2 s")
    run = shown(text + "requirements: [{id: R, never: m is c}]\n")
    assert run.moments[-1].time == Fraction(3, 2)


LEVER = """
system: lever
inputs: {x: 0 % to 100 %, idle: button, other: -5 deg to 5 deg}
memory:
  f: {values: yes_no, start: no}
  g: {values: [red, green, blue], start: green}
machines:
  m: {states: [a, b], start: a, rules: [{id: up, from: a, if: x > 40 %, to: b}]}
  lonely: {states: [p, q], start: p, rules: [{id: flip, from: any, may: yes, to: q, set: {f: not f, g: red}}]}
"""


def test_inputs_stay_as_they_are_and_figures_are_plain() -> None:
    run = shown(LEVER + "requirements: [{id: R, never: m is b and x < 50 %}]\n")
    assert [moment.after.values[:3] for moment in run.moments] == [(Fraction(9, 20), False, 0)]


def test_what_the_requirement_does_not_ask_about_is_part_of_the_run_all_the_same() -> None:
    run = shown(LEVER + "requirements: [{id: R, after: m is b, expect: idle, within: 2 s}]\n")
    assert len(run.moments) == 1 and "up" in run.moments[0].taken
    shown(LEVER + "requirements: [{id: R, never: lonely is q and idle}]\n")


def test_where_no_run_goes_wrong_none_is_found() -> None:
    assert found(door("never: m is b and m is c"), most=6) is None


def test_a_figure_that_is_no_quotient_is_not_made_one() -> None:
    text = LEVER + "requirements: [{id: R, never: x * x = 50 %}]\n"
    with pytest.raises(LimitError, match="no quotient"):
        found(text)


def test_a_figure_between_two_that_are_no_quotients_is_found() -> None:
    shown(LEVER + "requirements: [{id: R, never: x * x > 50 % and x * x < 51 %}]\n")


# --------------------------------------------------------------------------- limits


def test_too_little_work_is_said_as_such() -> None:
    with pytest.raises(LimitError, match="work limit of 1 solver steps"):
        found(door("after: m is c, keep: m is c, for: 3 s"), work=1)


def test_no_time_ends_it() -> None:
    with pytest.raises(LimitError, match="time limit"):
        Unrolled(question(door("never: m is c")), PLENTY, Limits(seconds=0.0)).first(9)


def test_a_run_that_is_found_stands_when_a_limit_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is left out then is only what makes it pleasant."""

    def over(*_: object) -> None:
        raise LimitError("the time limit of 1 s was reached", final=True)

    text = door("after: m is c, expect: m is a, within: 7 s")
    for name in ("_on_grid", "_plain", "_nicer"):
        with monkeypatch.context() as patched:
            patched.setattr(Unrolled, name, over)
            assert len(shown(text).moments) == 3


# --------------------------------------------------------------------------- on the reference


def test_a_run_that_the_reference_does_not_know_is_a_fault_of_ours() -> None:
    text = door("never: m is c")
    reference, right = Reference(load(text)), found(text)
    assert right is not None
    first, second, third = right.steps
    wrong = [
        (replace(second, taken=frozenset({"back"})), third),
        (second, replace(third, wait=Fraction(1))),
        (second, replace(third, wait=Fraction(3))),
        (second, replace(third, expired=frozenset())),
        (replace(second, inputs=(False, False)), third),
    ]
    for steps in wrong:
        with pytest.raises(DisagreementError, match="reference"):
            rerun(reference, Found((first, *steps)))
    assert rerun(reference, right).end == 2


def test_the_same_question_gives_the_same_run() -> None:
    text = LEVER + "requirements: [{id: R, after: m is b, expect: idle, within: 2 s}]\n"
    assert found(text) == found(text)


def test_plain_figures_come_first_and_never_twice() -> None:
    for low, high in ((-1, 1), (0, 1), (2, 3), (-7, -5)):
        figures = list(plain_figures(Real(Fraction(low), Fraction(high))))
        assert figures[0] == min(max(0, low), high)
        assert len(figures) == len(set(figures)) and all(low <= figure <= high for figure in figures)
