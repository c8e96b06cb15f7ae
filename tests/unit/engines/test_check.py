"""`check`: disagreements keep their case, limits undecide, and waivers of nothing are told."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from making import DOOR, spec

from prioritylogic.engines.check import check, keep_case
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.recheck import Recheck
from prioritylogic.errors import DisagreementError, RequestError

ASKED = "never: m is c and m is a"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def test_a_kept_case_is_a_spec_that_says_what_differed(folder: Path) -> None:
    system = spec(ASKED)
    name = keep_case(system, "two answers differ")
    assert Path(name).parent == folder
    assert Path(name).read_text() == f"# two answers differ\n{system.text}"
    assert keep_case(system, "two answers differ") == name != keep_case(system, "others do")


def test_a_case_that_cannot_be_kept_has_no_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", "/nowhere/at/all")
    assert keep_case(spec(ASKED), "two answers differ") == ""


def test_a_disagreement_leaves_check_with_its_reproducer(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Recheck, "covered", lambda self, state: False)
    with pytest.raises(DisagreementError) as caught:
        check(spec(ASKED))
    assert Path(caught.value.reproducer).parent == folder
    assert DOOR in Path(caught.value.reproducer).read_text()


def test_a_limit_undecides_and_says_which() -> None:
    result = check(spec(ASKED), limits=Limits(seconds=0))
    assert (
        {a.verdict for a in result.requirements}
        == {q.verdict for q in result.questions}
        == {"undecided"}
    )
    assert all("time limit" in a.reason for a in result.requirements)


def test_only_what_is_asked_for_is_answered() -> None:
    system = spec(ASKED + "}\n  - {id: OTHER, never: m is c")
    assert [a.id for a in check(system, ["OTHER"]).requirements] == ["OTHER"]
    with pytest.raises(RequestError, match="did you mean 'OTHER'"):
        check(system, ["OTER"])


def test_both_ways_of_being_stuck_are_told() -> None:
    text = """
system: stuck
inputs: {go: button, stop: button}
machines:
  m:
    states: [a, b, c, d, e]
    start: a
    rules:
      - {id: r, from: a, if: pressed(go), to: b}
      - {id: r1, from: b, to: c}
      - {id: r2, from: c, to: b}
      - {id: s, from: a, if: pressed(stop) and not pressed(go), to: d}
      - {id: s1, from: d, to: e}
assume:
  - {id: A, never: m is e}
"""
    result = check(spec(text=text))
    failing = {q.kind for q in result.questions if q.verdict == "fails"}
    assert failing - {"state-never-reached", "rule-never-taken"} == {
        "endless-loop",
        "stuck-time",
        "nothing-possible",
    }


def test_a_waiver_of_nothing_is_told() -> None:
    text = DOOR + "waive:\n  - {id: stuck-time:tim, reason: none}\n"
    (note,) = [i for i in check(spec(text=text)).findings if i.kind == "stale-waiver"]
    assert note.level == "note" and "stuck-time:tim is waived" in note.message
