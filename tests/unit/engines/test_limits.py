"""Limits: each says which one it was; grace is granted once."""

from __future__ import annotations

import gc
import subprocess
import sys

import pytest

from prioritylogic.engines.limits import Limits, memory_used, rare_collection
from prioritylogic.errors import LimitError


@pytest.mark.parametrize(
    ("limits", "states", "said"),
    [
        (Limits(seconds=0), 0, "the time limit of 0 s"),
        (Limits(memory=2**29), 0, "the memory limit of 512 MiB"),
        (Limits(states=12_345), 12_346, "the work limit of 12 345 states"),
    ],
)
def test_a_limit_says_which_one_it_was(
    limits: Limits, states: int, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("prioritylogic.engines.limits.memory_used", lambda _: 2**30)
    with pytest.raises(LimitError, match=said):
        limits.check(states)


def test_within_its_limits_it_goes_on_and_reports() -> None:
    said: list[str] = []
    limits = Limits(seconds=60, memory=2 * memory_used(), states=5, progress=said.append)
    limits.check(5)
    limits.check(5, "5 states explored")
    assert said == ["5 states explored"]


def test_grace_is_granted_once_and_the_limit_keeps_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [0.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    limits = Limits(seconds=10, _started=0.0)
    now[0] = 11.0
    limits.grant_grace()
    limits.check_time()
    now[0] = 12.5
    limits.grant_grace()
    with pytest.raises(LimitError, match="time limit of 10 s"):
        limits.check_time()


def test_the_collector_is_as_before_afterwards() -> None:
    before = gc.get_threshold()
    with rare_collection():
        assert gc.get_threshold()[0] > before[0]
    assert gc.get_threshold() == before


def test_the_memory_of_a_process_is_its_own() -> None:
    """What the one that started it has had does not count."""
    size = 200_000_000
    held = b"x" * size
    asked = "from prioritylogic.engines.limits import memory_used; print(memory_used())"
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert len(held) == size and 1_000_000 < int(said.stdout) < size < memory_used()
