"""`check FILE --find SETTING`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prioritylogic.cli.main import run

SPEC = """
system: lock
settings:
  hold: {value: 9 s, range: 5 s to 20 s}
  fixed: 3 s
inputs: {take: button}
machines:
  m:
    states: [idle, held]
    start: idle
    rules:
      - {id: grab, from: idle, if: pressed(take), to: held}
      - {id: let, from: held, after: hold, to: idle}
requirements:
  - {id: SOON, after: m is held, expect: m is idle, within: 10 s}
  - {id: HELD, never: m is held, expected: fails, reason: it is the purpose}
"""


@pytest.fixture
def spec(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "lock.yaml"
    path.write_text(SPEC, encoding="utf-8")
    return path


def check(path: Path, *more: str) -> int:
    return run(["check", str(path), "--find", *more])


def test_values_are_found(spec: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(spec, "hold") == 0
    shown = capsys.readouterr().out
    assert "5 s to 10 s; 9 s is among them" in shown and "10 s to 20 s, 10 s excluded" in shown


def test_as_data_about_one_requirement(spec: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(spec, "hold", "--only", "SOON", "--format", "json") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "prioritylogic-find/1"
    assert [answer["id"] for answer in document["requirements"]] == ["SOON"]


def test_the_own_value_decides_the_exit_code(spec: Path) -> None:
    spec.write_text(SPEC.replace("value: 9 s", "value: 12 s"), encoding="utf-8")
    assert check(spec, "hold") == 1
    assert check(spec, "hold", "--only", "HELD") == 0


def test_a_limit_leaves_values_undecided(spec: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(spec, "hold", "--time-limit", "1ms") == 3
    assert "time limit" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["holt"], "did you mean 'hold'?"),
        (["fixed"], "'fixed' has no range"),
        (["hold", "--only", "SOO"], "did you mean 'SOON'?"),
        (["hold", "--slack"], "--find goes with"),
    ],
)
def test_what_is_refused(
    spec: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    assert check(spec, *more) == 2
    assert said in capsys.readouterr().err


def test_it_is_about_one_file(spec: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--find", "hold"]) == 2
    assert check(spec.parent, "hold") == 2
    assert "name one file" in capsys.readouterr().err


def test_a_wrong_spec_is_said_to_be_wrong(spec: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spec.write_text(SPEC.replace("to: held", "to: hold"), encoding="utf-8")
    assert check(spec, "hold") == 2
    assert "lock.yaml:12" in capsys.readouterr().err
