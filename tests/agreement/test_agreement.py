"""`check` against the oracle on random systems: no verdict may differ, and the systems must be such
that a wrong one would show.

Each stretch of seeds is one test, so that they spread over processes, and each must itself be varied
enough; so the whole is. On the same systems, observers are held against the direct judgement.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest
from compare import (
    Case,
    cases,
    checked_differences,
    count_differences,
    judged_differences,
    report,
)
from oracle import least_reactions

from prioritylogic.engines import recheck
from prioritylogic.model.system import Possible

STRETCHES, SYSTEMS, RUNS = 20, 51, 10
QUICK = 150  # steps of the second opinion; the oracle is a better one here


def test_there_are_enough_of_them() -> None:
    assert STRETCHES * SYSTEMS >= 1_000
    assert STRETCHES * SYSTEMS * RUNS >= 10_000


@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_agrees(stretch: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recheck, "FULL", QUICK)
    seen: Counter[str] = Counter()
    for case in cases(stretch, SYSTEMS):
        assert not differences(case), report(case, differences)
        count(case, seen)
    assert seen["systems"] == SYSTEMS
    asked = seen["holds"] + seen["fails"]
    assert seen["holds"] >= 0.3 * asked, seen
    assert seen["fails"] >= 0.3 * asked, seen
    assert seen["needs time"] >= 0.5 * seen["broken"], seen
    assert seen["chance"] >= 0.25 * SYSTEMS, seen


def differences(case: Case) -> list[str]:
    return [
        *checked_differences(case),
        *count_differences(case),
        *judged_differences(case, RUNS),
    ]


def count(case: Case, seen: Counter[str]) -> None:
    """Notes what kind of system it was."""
    seen["systems"] += 1
    takes = any(rule.takes for machine in case.system.machines for rule in machine.rules)
    seen["chance"] += takes or any(moment.ties for moment, _ in case.graph.moments)
    for requirement in case.system.requirements:
        verdict = case.verdict(requirement.id)
        seen[verdict] += 1
        if verdict == "fails" and not isinstance(requirement.form, Possible):
            seen["broken"] += 1
            seen["needs time"] += least_reactions(case.graph, requirement, timeless=True) is None


def test_the_same_seed_gives_the_same_systems() -> None:
    one, other = (next(cases(7, 1)) for _ in range(2))
    assert one.spec == other.spec and one.lengths == other.lengths
    assert random.Random(1).random() == 0.13436424411240122  # the seeds mean what they meant
