"""From paths to runs, and to the simplest run of the same length."""

from __future__ import annotations

import dataclasses
from fractions import Fraction

import pytest
from making import explorer_of, spec

from prioritylogic.engines.explore import Explorer, PathStep
from prioritylogic.engines.replay import concrete_inputs, replay
from prioritylogic.engines.simplify import key, simpler, simplify
from prioritylogic.errors import DisagreementError
from prioritylogic.semantics.judgement import judge
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

LEVERS = """
system: levers
inputs: {go: button, other: button, x: -100 % to 100 %, y: 5 % to 9 %}
machines:
  m: {states: [a, b], start: a, rules: [{id: r, from: a, if: pressed(go) and x > 30 %, to: b}]}
"""
UNSETTLED = """
system: unsettled
machines:
  n: {states: [z0, z1, z2], start: z0, rules: [{id: r0, from: z0, to: z1}, {id: r1, from: z1, to: z2}]}
"""


def broken(requirement: str, text: str) -> tuple[Explorer, Reference, tuple[PathStep, ...]]:
    system = spec(requirement, text)
    explorer = explorer_of(system, watched=True)
    path = explorer.run().broken
    assert path is not None
    return explorer, Reference(system), path


def test_inputs_that_nothing_asks_about_do_not_change() -> None:
    explorer, reference, path = broken("never: m is b", LEVERS)
    run = replay(reference, explorer.table.cells, explorer.tick, path)
    go, other, x, y = zip(*(moment.after.values[:4] for moment in run.moments), strict=True)
    assert (go, other) == ((False, True), (False, False))
    assert x[0] == 0 and Fraction(3, 10) < x[1] <= 1
    assert y == (Fraction(5, 100),) * 2  # nought is not in its range


def test_what_the_next_reaction_asks_about_the_past_is_made_so() -> None:
    explorer, reference, _ = broken("never: m is b", LEVERS)
    course = explorer.table.starts()[0]
    first = PathStep(course, (None, None, None, None), (), frozenset())
    second = PathStep(course, (True, None, None, None), (False, True, None, None), frozenset())
    found = concrete_inputs(reference.system, explorer.table.cells, [first, second])
    assert [values[:2] for values in found] == [(False, True), (True, True)]


def test_a_reaction_that_the_reference_does_not_know_is_a_disagreement() -> None:
    explorer, reference, path = broken("never: m is b", LEVERS)
    assert path[-1].course is not None
    wrong = dataclasses.replace(path[-1].course, taken=frozenset())
    path = (*path[:-1], dataclasses.replace(path[-1], course=wrong))
    with pytest.raises(DisagreementError, match="takes no rule"):
        replay(reference, explorer.table.cells, explorer.tick, path)


def test_time_that_may_not_pass_is_a_disagreement() -> None:
    explorer, reference, path = broken("never: n is z2", UNSETTLED)
    with pytest.raises(DisagreementError, match="no time may pass"):
        replay(reference, explorer.table.cells, explorer.tick, (*path[:-1], PathStep(None)))


# --------------------------------------------------------------------------- simpler

NO, YES = (False, False), (True, False)


def test_simpler_is_fewer_changes_then_later_ones() -> None:
    assert key((NO, YES, NO)) == (2, (1, 1))
    assert key((NO, NO, YES)) < key((NO, YES, YES)) < key((NO, YES, NO)) < key((NO, (True, True), NO))


def test_every_candidate_is_simpler() -> None:
    reference = Reference(spec(text=LEVERS))
    inputs = (NO, (True, True), NO, YES)
    found = list(simpler(reference, inputs))
    assert found
    assert all(key(candidate) < key(inputs) for candidate in found)
    assert all(candidate[0] == inputs[0] for candidate in found)


def test_needless_changes_are_dropped_and_the_others_come_late() -> None:
    explorer, reference, path = broken("never: m is b", LEVERS)
    half = Fraction(1, 2)
    start = replay(reference, explorer.table.cells, explorer.tick, path[:1]).moments
    busy = [(False, True, half), (False, False, half), (True, True, half)]
    moments = [start[0]]
    for go, other, x in busy:
        state = moments[-1].after
        moments += list(reference.reactions(state, (go, other, x, Fraction(5, 100)), frozenset()))[:1]
    requirement = reference.system.requirements[0]

    def shows(run: Run) -> bool:
        failure = judge(reference, requirement, run)
        return failure is not None and failure.moment == 3

    run = Run(tuple(moments), Fraction(0))
    assert shows(run)
    found = [moment.after.values[:3] for moment in simplify(reference, run, shows).moments]
    assert found == [(False, False, 0)] * 3 + [(True, False, half)]
