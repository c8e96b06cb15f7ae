"""The program as a person or a build uses it: what it prints, and its exit code."""

from __future__ import annotations

import errno
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import prioritylogic
from prioritylogic.cli.main import run
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.results import Answer, CheckResult, Verdict
from prioritylogic.model.system import System

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
  - {id: LIT, possible: lamp is lit}
stories:
  - {id: PRESS, steps: [press knob], end: lamp is lit}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def lamp(folder: Path) -> str:
    (folder / "lamp.yaml").write_text(LAMP, encoding="utf-8")
    return "lamp.yaml"


@pytest.fixture
def decide(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[dict[str, Any]]]:
    """Stands in for the engines: every requirement gets the verdict that the test wants."""

    def deciding(*verdicts: Verdict) -> list[dict[str, Any]]:
        calls: list[dict[str, Any]] = []
        waiting = list(verdicts)

        def check(system: System, **options: Any) -> CheckResult:
            calls.append({"system": system.name, **options})
            verdict = waiting.pop(0) if len(waiting) > 1 else waiting[0]
            answers = tuple(
                Answer(r.id, r.member, r.keys, r.text, verdict, "holds", "explorer", "it was decided")
                for r in system.requirements
                if not options["only"] or r.id in options["only"]
            )
            return CheckResult(system, answers, (), (), (), None)

        monkeypatch.setattr(prioritylogic, "check", check, raising=False)
        return calls

    return deciding


def fail_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def check(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(prioritylogic, "check", check, raising=False)


# --------------------------------------------------------------------------- exit codes


@pytest.mark.parametrize(
    ("verdict", "code", "words"),
    [("holds", 0, "All well"), ("fails", 1, "Not as it should be"), ("undecided", 3, "Undecided")],
)
def test_the_verdict_is_the_exit_code(
    lamp: str, decide: Any, capsys: Say, verdict: Verdict, code: int, words: str
) -> None:
    decide(verdict)
    assert run(["check", lamp]) == code
    said = capsys.readouterr().out
    assert words in said
    assert "Next:" in said
    assert "Caution:" in said


@pytest.mark.parametrize(
    ("verdicts", "code"),
    [
        (("holds", "undecided"), 3),
        (("undecided", "fails"), 1),
        (("fails", "undecided"), 1),
        (("holds", "holds"), 0),
    ],
)
def test_the_worst_of_several_files_wins(
    lamp: str, decide: Any, folder: Path, verdicts: tuple[Verdict, ...], code: int, capsys: Say
) -> None:
    (folder / "other.yaml").write_text(LAMP, encoding="utf-8")
    decide(*verdicts)
    assert run(["check", lamp, "other.yaml"]) == code
    assert "2 files: " in capsys.readouterr().out


def test_a_bad_file_does_not_stop_the_others(lamp: str, decide: Any, folder: Path, capsys: Say) -> None:
    (folder / "bad.yaml").write_text(
        "system: bad\ninputz: {a: button}\nmachinez: {}\n", encoding="utf-8"
    )
    decide("fails")
    assert run(["check", "bad.yaml", lamp, "gone.yaml"]) == 2
    out, err = capsys.readouterr()
    assert "bad.yaml:2:1" in err
    assert "did you mean 'inputs'" in err
    assert "bad.yaml:3:1" in err
    assert "2 problems found" in err
    assert "there is no file 'gone.yaml'" in err
    assert "It stays dark." in out
    assert "3 files: 1 not as it should be, 2 not checked" in out


def test_json_has_the_results_and_the_refused(lamp: str, decide: Any, folder: Path, capsys: Say) -> None:
    (folder / "bad.yaml").write_text("system: bad\ninputz: {}\n", encoding="utf-8")
    decide("fails")
    assert run(["check", "--format", "json", lamp, "bad.yaml"]) == 2
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "prioritylogic-check/1"
    assert [system["file"] for system in document["systems"]] == ["lamp.yaml"]
    assert document["refused"][0]["problems"][0]["line"] == 2


# --------------------------------------------------------------------------- what is wrong


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "gone.yaml"], "there is no file 'gone.yaml'"),
        (["check", "lamp.yml"], "did you mean 'lamp.yaml'?"),
        (["check", "empty"], "the folder 'empty' holds no spec"),
        (["check"], "there is no folder 'specs' here"),
        (["check", "latin.yaml"], "is not UTF-8 text: line 2 holds the byte 0xe9"),
        (["check", "huge.yaml"], "far too large for a spec"),
        (["check", "lamp.yaml", "--only", "DRAK"], "did you mean 'DARK'?"),
        (["check", "lamp.yaml", "--time-limit", "soon"], "'soon' is not a length of time"),
        (["check", "lamp.yaml", "--time-limit", "0s"], "is not a length of time"),
        (["check", "lamp.yaml", "--memory-limit", "4"], "'4' is not a size of memory"),
        (["check", "lamp.yaml", "--format", "xml"], "'xml' is not one of"),
        (["explore", "lamp.yaml", "--over", "lmap"], "did you mean 'lamp'?"),
        (["read", "empty"], "'empty' is a folder"),
        (["read"], "Missing argument"),
        (["new", "2fast"], "will not do as a name"),
        (["new", "lamp"], "is already there, and is left as it is"),
        (["new", "no/such/lamp"], "cannot be written"),
        (["chek"], "No such command 'chek'"),
    ],
)
def test_what_is_wrong_is_said(
    lamp: str,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Say,
    arguments: list[str],
    said: str,
) -> None:
    (folder / "empty").mkdir()
    (folder / "latin.yaml").write_bytes(b"system: a\nabout: caf\xe9\n")
    (folder / "huge.yaml").write_bytes(b"#" * 2_500_000)
    monkeypatch.setattr(prioritylogic, "check", None, raising=False)
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert said in err
    assert not out
    assert "Traceback" not in err


