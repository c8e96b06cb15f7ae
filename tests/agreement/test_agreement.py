"""`check` against the oracle on random systems: no verdict may differ, and the systems must be such
that a wrong one would show.

Each stretch of seeds is one test, so that they spread over processes. On the same systems, observers
are held against the direct judgement.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
from compare import (
    Case,
    cases,
    checked_differences,
    count_differences,
    judged_differences,
    kind_counts,
    report,
)
from proving import Answered, kept

from prioritylogic.engines import recheck

STRETCHES, SYSTEMS, RUNS = 20, 51, 10
QUICK = 150  # steps of the second opinion; the oracle is a better one here


def test_there_are_enough_of_them() -> None:
    assert STRETCHES * SYSTEMS >= 1_000
    assert STRETCHES * SYSTEMS * RUNS >= 10_000


@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_agrees(stretch: int, counted: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recheck, "FULL", QUICK)
    seen: Counter[str] = Counter()
    known = []
    for case in cases(stretch, SYSTEMS):
        assert not differences(case), report(case, differences)
        seen += kind_counts(case)
        known.append(Answered.by(case))
    kept(known, stretch, counted)
    (counted / f"{stretch}.json").write_text(json.dumps(seen))


def differences(case: Case) -> list[str]:
    return [
        *checked_differences(case),
        *count_differences(case),
        *judged_differences(case, RUNS),
    ]


def test_the_same_seed_gives_the_same_systems() -> None:
    one, other = (next(cases(7, 1)) for _ in range(2))
    assert one.spec == other.spec and one.lengths == other.lengths
