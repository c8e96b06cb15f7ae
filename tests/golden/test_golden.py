"""What people read, held against files that people have read.

After a wanted change: `REFRESH_GOLDEN=1 pytest tests/golden`, then read the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import players
import pytest

import prioritylogic
from prioritylogic.render.diagram import diagram
from prioritylogic.render.explanation import explanations
from prioritylogic.render.json import check_document, dump
from prioritylogic.render.layout import Ink
from prioritylogic.render.logbook import show_log
from prioritylogic.render.path import path
from prioritylogic.render.readback import read_back
from prioritylogic.render.shown import ShownRun, runs
from prioritylogic.render.text import check_text
from prioritylogic.render.timeline import timeline

EXPECTED = Path(__file__).parent / "expected"
SPECS = Path(__file__).parents[2] / "specs"


def logbook(width: int) -> str:
    system = players.cabins()
    return "\n".join(show_log(system, players.takeover(system), width, mark="fails here")) + "\n"


def shown(name: str) -> ShownRun:
    return next(run for run in runs(players.checked(players.cabins())) if run.id == name)


def explained(spec: str, name: str) -> str:
    """Why a requirement of one of our specs holds, or fails."""
    system = prioritylogic.load(SPECS / spec)
    return "\n".join(explanations(prioritylogic.check(system, explain=[name]), 80)[1:]) + "\n"


OUTPUTS = {
    "logbook-80.txt": lambda: logbook(80),
    "logbook-120.txt": lambda: logbook(120),
    "check-80.txt": lambda: check_text(players.checked(players.cabins()), 80),
    "check-120.txt": lambda: check_text(players.checked(players.cabins()), 120),
    "check-ink.txt": lambda: check_text(players.checked(players.cabins()), 80, Ink(True)),
    "check.json": lambda: dump(check_document([players.checked(players.cabins())])),
    "read-80.txt": lambda: read_back(players.cabins(), 80),
    "read-100.txt": lambda: read_back(players.cabins(), 100),
    "explain-holds-80.txt": lambda: explained("ferry_helm.yaml", "LOCK-1[fore]"),
    "explain-fails-80.txt": lambda: explained("drafts/ferry_helm_mistake.yaml", "HELM-3"),
    "machines.dot": lambda: diagram(players.cabins()).dot,
    "path.dot": lambda: path(players.cabins(), shown("C[left]")).dot,
    "times.dot": lambda: timeline(players.cabins(), shown("C[left]")).dot,
}


@pytest.mark.parametrize("name", OUTPUTS)
def test_output_is_as_it_was_read(name: str) -> None:
    text = OUTPUTS[name]()
    path = EXPECTED / name
    if os.environ.get("REFRESH_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", [n for n in OUTPUTS if n.endswith("-80.txt")])
def test_output_fits_its_width(name: str) -> None:
    too_long = [line for line in OUTPUTS[name]().splitlines() if len(line) > 80]
    assert not too_long