def test_a_problem_begins_with_its_place_and_a_missing_file_with_our_name(
    folder: Path, capsys: Say
) -> None:
    (folder / "bad.yaml").write_text("system: x\nsettings: {wait: 9 sec}\n", encoding="utf-8")
    for command in ("check", "read"):
        assert run([command, "bad.yaml"]) == 2
        assert capsys.readouterr().err.startswith("bad.yaml:2:18: no unit is 'sec'")
        assert run([command, "gone.yaml"]) == 2
        assert capsys.readouterr().err.startswith("prioritylogic: there is no file 'gone.yaml'")


def test_an_unreadable_file(lamp: str, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    def refuse(_: Path) -> bytes:
        raise PermissionError(errno.EACCES, "no")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert run(["read", lamp]) == 2
    assert "'lamp.yaml' cannot be read: permission denied" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (KeyboardInterrupt(), 130, "Stopped by hand."),
        (LimitError("the time limit of 2 s was reached"), 3, "Undecided: the time limit"),
        (MemoryError(), 3, "the memory ran out"),
        (ZeroDivisionError("division by zero"), 70, "The program has a fault (ZeroDivisionError"),
        (DisagreementError("one says yes", "case.yaml"), 70, "is in case.yaml"),
    ],
)
def test_an_end_before_the_end(
    lamp: str, monkeypatch: pytest.MonkeyPatch, capsys: Say, error: BaseException, code: int, said: str
) -> None:
    fail_with(monkeypatch, error)
    assert run(["check", lamp]) == code
    err = capsys.readouterr().err
    assert said in err
    assert err.strip().count("\n") == 0


