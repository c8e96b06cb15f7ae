"""The environment as an oracle: every course exactly once, and nothing is known that was not asked."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from prioritylogic.engines.cells import Cells
from prioritylogic.engines.oracle import UNREAD, Oracle
from prioritylogic.model.system import Real
from prioritylogic.semantics.linear import Line

FLAG, MODES = (False, True), ("slow", "fast", "off")
LEVER = Cells({2: Real(Fraction(-1), Fraction(1))})


def courses(ask: Callable[[Oracle], Any], previous: tuple[Any, ...] = (UNREAD,) * 3) -> list[Any]:
    """What `ask` gives along every course, with the values known at its end."""
    found = []
    script: list[int] | None = []
    while script is not None:
        oracle = Oracle((FLAG, MODES, ()), [], LEVER, (UNREAD,) * 3, previous, frozenset(), script)
        found.append((ask(oracle), tuple(oracle.values)))
        script = oracle.next_script()
    return found


def test_every_course_is_met_exactly_once() -> None:
    met = [answer for answer, _ in courses(lambda o: (o.get(0), o.get(1), o.choose(2)))]
    assert len(met) == len(set(met)) == 12


def test_an_input_that_is_not_asked_about_stays_unknown_and_multiplies_nothing() -> None:
    met = courses(lambda o: o.get(0) and o.get(1) == "fast")
    assert met == [
        (False, (False, UNREAD, UNREAD)),
        (False, (True, "slow", UNREAD)),
        (True, (True, "fast", UNREAD)),
        (False, (True, "off", UNREAD)),
    ]


def test_asked_twice_it_answers_the_same() -> None:
    assert [a for a, _ in courses(lambda o: (o.get(1), o.get(1)))] == [(m, m) for m in MODES]


def test_no_change_comes_first() -> None:
    assert [a for a, _ in courses(lambda o: o.get(1), (UNREAD, "off", UNREAD))] == [
        "off",
        "slow",
        "fast",
    ]


def test_what_was_unknown_is_chosen_only_when_it_is_asked() -> None:
    assert len(courses(lambda o: o.get(0))) == 2
    assert len(courses(lambda o: (o.get(0), o.was(0)))) == 4
    assert [a for a, _ in courses(lambda o: o.was(0), (True, UNREAD, UNREAD))] == [True]


def test_one_alternative_is_no_question() -> None:
    assert courses(lambda o: (o.choose(1), o.asked)) == [((0, False), (UNREAD,) * 3)]


def test_comparisons_of_levers_that_cannot_be_are_not_met() -> None:
    def ask(oracle: Oracle) -> tuple[bool, bool, bool]:
        x = oracle.analog(2)
        return (
            oracle.below(x, 0, False),
            oracle.below(Fraction(1, 2), x, True),
            oracle.below(x, 2, False),
        )

    met = {answer for answer, _ in courses(ask)}
    assert met == {(True, False, True), (False, True, True), (False, False, True)}


def test_the_least_and_the_greatest_of_levers_are_decided_by_questions() -> None:
    half = Line(Fraction(1, 2))

    def ask(oracle: Oracle) -> bool:
        x = oracle.analog(2)
        return oracle.equal(oracle.least([x, half]), x) and oracle.equal(oracle.greatest([x, half]), x)

    assert {answer for answer, _ in courses(ask)} == {True, False}


def test_at_most_one_input_changes() -> None:
    previous = (False, "fast", UNREAD)
    met = [values for _, values in courses(Oracle.change_one, previous)]
    assert met[0] == previous
    assert sorted(met[1:], key=str) == sorted(
        [(True, "fast", UNREAD), (False, "slow", UNREAD), (False, "off", UNREAD)], key=str
    )
