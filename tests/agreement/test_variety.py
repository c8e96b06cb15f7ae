"""The random systems must be such that a wrong verdict would show: enough that holds, that fails, that
fails for time's sake, and that is left to chance. Last of the folder, when most is counted already.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

from compare import cases, kind_counts
from test_agreement import STRETCHES, SYSTEMS


def test_the_systems_are_varied(counted: Path) -> None:
    """Stretches that no other process has counted yet are counted here."""
    seen: Counter[str] = Counter()
    for stretch in range(STRETCHES):
        try:
            seen += Counter(json.loads((counted / f"{stretch}.json").read_text()))
        except (OSError, ValueError):
            for case in cases(stretch, SYSTEMS):
                seen += kind_counts(case)
    assert seen["systems"] >= 1_000
    asked = seen["holds"] + seen["fails"]
    assert seen["holds"] >= 0.3 * asked, seen
    assert seen["fails"] >= 0.3 * asked, seen
    assert seen["needs time"] >= 0.5 * seen["broken"], seen
    assert seen["chance"] >= 0.25 * seen["systems"], seen