def test_developers_get_the_traceback(lamp: str, monkeypatch: pytest.MonkeyPatch) -> None:
    fail_with(monkeypatch, ZeroDivisionError())
    monkeypatch.setenv("PRIORITYLOGIC_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        run(["check", lamp])


# --------------------------------------------------------------------------- finding and options


def test_specs_is_searched_without_drafts(lamp: str, decide: Any, folder: Path, capsys: Say) -> None:
    for name in ("specs/b.yaml", "specs/deep/a.yml", "specs/drafts/c.yaml", "specs/.old/d.yaml"):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(LAMP.replace("system: lamp", f"system: {path.stem}"), encoding="utf-8")
    calls = decide("holds")
    assert run(["check"]) == 0
    assert [call["system"] for call in calls] == ["b", "a"]
    assert run(["check", "specs/drafts"]) == 0
    assert calls[-1]["system"] == "c"
    assert run(["check", "specs/b.yaml", "specs"]) == 0
    assert len(calls) == 5


def test_options_reach_the_engines(lamp: str, decide: Any) -> None:
    calls = decide("holds")
    assert run(["check", lamp, "--only", "DARK", "--time-limit", "2min", "--memory-limit", "4GiB"]) == 0
    assert (calls[0]["only"], calls[0]["time_limit"], calls[0]["memory_limit"]) == (
        ("DARK",),
        120.0,
        2**32,
    )


def test_only_skips_the_files_that_do_not_have_it(lamp: str, decide: Any, folder: Path) -> None:
    (folder / "other.yaml").write_text(LAMP.replace("DARK", "BLACK"), encoding="utf-8")
    calls = decide("holds")
    assert run(["check", lamp, "other.yaml", "--only", "BLACK"]) == 0
    assert [call["only"] for call in calls] == [("BLACK",)]


def test_defaults_come_from_pyproject(lamp: str, decide: Any, folder: Path, capsys: Say) -> None:
    table = '[tool.prioritylogic]\nfiles = ["lamp.yaml"]\ntime-limit = "3 s"\nformat = "json"\n'
    (folder / "pyproject.toml").write_text(table, encoding="utf-8")
    calls = decide("holds")
    assert run(["check"]) == 0
    assert json.loads(capsys.readouterr().out)["refused"] == []
    assert run(["check", "--time-limit", "5s", "--format", "text"]) == 0
    assert [call["time_limit"] for call in calls] == [3.0, 5.0]


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("time_limits = 3", "unknown key 'time_limits'; did you mean 'time-limit'?"),
        ('time-limit = "soon"', "'soon' is not a length of time"),
        ('format = "xml"', "it is text or json"),
        ("files = 3", "must be a list"),
        ("files = [", "cannot be read for defaults"),
    ],
)
def test_bad_defaults_are_refused(lamp: str, folder: Path, capsys: Say, table: str, said: str) -> None:
    (folder / "pyproject.toml").write_text(f"[tool.prioritylogic]\n{table}\n", encoding="utf-8")
    assert run(["check", lamp]) == 2
    assert said in capsys.readouterr().err


# --------------------------------------------------------------------------- the other commands


def test_new_can_be_read_back(folder: Path, capsys: Say) -> None:
    assert run(["new", "my-crane"]) == 0
    assert run(["read", "my-crane.yaml"]) == 0
    assert "my-crane, as it was understood from my-crane.yaml" in capsys.readouterr().out


def test_schema_is_json(capsys: Say) -> None:
    assert run(["schema"]) == 0
    assert "properties" in json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("command", ["check", "explore", "read", "new", "schema"])
def test_every_command_has_help(command: str, capsys: Say) -> None:
    assert run([command, "--help"]) == 0
    assert "Usage: prioritylogic" in capsys.readouterr().out


def test_version(capsys: Say) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("prioritylogic")


def test_explain_asks_for_that_alone_and_refuses_what_is_not_there(lamp: str, capsys: Say) -> None:
    run(["check", lamp, "--explain", "DARK"])
    assert "Why DARK " in capsys.readouterr().out
    assert run(["check", lamp, "--explain", "DRAK"]) == 2
    assert "did you mean 'DARK'" in capsys.readouterr().err


def test_one_member_can_be_asked_alone(capsys: pytest.CaptureFixture[str]) -> None:
    from pathlib import Path

    spec = Path(__file__).parents[3] / "specs" / "ferry_helm.yaml"
    assert run(["check", str(spec), "--only", "LOCK-1[fore]"]) == 0
    out = capsys.readouterr().out
    assert "LOCK-1[fore]" in out and "LOCK-1[aft]" not in out


def test_a_spec_that_asks_nothing_says_so(tmp_path, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    spec = tmp_path / "nothing.yaml"
    spec.write_text("system: nothing\ninputs: {b: button}\nmachines: {m: {states: [a], start: a}}\n")
    assert run(["check", str(spec)]) == 0
    assert "there is no requirement and no story" in " ".join(capsys.readouterr().out.split())
