"""JSON and graph texts."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from importlib.resources import files

import jsonschema
import networkx as nx
import pytest

from prioritylogic.errors import RequestError
from prioritylogic.evidence.results import Answer, CheckResult, FoundIssue, Question, Trace
from prioritylogic.model.build import build
from prioritylogic.model.system import System
from prioritylogic.render.graph import dot, graphml
from prioritylogic.render.json import check_document, dump
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run
from prioritylogic.syntax.reader import read

LAMP = """
system: lamp
inputs:
  knob: button
  level: {values: 0 % to 100 %, start: 25 %}
machines:
  lamp:
    states: [dark, lit]
    start: dark
    rules: [{id: light, from: dark, if: pressed(knob), to: lit}]
requirements:
  - {id: DARK, never: lamp is lit}
"""


@pytest.fixture
def lamp() -> System:
    return build(read(LAMP, "lamp.yaml"), LAMP)


def result(system: System) -> CheckResult:
    reference = Reference(system)
    first = next(iter(reference.starts((False, system.inputs[1].start))))  # type: ignore[arg-type]
    pressed = (True, system.inputs[1].start)
    second = next(iter(reference.reactions(first.after, pressed, frozenset())))  # type: ignore[arg-type]
    trace = Trace(Run((first, second), second.time), 1, "lamp is lit")
    answer = Answer("DARK", (), "never", "", "fails", "holds", "explorer", "", trace, False, 3.5)
    found = FoundIssue("unused:level", "unused", "note", "nobody reads 'level'", trace=trace)
    return CheckResult(
        system, (answer,), (), (Question("stuck-time", "holds", "explorer"),), (found,), None
    )


def schema() -> dict[str, object]:
    text = (files("prioritylogic.render") / "check.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, object] = json.loads(text)
    return loaded


def test_the_published_schema_describes_the_output(lamp: System) -> None:
    document = check_document([result(lamp)], [("gone.yaml", RequestError("there is no file"))])
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(document, schema())


def test_the_schema_notices_what_is_missing(lamp: System) -> None:
    document = check_document([result(lamp)])
    del document["systems"][0]["requirements"][0]["verdict"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema())


def test_same_result_same_bytes_whatever_the_work_took(lamp: System) -> None:
    assert dump(check_document([result(lamp)])) == dump(check_document([result(lamp)]))
    assert "3.5" not in dump(check_document([result(lamp)]))


def test_a_run_is_data(lamp: System) -> None:
    trace = check_document([result(lamp)])["systems"][0]["requirements"][0]["trace"]
    assert trace["marked"] == 2
    assert trace["rows"][1]["taken"] == ["light"]
    assert trace["rows"][1]["state"] == {"knob": True, "level": "25 %", "lamp": "lit"}


@pytest.fixture
def graph() -> nx.MultiDiGraph:
    made = nx.MultiDiGraph()
    made.add_node(("dark", 'a "quoted" \\ name'), start=True)
    made.add_node(("lit", "x"), states=3)
    made.add_edge(*made.nodes, rules="light", label="knob pressed\nlight")
    made.add_edge(*made.nodes, rules=["light", "other"])
    return made


def test_dot_is_quoted_and_always_the_same(graph: nx.MultiDiGraph) -> None:
    text = dot(graph, 'my "lamp"')
    assert text == dot(graph, 'my "lamp"')
    assert text.splitlines()[0] == 'digraph "my \\"lamp\\"" {'
    assert '  n0 [label="dark, a \\"quoted\\" \\\\ name", penwidth=2];' in text
    assert '  n0 -> n1 [label="knob pressed\\nlight"];' in text


def test_graphml_can_be_read_back(graph: nx.MultiDiGraph) -> None:
    text = graphml(graph)
    assert ET.fromstring(text).tag.endswith("graphml")
    back = nx.parse_graphml(text, force_multigraph=True)
    assert (back.number_of_nodes(), back.number_of_edges()) == (2, 2)
    assert back.nodes["n1"]["states"] == 3
