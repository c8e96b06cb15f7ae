"""`draw`: which files it writes, what it says, and its exit codes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import prioritylogic
from prioritylogic.cli.main import run

Say = pytest.CaptureFixture[str]

LAMP = """
system: lamp
inputs: {knob: button}
machines:
  lamp:
    states: [dark, lit]
    start: dark
    rules: [{id: light, from: dark, if: pressed(knob), to: lit}]
requirements:
  - {id: DARK, text: It stays dark., never: lamp is lit}
  - {id: FINE, always: lamp is lit or lamp is dark}
"""


@pytest.fixture
def lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("lamp.yaml").write_text(LAMP, encoding="utf-8")
    return "lamp.yaml"


def written() -> list[str]:
    return sorted(str(path) for path in Path().rglob("*") if path.is_file() and path.suffix != ".yaml")


def test_machines_are_drawn_without_a_check(
    lamp: str, capsys: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(prioritylogic, "check", None)
    assert run(["draw", lamp]) == 0
    assert capsys.readouterr().out == "lamp-machines.svg\n"
    assert Path("lamp-machines.svg").read_text(encoding="utf-8").startswith("<svg")


def test_one_run_in_every_format(lamp: str) -> None:
    formats = [f"--format={kind}" for kind in ("svg", "png", "dot")]
    assert run(["draw", lamp, "--only", "DARK", "--to", "new/pictures", *formats]) == 0
    names = [f"lamp-DARK-{what}.{kind}" for what in ("path", "times") for kind in ("dot", "png", "svg")]
    assert written() == [f"new/pictures/{name}" for name in names]
    assert (
        Path("new/pictures/lamp-DARK-path.dot").read_text(encoding="utf-8").startswith('digraph "path"')
    )


def test_all_runs(lamp: str) -> None:
    assert run(["draw", lamp, "--runs", "--format", "dot"]) == 0
    assert written() == ["lamp-DARK-path.dot", "lamp-DARK-times.dot", "lamp-machines.dot"]


def test_findings_are_drawn_only_when_all_runs_are(lamp: str) -> None:
    tie = (
        "{id: light, from: dark, if: pressed(knob), to: lit}, {id: stay, from: dark, if: knob, to: dark}"
    )
    old = "{id: light, from: dark, if: pressed(knob), to: lit}"
    Path(lamp).write_text(LAMP.replace(old, tie), encoding="utf-8")
    assert run(["draw", lamp, "--only", "DARK", "--format", "dot"]) == 0
    assert written() == ["lamp-DARK-path.dot", "lamp-DARK-times.dot"]
    assert run(["draw", lamp, "--runs", "--format", "dot"]) == 0
    assert "lamp-rule-conflict-light+stay-times.dot" in written()


def test_no_run_at_all_is_said(lamp: str, capsys: Say) -> None:
    Path(lamp).write_text(LAMP.replace("  - {id: DARK, text: It stays dark., never: lamp is lit}\n", ""))
    assert run(["draw", lamp, "--runs", "--format", "dot"]) == 0
    assert "No run is found" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--only", "FINE"], "FINE holds; what is drawn are runs that fail"),
        (["--only", "DARC"], "no requirement or story is called 'DARC'; did you mean 'DARK'?"),
        (["--to", "lamp.yaml"], "the folder 'lamp.yaml' cannot be made: file exists"),
        (["--format", "pdf"], "'pdf' is not one of"),
    ],
)
def test_what_cannot_be_drawn_is_said(lamp: str, capsys: Say, arguments: list[str], said: str) -> None:
    assert run(["draw", lamp, *arguments]) == 2
    assert said in capsys.readouterr().err
    assert written() == []


def test_a_file_that_cannot_be_written_is_said(lamp: str, capsys: Say) -> None:
    Path("lamp-machines.svg").mkdir()
    assert run(["draw", lamp]) == 2
    assert "'lamp-machines.svg' cannot be written: is a directory" in capsys.readouterr().err


def test_a_spec_without_machines_is_said(lamp: str, capsys: Say) -> None:
    Path(lamp).write_text(
        "system: empty\ninputs: {knob: button}\nrequirements: [{id: A, never: knob}]\n"
    )
    assert run(["draw", lamp]) == 2
    assert "no machine and no alert" in capsys.readouterr().err


def test_what_is_undecided_has_no_run_yet(
    lamp: str, capsys: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    check = prioritylogic.check

    def undecided(system: Any, **options: Any) -> Any:
        result = check(system, **options)
        open_ = [replace(a, verdict="undecided", trace=None, reason="time") for a in result.requirements]
        return replace(result, requirements=tuple(open_))

    monkeypatch.setattr(prioritylogic, "check", undecided)
    assert run(["draw", lamp, "--only", "DARK"]) == 3
    assert "DARK is undecided, so there is no run to draw: time" in capsys.readouterr().out
