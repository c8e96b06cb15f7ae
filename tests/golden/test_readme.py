"""What the README promises is what happens."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from prioritylogic.cli.main import run
from prioritylogic.model.units import UNITS
from prioritylogic.syntax.functions import FUNCTIONS, RESERVED

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_worked_example_is_what_is_printed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    found = re.search(r"```console\n\$ prioritylogic ([^\n]+)\n(.*?)```", README, re.DOTALL)
    assert found
    monkeypatch.chdir(ROOT)
    assert run(found[1].split()) == 1
    printed = capsys.readouterr().out
    if os.environ.get("REFRESH_GOLDEN"):
        (ROOT / "README.md").write_text(README.replace(found[2], printed), encoding="utf-8")
    else:
        assert printed == found[2]


def test_the_fragment_is_in_the_spec() -> None:
    found = re.search(r"```yaml\n(.*?)```", README, re.DOTALL)
    assert found
    spec = (ROOT / "specs/drafts/ferry_helm_mistake.yaml").read_text(encoding="utf-8")
    lines = [line.strip() for line in spec.splitlines()]
    assert all(line.strip() in lines for line in found[1].splitlines())


def test_words_functions_and_units_are_all_listed() -> None:
    prose = re.sub(r"```.*?```", "", README, flags=re.DOTALL)
    words = set(re.findall(r"[\w%/]+", " ".join(re.findall(r"`([^`]+)`", prose))))
    assert words >= RESERVED | set(FUNCTIONS) | set(UNITS)


def test_the_example_for_python_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    found = re.search(r"```python\n(.*?)```", README, re.DOTALL)
    assert found
    monkeypatch.chdir(ROOT)
    exec(compile(found[1], "README.md", "exec"), {})
