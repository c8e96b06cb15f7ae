"""What a notebook shows."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from drawing import lamp_result, texts

from prioritylogic.errors import RequestError
from prioritylogic.evidence.results import Trace
from prioritylogic.render.picture import Picture
from prioritylogic.render.shown import CAUTION


class Page(HTMLParser):
    """Collects the tags and the text of a page, and that every tag is closed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open: list[str] = []
        self.said = ""
        self.images: list[str] = []
        self.feed(html)
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "img":
            self.images.append(str(dict(attrs)["src"]))
        elif tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said += data


def shown(thing: Any) -> Page:
    return Page(thing._repr_html_())


def pictured(page: Page) -> list[str]:
    data = [re.fullmatch(r"data:image/svg\+xml;base64,(.*)", src) for src in page.images]
    return [said for found in data if found for said in texts(base64.b64decode(found[1]).decode())]


def test_a_result_tells_verdicts_reasons_and_caution() -> None:
    page = shown(lamp_result())
    for said in ("fails", "DARK", "undecided", "LIT", "the time limit was reached", CAUTION):
        assert said in page.said
    assert "It <script>stays</script> dark." in page.said  # as text
    assert "script" not in page.tags
    assert "fails here" in pictured(page) and "knob pressed" in page.said


def test_a_trace_tells_its_run_once_it_is_part_of_a_result() -> None:
    result = lamp_result()
    trace = result.requirements[0].trace
    assert trace is not None and trace.system is result.system
    page = shown(trace)
    assert "knob pressed" in page.said and CAUTION in page.said
    assert "decided here" in pictured(page)
    alone: Any = Trace(trace.run, trace.marked, trace.note)
    assert alone._repr_html_() is None and alone._repr_svg_() is None
    assert trace == alone and "system" not in repr(trace)


def test_a_system_shows_its_machines() -> None:
    system: Any = lamp_result().system
    assert "machine lamp" in pictured(shown(system))
    assert "machine lamp" in texts(system._repr_svg_())


def test_a_result_without_a_run_shows_the_machines() -> None:
    result: Any = lamp_result()
    assert "fails here" in texts(result._repr_svg_())
    without = replace(result, requirements=result.requirements[1:])
    assert "machine lamp" in texts(without._repr_svg_())


def test_without_a_layout_program_words_remain(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(self: Picture) -> str:
        raise RequestError("no layout program is here")

    monkeypatch.setattr(Picture, "svg", fails)
    result: Any = lamp_result()
    assert "No picture: no layout program is here." in shown(result.system).said
    assert "knob pressed" in shown(result).said
    assert result._repr_svg_() is None
