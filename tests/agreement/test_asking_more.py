"""Vacuity against the oracle: what never comes about, and what makes no difference.

Everything is worked out anew from the oracle's verdicts: on the requirement that the trigger never comes
about, and on each requirement that asks more at one place. That these do ask more is an argument on paper
(requirements/strengthening.py); here it is put to the test, too: wherever one of them holds, so must the
requirement itself.
"""

from __future__ import annotations

from collections import Counter

import pytest
from emptiness import Asked, small_cases


@pytest.mark.parametrize("stretch", [90, 91])
def test_agrees(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in small_cases(stretch, 60):
        asked = Asked(case)
        assert not list(asked.differences()), case.seed
        seen += asked.seen
    assert min(seen["vacuous"], seen["True"], seen["False"]) >= 25, seen
    assert min(seen["idle"], seen["matters"]) >= 150 and seen["None"] <= 3, seen
