"""`check --workers`, and Ctrl-C, as a person meets them: in processes of their own."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from pathlib import Path

import pytest

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.part import Options
from prioritylogic.engines.schedule import Workers
from prioritylogic.render.json import check_document, dump
from prioritylogic.render.text import check_text

SPECS = Path(__file__).parents[3] / "specs"
SHIPPED = [SPECS / "stations.yaml", *sorted((SPECS / "gallery").glob("*.yaml"))]
LONG = [str(SPECS / "stations.yaml"), "--both", "--slack"]
ONLY = ["--only", "LOCK-1", "--only", "RETURN-1", "--only", "ALERT-1"]


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "prioritylogic", "check", *arguments]


@pytest.fixture(scope="module")
def others() -> Iterator[Executor]:
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        yield pool


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_same_bytes_whoever_decides(path: Path, others: Executor) -> None:
    system, options = prioritylogic.load(path), Options(vacuity=True)
    alone, shared = (
        check(system, options=options, workers=workers)
        for workers in (Workers(), Workers(executor=others, patience=-1))
    )
    assert dump(check_document([alone], ())) == dump(check_document([shared], ()))
    assert check_text(alone, 100) == check_text(shared, 100)


def test_the_same_bytes_for_any_number_of_workers() -> None:
    asked = command(*LONG, *ONLY, "--format", "json", "--workers")
    said = [subprocess.run([*asked, n], capture_output=True, check=False) for n in ("1", "3")]
    assert {(one.stdout, one.stderr, one.returncode) for one in said} == {(said[0].stdout, b"", 0)}


class Running:
    """A long check with two workers, in a group of its own; made when these have just begun."""

    def __init__(self, *arguments: str) -> None:
        asked = command(*LONG, "--workers", "2", *arguments)
        self.process = subprocess.Popen(
            asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
        )
        deadline = time.monotonic() + 60
        while len(self._children()) < 3:  # one of them keeps track of what is shared
            assert time.monotonic() < deadline and self.process.poll() is None
            time.sleep(0.02)

    def _children(self) -> list[str]:
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                parent = stat.read_text().rpartition(")")[2].split()[1]
            except OSError:  # it has ended
                continue
            found += [parent] if parent == str(self.process.pid) else []
        return found

    def left(self) -> bool:
        """Whether any process of the group is there after a while."""
        for _ in range(100):
            try:
                os.killpg(self.process.pid, 0)
            except ProcessLookupError:
                return False
            time.sleep(0.1)
        return True


@pytest.mark.parametrize(("form", "later"), [("text", 0.0), ("json", 1.0)])
def test_ctrl_c_prints_what_is_decided(form: str, later: float) -> None:
    """Also when the processes are just beginning. Nothing is said by them, and none is left."""
    running = Running("--format", form)
    time.sleep(later)
    os.killpg(running.process.pid, signal.SIGINT)
    told, wrong = running.process.communicate(timeout=60)
    assert running.process.returncode == 130, wrong
    assert wrong.strip().splitlines() == [
        "Stopping; what is decided so far follows. Ctrl-C again ends it at once.",
        "prioritylogic: Stopped by hand. What was not decided by then is open.",
    ]
    if form == "json":
        (system,) = json.loads(told)["systems"]
        reasons = {answer["verdict"]: answer["reason"] for answer in system["requirements"]}
        assert "stopped by hand" in reasons["undecided"] and "holds" in reasons
    else:
        assert "it was stopped by hand" in told and "undecided" in told
    assert not running.left()


def test_nobody_outlives_a_program_that_is_killed() -> None:
    running = Running()
    running.process.kill()
    running.process.communicate(timeout=60)
    assert not running.left()


def test_a_number_of_workers_is_one_or_more() -> None:
    said = subprocess.run(command(*LONG, "--workers", "0"), capture_output=True, text=True, check=False)
    assert said.returncode == 2 and "workers" in said.stderr
