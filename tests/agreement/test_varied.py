"""What is found for all values of a setting at once is what exploring says at single values."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from varying import asked, differences, varied

STRETCHES, SYSTEMS = 4, 15
FIRST = 900_000_000  # seed


@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_agree(stretch: int) -> None:
    cases = (varied(seed) for seed in itertools.count(FIRST + 1_000 * stretch))
    seen: Counter[str] = Counter()
    for case in itertools.islice(filter(None, cases), SYSTEMS):
        wrong, counts = differences(case, (asked(case),))
        assert not wrong, "\n".join(wrong)
        seen += counts
    assert seen["values"] >= 4 * SYSTEMS and seen["with ends"] >= 2, seen
    assert seen["undecided"] <= 0.1 * SYSTEMS, seen
