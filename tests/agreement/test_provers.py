"""Both Z3 engines against the oracle on random systems, those of `test_agreement.py`: verdicts, lengths of
shortest runs, and each run replayed and judged to fail exactly at its end."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from compare import case_of
from phrases import Spec
from proving import Answered, answered, proved_differences
from shrink import shrunk
from systems import text_of
from test_agreement import STRETCHES, SYSTEMS

from prioritylogic.model.system import Requirement

ASKED = 1  # of the five requirements of each system, ever different ones; the big run asks more
DECIDED = 0.9


def asked_of(one: Answered) -> list[Requirement]:
    """The requirements of a system that are asked."""
    listed = one.system.requirements
    return [listed[(one.seed + number) % len(listed)] for number in range(min(ASKED, len(listed)))]


def differences(one: Answered, seen: Counter[str] | None = None) -> list[str]:
    return [d for requirement in asked_of(one) for d in proved_differences(one, requirement, seen)]


def report(one: Answered) -> str:
    """The differences, and the smallest spec that still has one."""

    def fails(spec: Spec) -> bool:
        case = case_of(spec, one.seed)
        return case is not None and any(
            d for r in case.system.requirements for d in proved_differences(Answered.by(case), r)
        )

    return "\n".join([f"seed {one.seed}:", *differences(one), text_of(shrunk(one.spec, fails, 300))])


@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_agree(stretch: int, counted: Path) -> None:
    seen: Counter[str] = Counter()
    for one in answered(stretch, SYSTEMS, counted):
        assert not differences(one, seen), report(one)
    assert seen["accepted"] >= 0.9 * (seen["accepted"] + seen["declined"])
    assert min(seen["reach"], seen["bounded"]) >= DECIDED * seen["accepted"], seen
