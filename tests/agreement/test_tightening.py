"""A figure just past its slack must fail.

An observer that is not connected proves anything; so each timed requirement that holds is tightened,
step by step of half a tick, until the oracle says it fails, and `check` must see that very change.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from fractions import Fraction

import pytest
from compare import Case, cases
from oracle import least_reactions

from prioritylogic.engines import recheck
from prioritylogic.engines.check import check
from prioritylogic.model.system import Apart, Every, KeepFor, Requirement, Respond, System

FIGURES = {Respond: "limit", Every: "period", KeepFor: "time", Apart: "time"}
LOOSER_IF_LONGER = (Respond, Every)


def tightened(requirement: Requirement, step: Fraction) -> Iterator[Requirement]:
    """The requirement with ever tighter figures, as far as they mean something."""
    form = requirement.form
    key = FIGURES[type(form)]
    longest: Fraction = getattr(form, key)
    for number in range(1, 9):
        figure = (
            longest - number * step if isinstance(form, LOOSER_IF_LONGER) else longest + number * step
        )
        smallest = 0 if isinstance(form, Respond) and not form.under else step
        if figure < smallest:
            return
        yield dataclasses.replace(requirement, form=dataclasses.replace(form, **{key: figure}))


def first_failing(case: Case, requirement: Requirement) -> tuple[Requirement, Requirement] | None:
    """The tightest figure that still holds by the oracle, and the first that fails."""
    last = requirement
    for tighter in tightened(requirement, case.graph.step * 2):
        if least_reactions(case.graph, tighter) is not None:
            return last, tighter
        last = tighter
    return None


@pytest.mark.parametrize("stretch", [60, 61])
def test_one_step_past_the_slack_fails(stretch: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recheck, "FULL", 100)
    tried = 0
    for case in cases(stretch, 45):
        for requirement in case.system.requirements:
            if type(requirement.form) not in FIGURES or case.verdict(requirement.id) != "holds":
                continue
            pair = first_failing(case, requirement)
            if pair is None:
                continue
            verdicts = [verdict(case.system, asked) for asked in pair]
            if "undecided" not in verdicts:
                tried += 1
                assert verdicts == ["holds", "fails"], (case.seed, requirement.id, pair[1].form)
    assert tried >= 8


def verdict(system: System, requirement: Requirement) -> str:
    """What `check` says when only this is asked."""
    (answer,) = check(dataclasses.replace(system, requirements=(requirement,))).requirements
    return answer.verdict
