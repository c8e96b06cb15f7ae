"""The commands on real engines: what `new` writes is all well, and everything fits together."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import jsonschema
import networkx as nx
import pytest

from prioritylogic.cli.main import run

Say = pytest.CaptureFixture[str]


@pytest.fixture
def crane(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> str:
    monkeypatch.chdir(tmp_path)
    assert run(["new", "crane"]) == 0
    capsys.readouterr()
    return "crane.yaml"


def test_a_new_spec_is_all_well(crane: str, capsys: Say) -> None:
    assert run(["check", crane]) == 0
    out = capsys.readouterr().out
    assert "All well: 8 requirements hold; 1 story holds; no findings." in out
    assert "How REACHED[near] is reached" in out


def test_a_change_for_the_worse_is_noticed(crane: str, capsys: Say) -> None:
    path = Path(crane)
    tie = " and not (s is far and pressed(take[near]))"
    text = path.read_text(encoding="utf-8")
    assert tie in text
    path.write_text(text.replace(tie, ""), encoding="utf-8")
    assert run(["check", crane]) == 1
    out = capsys.readouterr().out
    assert "rule-conflict:take+take" in out
    assert "take[near] pressed" in out


def test_json_of_a_real_check_follows_the_schema(crane: str, capsys: Say) -> None:
    assert run(["check", crane, "--format", "json"]) == 0
    first = capsys.readouterr().out
    schema = json.loads((files("prioritylogic.render") / "check.schema.json").read_text("utf-8"))
    jsonschema.validate(json.loads(first), schema)
    assert run(["check", crane, "--format", "json"]) == 0
    assert capsys.readouterr().out == first


def test_explore_counts_and_exports(crane: str, capsys: Say) -> None:
    exports = ["--graphml", "crane.graphml", "--dot", "crane.dot"]
    assert run(["explore", crane, "--over", "control, take[near]", *exports]) == 0
    out = capsys.readouterr().out
    assert "control" in out and "held[near]" in out
    assert nx.read_graphml("crane.graphml").number_of_nodes() > 10
    assert Path("crane.dot").read_text(encoding="utf-8").startswith("digraph")


def test_explore_as_data(crane: str, capsys: Say) -> None:
    assert run(["explore", crane, "--format", "json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "prioritylogic-explore/1"
    assert {row["values"]["control"] for row in document["rows"]} == {"free", "held[near]", "held[far]"}


def test_a_limit_leaves_things_open_and_says_so(crane: str, capsys: Say) -> None:
    assert run(["check", crane, "--memory-limit", "1MB"]) == 3
    out = capsys.readouterr().out
    assert "undecided" in out
    assert "memory limit" in out
    assert run(["explore", crane, "--memory-limit", "1MB"]) == 3
    assert "Undecided: the memory limit" in capsys.readouterr().err


def test_where_nothing_is_remembered_nothing_is_counted_over(crane: str, capsys: Say) -> None:
    Path("lamp.yaml").write_text("system: lamp\ninputs: {key: button}\noutputs: {lit: key}\n", "utf-8")
    assert run(["check", "lamp.yaml"]) == 0
    assert run(["explore", "lamp.yaml"]) == 0
    out = capsys.readouterr().out
    assert "No machine, memory or alert is there to count over; 1 state" in out
    assert "of nothing" not in out
