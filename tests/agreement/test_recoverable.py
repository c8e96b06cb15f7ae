"""`recoverable` against the oracle: backwards over everything that it met."""

from __future__ import annotations

import dataclasses
from collections import Counter

import pytest
from compare import Case, cases

from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.model import formula as f
from prioritylogic.model.system import Machine, Recoverable, Requirement


def requirement(machine: Machine, state: str) -> Requirement:
    """From everywhere some run gets the machine into a state."""
    condition = f.Same(f.Read(machine.name), f.Const(state))
    return Requirement(f"{machine.name}.{state}", (), "", "recoverable", Recoverable(condition))


def recovers(case: Case, asked: Requirement) -> bool:
    """Whether the oracle gets there from every state that it met."""
    graph, form = case.graph, asked.form
    assert isinstance(form, Recoverable)
    there = {
        number
        for number in range(len(graph.moments))
        if graph.reference.true(form.condition, graph.readings_of(number)[0])
    }
    found: set[int] = set()
    grown = True
    while grown:
        more = {
            at
            for at in range(len(graph.states))
            if at not in found
            and (
                graph.later[at] in found
                or any(way in there or graph.moments[way][1] in found for way in graph.ways[at])
            )
        }
        found |= more
        grown = bool(more)
    return len(found) == len(graph.states)


@pytest.mark.parametrize("stretch", [80, 81])
def test_agrees(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in cases(stretch, 30):
        asked = tuple(requirement(m, state) for m in case.system.machines for state in m.states)
        result = check(dataclasses.replace(case.system, requirements=asked), (), Limits(states=20_000))
        for one, answer in zip(asked, result.requirements, strict=True):
            seen[answer.verdict] += 1
            if answer.verdict != "undecided":
                assert (answer.verdict == "holds") == recovers(case, one), (case.seed, one.id)
    assert min(seen["holds"], seen["fails"]) >= 15 and seen["undecided"] <= 5, seen
