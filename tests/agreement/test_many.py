"""The big run (`many.py`) in small: machines of a group, strict bounds and the rest, through every engine."""

from __future__ import annotations

import many
import pytest


@pytest.mark.parametrize("number", range(2))
def test_a_chunk_agrees(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(many.recheck, "FULL", many.recheck.FULL)  # `chunk` lowers it; set back after
    seen, reports = many.chunk(-1 - number)
    assert not reports, "\n".join(reports)
    assert seen["systems"] == many.CHUNK
    assert seen["kind: Families"] and seen["proving: reach"] >= 0.9 * seen["proving: accepted"]
