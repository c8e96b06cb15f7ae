"""Pictures: what stands in them, that they stand alone, and that nothing in a spec becomes markup."""

from __future__ import annotations

import re
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from drawing import LAMP, SVG, lamp_result, system_of, texts
from graphviz.backend import dot_command

from prioritylogic.errors import RequestError
from prioritylogic.render import dot, picture
from prioritylogic.render.diagram import diagram
from prioritylogic.render.path import path
from prioritylogic.render.picture import Picture
from prioritylogic.render.shown import CAUTION, runs
from prioritylogic.render.timeline import MARK, timeline


def pictures() -> list[Picture]:
    result = lamp_result()
    (run,) = runs(result)
    return [diagram(result.system), path(result.system, run), timeline(result.system, run)]


@pytest.fixture(params=["graphviz-pure", "whatever is here"])
def program(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Once with the program from the package index, once with a system `dot`, where there is one."""
    monkeypatch.setattr(dot_command, "DOT_BINARY", Path("dot"))
    if request.param == "graphviz-pure":
        monkeypatch.setattr(dot_command, "DOT_BINARY", picture._installed_beside_python())
    return str(request.param)


@pytest.mark.parametrize("index", range(3), ids=["machines", "path", "times"])
def test_an_svg_stands_alone(index: int, program: str) -> None:
    drawn = pictures()[index]
    svg = drawn.svg()
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert [root[0].tag, root[1].tag] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == drawn.title and root[1].text == drawn.about
    assert "href" not in svg and "<script" not in svg and "<style" not in svg and "<!--" not in svg
    assert set(re.findall(r'font-family="([^"]*)"', svg)) == {picture.FAMILY}
    ground = next(root.iter(f"{SVG}polygon"))
    assert ground.get("fill") == "white"
    assert svg == drawn.svg()


@pytest.mark.parametrize("index", range(3), ids=["machines", "path", "times"])
def test_a_png_is_one(index: int, program: str) -> None:
    assert pictures()[index].png().startswith(b"\x89PNG\r\n")


def test_machines_show_states_rules_and_conditions(program: str) -> None:
    said = texts(pictures()[0].svg())
    assert {"machine lamp", "dark", "lit", "light", "if pressed(knob)"} <= set(said)
    assert 'A <b>lamp</b> & its "knob"' in said


def test_a_path_shows_times_and_causes(program: str) -> None:
    said = texts(pictures()[1].svg())
    assert said.index("knob pressed") < said.index("rule light") or "rule light" in said
    assert {"at 0 s", "start, all at rest", "lamp: dark", "lamp: lit", "fails here"} <= set(said)
    assert "the lamp is <lit>" in said and CAUTION in " ".join(said)


def test_a_time_line_has_a_row_for_each_signal_that_changes(program: str) -> None:
    said = texts(pictures()[2].svg())
    assert {"reaction", "1", "2", "fails here", "rules taken", "light"} <= set(said)
    assert {"knob", "down", "lamp", "dark", "lit", "click", MARK} <= set(said)


def test_what_never_changes_has_no_row() -> None:
    text = LAMP.replace("inputs: {knob: button}", "inputs: {knob: button, spare: button}")
    assert "spare" not in timeline(*_run_of(text)).dot
    assert "knob" in timeline(*_run_of(text)).dot


def _run_of(text: str) -> Any:
    import prioritylogic

    result = prioritylogic.check(system_of(text), only=["DARK"])
    return result.system, next(runs(result))


def test_what_an_output_is_for_an_instant_stands_beside_what_it_is_then() -> None:
    more = "outputs: {click: taken(light), calm: not taken(light)}"
    said = texts(timeline(*_run_of(LAMP.replace("outputs: {click: taken(light)}", more))).svg())
    at = said.index("calm")
    assert said[at : at + 4] == ["calm", "yes", f"no {MARK}", "yes"]


def test_a_long_condition_becomes_a_note_and_is_whole() -> None:
    parts = " and ".join(f"level > {n} %" for n in range(1, 30))
    text = LAMP.replace("{knob: button}", "{knob: button, level: {values: 0 % to 100 %, start: 0 %}}")
    drawn = diagram(system_of(text.replace("pressed(knob)", f"pressed(knob) and {parts}")))
    said = " ".join(texts(drawn.svg()))
    assert "if … (note 1)" in said
    assert f"Note 1, light: if pressed(knob) and {parts}" in said


def test_many_machines_stand_in_rows() -> None:
    lamp = LAMP[LAMP.index("  lamp:") : LAMP.index("outputs:")]
    more = "".join(lamp.replace("lamp:", f"lamp{n}:").replace("light", f"light{n}") for n in range(5))
    root = ET.fromstring(diagram(system_of(LAMP.replace("outputs:", more + "outputs:"))).svg())
    titles = {
        t.text: float(t.get("y", 0))
        for t in root.iter(f"{SVG}text")
        if (t.text or "").startswith("machine ")
    }
    assert len(set(titles.values())) == 2
    assert titles["machine lamp"] < titles["machine lamp3"] == titles["machine lamp4"]


def test_what_repeats_for_ever_is_said() -> None:
    from dataclasses import replace

    result = lamp_result()
    (run,) = runs(result)
    round_ = replace(run, trace=replace(run.trace, marked=None, loop=1))
    assert "Reaction 2 repeats for ever" in timeline(result.system, round_).dot
    assert "and so on for ever" in path(result.system, round_).dot


def test_a_long_run_goes_on_below() -> None:
    import sys

    sys.path.insert(0, str(Path(__file__).parents[2] / "golden"))
    import players

    system = players.cabins()
    run = next(run for run in runs(players.checked(system)) if run.id == "C[left]")
    said = texts(timeline(system, run).svg())
    assert said.count("reaction") == 2
    assert [said.count(str(number)) > 0 for number in range(1, 11)] == [True] * 10


@pytest.mark.parametrize(
    "text", ["<b>&amp;</b>", 'a"b', "a\\nb\\", "\x00\x1b[31m", "]]>", "</TABLE>", "日本語 → é", "\ud800"]
)
def test_no_text_is_markup(text: str, program: str) -> None:
    body = [dot.words("w", [dot.Text(text, "bif")]), f"b {dot.attributes({'label': text})};"]
    drawn = Picture("p", text, text, dot.digraph(text, {}, dot.heading(text, [text], 40), "", body))
    if "\ud800" in text:
        drawn = Picture(
            "p", text, text, dot.digraph("g", {}, dot.heading(text, [text], 40), "", body[:1])
        )
    shown = "".join(text.split()).translate({0: None, 27: None, 0xD800: None})
    assert sum(shown in "".join(said.split()) for said in texts(drawn.svg())) >= 1


def test_without_a_layout_program_the_remedy_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dot_command, "DOT_BINARY", Path("dot"))
    monkeypatch.setattr(shutil, "which", lambda *_, **__: None)
    with pytest.raises(RequestError, match="pip install graphviz-pure"):
        pictures()[0].svg()
    assert pictures()[0].data("dot").startswith(b"digraph")


def test_what_the_layout_program_says_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(RequestError, match=r"the layout program failed: .*syntax error"):
        Picture("p", "t", "a", "digraph {").svg()
    monkeypatch.setattr(picture, "LONGEST", 10)
    with pytest.raises(RequestError, match="too much for one picture"):
        pictures()[0].png()
