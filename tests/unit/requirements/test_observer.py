"""Observers, one form at a time: what a reaction starts, answers, cancels or breaks, and what time does.

A run is written as reactions and stretches of time: `a!` is an event in the reaction, `b` a condition
that holds in it and at rest after it, a number is time that passes. Each row says at which place the
run breaks the requirement (None: nowhere).
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    Form,
    KeepFor,
    KeepUntil,
    Possible,
    Recoverable,
    Requirement,
    Respond,
)
from prioritylogic.requirements.observer import Fact, FigureKind, Mode, Observer, observer

A, B, C, D = (f.Read(name) for name in "abcd")
THREE = Fraction(3)
WITHIN, UNDER = Respond(A, B, THREE), Respond(A, B, THREE, under=True)
AT_ONCE = Respond(A, B, Fraction(0))
UNTIL = KeepUntil(A, B, f.Read("u"))
FOR = KeepFor(A, B, THREE)
EVERY, EVERY_UNDER = Every(A, B, THREE), Every(A, B, THREE, under=True)
APART = Apart(A, THREE)


def asked(form: Form, unless: Formula | None = C, during: Formula | None = None) -> Observer:
    found = observer(Requirement("R", (), "", "", form, during=during, unless=unless))
    assert found is not None
    return found


def true(fact: Fact, words: str) -> bool:
    """Whether a fact is true of a reaction written as words."""

    def value(formula: Formula) -> bool:
        match formula:
            case f.Read(name):
                return name in words.split() or (not fact.at_rest and f"{name}!" in words.split())
            case f.Not(operand):
                return not value(operand)
            case f.All(parts):
                return all(map(value, parts))
            case f.Some(parts):
                return any(map(value, parts))
            case f.Const(constant):
                return bool(constant)
        raise AssertionError(formula)

    return value(fact.formula)


def first_break(watching: Observer, run: tuple[str | int, ...]) -> int | None:
    mode, clock = Mode(), Fraction(0)
    for place, part in enumerate(run):
        if isinstance(part, int):
            mode, moved, broken = watching.elapse(mode, clock, part, watching.figure or 0)
            clock = Fraction(moved)
        else:
            effect = watching.step(mode, lambda fact, words=part: true(fact, words))  # type: ignore[misc]
            mode, broken = effect.mode, effect.broken
            keeps = mode.pending and not mode.paused and not effect.restart
            clock = clock if keeps else Fraction(0)
        if broken:
            return place
    return None


ROWS: list[tuple[Form, tuple[str | int, ...], int | None]] = [
    # within: more than the figure since the oldest unanswered start
    (WITHIN, ("a!", 3, "b!", 9), None),
    (WITHIN, ("a!", 4), 1),
    (WITHIN, ("a! b!", 9), None),  # answered in its own reaction
    (WITHIN, ("a!", 2, "a!", 2), 3),  # the oldest counts
    (WITHIN, ("a!", 1, "a! b!", 9), None),  # one answer for both
    (WITHIN, ("a", 1, "a b!", 9), None),  # a condition that lasts starts nothing anew
    (WITHIN, ("a", 1, "a b!", 1, "", 1, "a", 4), 7),  # one that begins again does
    (WITHIN, ("a", 2, "", 2), 3),  # the trigger's end is no answer
    (WITHIN, ("a!", 1, "c!", 9), None),
    (WITHIN, ("a! c!", 4), 1),  # an event cancels nothing that its own reaction starts
    (WITHIN, ("a! c", 4), None),  # a condition does
    (WITHIN, ("a!", 2, "a! c!", 2, "", 2), 5),  # the old one is cancelled, the new one is not
    (UNDER, ("a!", 2, "b!", 9), None),
    (UNDER, ("a!", 3), 1),
    (AT_ONCE, ("a!", "", "b!", 1), None),
    (AT_ONCE, ("a!", "", 1), 2),
    # keep until
    (UNTIL, ("a! b", 5, "b", "u!", ""), None),
    (UNTIL, ("a!",), 0),
    (UNTIL, ("a! u!", ""), None),  # nothing is asked
    (UNTIL, ("a! b", 5, ""), 2),
    (UNTIL, ("a! b", "c!"), None),
    # keep for: less than the figure since the newest start
    (FOR, ("a! b", 2, ""), 2),
    (FOR, ("a! b", 3, ""), None),
    (FOR, ("a! b", 2, "a! b", 2, ""), 4),
    (FOR, ("a! b", 1, "c!", ""), None),
    (FOR, ("a!",), 0),
    (KeepFor(A, B, Fraction(0)), ("a!", "a!"), None),
    # every
    (EVERY, ("a", 3, "a b!", 3, "a b!"), None),
    (EVERY, ("a", 4), 1),
    (EVERY, ("a", 2, "a", 2), 3),  # another reaction is no answer
    (EVERY, ("a b", 9, "a", 3), None),  # while it stays true nothing is missed
    (EVERY, ("a b", 9, "a", 4), 3),
    (EVERY, ("a", 2, "", 9), None),
    (EVERY, ("a", 2, "", 9, "a", 3), None),
    (EVERY, ("a", 1, "a c!", 9), None),
    (EVERY, ("a!", 9), None),  # it never lasts
    (EVERY_UNDER, ("a", 2, "a b!", 3), 3),
    # apart
    (APART, ("a!", 2, "a!"), 2),
    (APART, ("a!", 3, "a!"), None),
    (APART, ("a!", "a!"), 1),
    (APART, ("a", 1, "a"), None),
    (APART, ("a", 1, "", "a"), 3),
    (APART, ("a!", 1, "c!", "a!"), None),
    (APART, ("a!", 1, "a! c!"), None),
    (APART, ("a! c", "a!", 1, "a!"), 3),
    # single reactions
    (Always(B), ("b", 9, "b", ""), 3),
    (Possible(B), ("", 9, "b!"), 2),  # the observer of its opposite: broken where it is reached
]


@pytest.mark.parametrize(("form", "run", "place"), ROWS)
def test_a_run_breaks_where_it_should(form: Form, run: tuple[str | int, ...], place: int | None) -> None:
    assert first_break(asked(form), run) == place


@pytest.mark.parametrize(
    ("run", "place"),
    [
        (("a! d", 1, "d", 3), 3),
        (("a! d", 1, "", 9), None),  # its end cancels
        (("a!", 9), None),
        (("a d", 1, "a d b!", "a", "a d", 4), 5),  # `during` begins while the trigger lasts
    ],
)
def test_during_is_part_of_the_trigger_and_its_end_cancels(
    run: tuple[str | int, ...], place: int | None
) -> None:
    watching = asked(Respond(f.conjunction(A, D), B, THREE), unless=None, during=D)
    assert first_break(watching, run) == place


PENDING, PAUSED = Mode(pending=True), Mode(held=True, pending=True, paused=True)


@pytest.mark.parametrize(
    ("kind", "mode", "time", "after"),
    [
        ("over", PENDING, 2, (PENDING, 3, False)),
        ("over", PENDING, 3, (PENDING, 4, True)),
        ("reached", PENDING, 1, (PENDING, 2, False)),
        ("reached", PENDING, 2, (PENDING, 3, True)),
        ("window", PENDING, 1, (PENDING, 2, False)),
        ("window", PENDING, 2, (Mode(), 0, False)),
        ("window", Mode(held=True, pending=True), 9, (Mode(held=True), 0, False)),
        ("none", PENDING, 9, (PENDING, 0, False)),
        ("over", Mode(), 9, (Mode(), 0, False)),
        ("over", PAUSED, 9, (PAUSED, 0, False)),
    ],
)
def test_time_passes_from_one_tick_on_towards_three(
    kind: FigureKind, mode: Mode, time: int, after: tuple[Mode, int, bool]
) -> None:
    watching = Observer(lambda mode, read: pytest.fail("time is no reaction"), (), THREE, kind)
    assert watching.elapse(mode, 1, time, 3) == after


@pytest.mark.parametrize("form", [WITHIN, UNTIL, FOR, EVERY, APART, Always(B), Possible(B)])
def test_a_step_asks_for_nothing_that_it_does_not_announce(form: Form) -> None:
    watching = asked(form)
    modes = [Mode(*bits) for bits in itertools.product((False, True), repeat=3)]
    met: set[Fact] = set()
    for mode in modes:
        for answers in itertools.product((False, True), repeat=len(watching.facts)):
            given = dict(zip(watching.facts, answers, strict=True))

            def read(fact: Fact, given: dict[Fact, bool] = given) -> bool:
                met.add(fact)
                return given[fact]

            watching.step(mode, read)
    assert met == set(watching.facts)


@pytest.mark.parametrize("form", [Respond(A, B, None), Recoverable(A)])
def test_forms_about_endless_runs_have_no_observer(form: Form) -> None:
    assert observer(Requirement("R", (), "", "", form)) is None
