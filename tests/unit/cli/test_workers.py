"""`check --workers`, and Ctrl-C, as a person meets them: in a process of its own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

SPECS = Path(__file__).parents[3] / "specs"
LONG = [str(SPECS / "stations.yaml"), "--both", "--slack"]
ONLY = ["--only", "LOCK-1", "--only", "RETURN-1", "--only", "ALERT-1"]


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "prioritylogic", "check", *arguments]


def test_the_same_bytes() -> None:
    asked = command(*LONG, *ONLY, "--format", "json", "--workers")
    said = [subprocess.run([*asked, n], capture_output=True, check=False) for n in ("1", "2")]
    assert said[0].stdout == said[1].stdout and said[0].returncode == said[1].returncode == 0


@pytest.mark.parametrize("form", ["text", "json"])
def test_ctrl_c_prints_what_is_decided(form: str) -> None:
    """Stopped some time after other processes have begun. None of them is left."""
    asked = command(*LONG, "--workers", "2", "--format", form)
    running = subprocess.Popen(
        asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    time.sleep(5)
    os.killpg(running.pid, signal.SIGINT)
    told, wrong = running.communicate(timeout=60)
    assert running.returncode == 130, wrong
    assert "what is decided so far follows" in wrong and "Stopped by hand" in wrong
    if form == "json":
        (system,) = json.loads(told)["systems"]
        reasons = [answer["reason"] for answer in system["requirements"]]
        assert any("stopped by hand" in reason for reason in reasons)
    else:
        assert "it was stopped by hand" in told and "undecided" in told
    for _ in range(50):
        try:
            os.killpg(running.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    pytest.fail("a process is left")


def test_a_number_of_workers_is_one_or_more() -> None:
    said = subprocess.run(command(*LONG, "--workers", "0"), capture_output=True, text=True, check=False)
    assert said.returncode == 2 and "workers" in said.stderr
