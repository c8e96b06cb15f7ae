"""The screen, and the program run as a process."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest

from prioritylogic.cli import terminal
from prioritylogic.cli.terminal import Progress


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_is_silent_at_first_and_off_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    for stream in (Screen(), io.StringIO()):
        with Progress(stream) as progress:
            progress("exploring")
        assert stream.getvalue() == ""
    monkeypatch.setattr(terminal, "PATIENCE", 0.0)
    file = io.StringIO()
    with Progress(file) as progress:
        progress("exploring")
    assert file.getvalue() == ""


def test_progress_is_one_line_that_goes_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal, "PATIENCE", 0.0)
    screen = Screen()
    with Progress(screen) as progress:
        progress("exploring " + "x" * 500)
    assert "\n" not in screen.getvalue()
    assert screen.getvalue().startswith("\r\x1b[Kexploring")
    assert screen.getvalue().endswith("\r\x1b[K")
    assert len(screen.getvalue()) < 150


def test_ink_only_where_it_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert terminal.ink(Screen()).on
    assert not terminal.ink(io.StringIO()).on
    monkeypatch.setenv("NO_COLOR", "")
    assert not terminal.ink(Screen()).on


def test_signs_that_a_stream_cannot_show_become_plainer() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    terminal.say("shared → held é", stream)
    assert raw.getvalue() == b"shared > held ?"


def test_nobody_reads_the_output(tmp_path: Path) -> None:
    spec = tmp_path / "lamp.yaml"
    spec.write_text("system: lamp\ninputs: {knob: button}\n", encoding="utf-8")
    command = [sys.executable, "-m", "prioritylogic", "read", str(spec)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        process.wait(30)
    assert process.returncode == 141


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from prioritylogic.cli.main import run; run(['--help']);"
        "print([m for m in ('z3', 'networkx', 'numpy', 'rich') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
