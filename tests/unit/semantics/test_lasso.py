"""What a lasso claims, and how each false claim is noticed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

import prioritylogic
from prioritylogic.model.formula import FALSE
from prioritylogic.model.system import Respond, System
from prioritylogic.semantics.lasso import Lasso
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run

SPEC = """
system: watch
inputs:
  call: button
machines:
  helm:
    states: [free, asked]
    start: free
    rules:
      - {id: ask, from: free, if: pressed(call), to: asked}
      - {id: end, from: asked, after: 2 s, to: free}
      - {id: hand, from: asked, takes: some day, to: free}
      - {id: give, from: asked, may: yes, fair: yes, to: free}
assume:
  - {id: CALLS, again_and_again: pressed(call)}
  - {id: SHORT, after: call, expect: not call, within: 1 s}
requirements:
  - {id: R, after: helm is asked, expect: helm is free and call}
"""
AT = {"call": [(0, False), (0, True), (1, False), (2, False), (5, True), (6, False), (7, False)]}


@pytest.fixture
def system() -> System:
    return prioritylogic.load(SPEC)


def played(system: System, presses: list[tuple[int, bool]], taken: str = "end") -> Run:
    """A run with the call button so at these times; what is due expires, and that rule is taken."""
    reference = Reference(system)
    moments: list[Moment] = []
    for time, call in presses:
        if not moments:
            outcomes = list(reference.starts((call,)))
        else:
            state = moments[-1].after
            if wait := time - moments[-1].time:
                state = reference.passed(state, Fraction(wait))
            outcomes = list(reference.reactions(state, (call,), reference.due(state)))
        best = min(outcomes, key=lambda m: (taken not in m.taken, sorted(m.taken)))
        moments.append(replace(best, time=Fraction(time)))
    return Run(tuple(moments), moments[-1].time)


@pytest.fixture
def lasso(system: System) -> Lasso:
    """Called at 0 s, 5 s, 10 s ... for a second each; asked until the two seconds are over."""
    run = played(system, AT["call"])
    return Lasso(Reference(system), Run(run.moments, Fraction(10)), 4)


def flaws(lasso: Lasso, names: str = "") -> list[str]:
    system = lasso.reference.system
    assumed = tuple(a for a in system.assumptions if a.id in names.split())
    return list(lasso.flaws(system.requirements[0], assumed))


def test_what_is_left_to_say_of_it(lasso: Lasso) -> None:
    said = flaws(lasso, "CALLS SHORT")
    assert said == ["give can be taken again and again and never is"]
    failure = lasso.broken(lasso.reference.system.requirements[0])
    assert failure is not None and (failure.time, failure.moment) == (0, 1)


GIVEN = [(0, False), (1, True), (1, True), (2, False), (5, True), (5, True), (6, False)]


def test_one_without_flaws(system: System) -> None:
    """`give` is taken at once, so that neither it nor the delay of `hand` is passed over."""
    run = played(system, GIVEN, "give")
    lasso = Lasso(Reference(system), Run(run.moments, Fraction(9)), 4)
    never = replace(system.requirements[0], form=Respond(system.assumptions[1].after, FALSE, None))
    assert list(lasso.flaws(never, system.assumptions)) == []
    short = replace(system.assumptions[1], within=Fraction(1, 2))
    assert list(lasso.flaws(never, (short,))) == ["it does not keep SHORT"]
    both = replace(system.assumptions[1], within=None, expect=FALSE)
    assert list(lasso.flaws(never, (both,))) == ["it does not keep SHORT"]


def test_a_loop_must_take_time(system: System) -> None:
    run = played(system, [(0, False), (0, True), (0, True), (0, False)], "give")
    assert "no time passes in the loop" in flaws(Lasso(Reference(system), run, 1))


def test_waiting_for_ever(system: System) -> None:
    free = Lasso(Reference(system), played(system, [(0, False)]), 1)
    assert flaws(free) == ["it does not break R"]
    asked = Lasso(Reference(system), played(system, [(0, False), (0, True)]), 2)
    assert "it does not come back to the same state" in flaws(asked)  # its two seconds will be over
    assert "hand waits for ever and is never taken" in flaws(asked)
    assert "it does not keep CALLS" in flaws(free, "CALLS")


def untrue(run: Run) -> Run:
    *others, last = run.moments
    return replace(run, moments=(*others, replace(last, taken=frozenset())))


def too_late(run: Run) -> Run:
    moved = (replace(m, time=m.time + 1) for m in run.moments[3:])
    return replace(run, moments=(*run.moments[:3], *moved))


@pytest.mark.parametrize(
    ("change", "loop", "flaw"),
    [
        (untrue, 4, "reaction 7 is not one of the outcomes"),
        (too_late, 4, "no time may pass before reaction 4"),
        (lambda run: run, 3, "it does not come back to the same state"),
        (lambda run: run, 6, "it does not come back to the same state"),
    ],
)
def test_false_claims(lasso: Lasso, change: Callable[[Run], Run], loop: int, flaw: str) -> None:
    assert flaw in flaws(replace(lasso, run=change(lasso.run), loop=loop))


def test_clocks_beyond_all_that_is_asked_do_not_matter(system: System) -> None:
    asked = played(system, [(0, False), (0, True)]).moments[-1].after
    reference = Reference(system)
    later = reference.passed(asked, Fraction(1))
    plain, by_order = (Lasso(reference, Run((), Fraction(0)), 0, tick) for tick in (None, Fraction(2)))
    assert not plain.alike(asked, later)  # the two seconds run
    assert by_order.alike(later, reference.passed(asked, Fraction(1, 2)))  # both are between 0 s and 2 s
    over = replace(later, stays=asked.stays)
    assert plain.alike(asked, over)  # what takes some day may have waited for any time
