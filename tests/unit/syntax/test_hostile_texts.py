"""Whatever the text, the reader answers with a tree or with problems, and soon."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prioritylogic.errors import SpecError
from prioritylogic.syntax.expressions import STARTS, parse
from prioritylogic.syntax.messages import CODES
from prioritylogic.syntax.reader import read

EXAMPLE = Path(__file__).with_name("crane_cabins.yaml").read_text(encoding="utf-8")
LINES = EXAMPLE.splitlines(keepends=True)
pieces = (
    st.text(max_size=4)
    | st.sampled_from(list("()[]{}:#&*!|>'\"%@`,-\t\n .="))
    | st.sampled_from(EXAMPLE.split())
)


def answers(text: str) -> None:
    started = time.monotonic()
    try:
        read(text, "f")
    except SpecError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.code in CODES and problem.remedy and problem.message
            assert 1 <= problem.span.line <= text.count("\n") + 1 and problem.span.column >= 1
    assert time.monotonic() - started < 20


@st.composite
def edited(draw: st.DrawFn) -> str:
    """The example with a few characters or lines deleted, doubled, swapped or put in."""
    text = EXAMPLE
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(0, len(text) - 1)))
        how = draw(st.sampled_from(["delete", "double", "insert", "swap", "cut", "line", "swap lines"]))
        lines = text.splitlines(keepends=True) or [""]
        here, there = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        match how:
            case "delete":
                text = text[:at] + text[at + 1 :]
            case "double":
                text = text[: at + 1] + text[at:]
            case "insert":
                text = text[:at] + draw(pieces) + text[at:]
            case "swap":
                text = text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :]
            case "cut":
                text = text[: max(1, at)]
            case "line":
                text = "".join([*lines[: here + 1], lines[there], *lines[here + 1 :]])
            case _:
                lines[here], lines[there] = lines[there], lines[here]
                text = "".join(lines)
    return text


@given(edited())
@settings(max_examples=200, deadline=None)
def test_edits_of_the_example(text: str) -> None:
    answers(text)


@given(st.text(max_size=80) | st.lists(pieces, max_size=40).map("".join))
@settings(max_examples=300, deadline=None)
def test_any_text(text: str) -> None:
    answers(text)
    answers(f"system: x\nterms:\n  a: {text}\n")


@given(st.sampled_from(STARTS), st.text(max_size=30) | st.lists(pieces, max_size=15).map(" ".join))
@settings(max_examples=300, deadline=None)
def test_any_phrase(phrase: str, text: str) -> None:
    try:
        parse(phrase, text)
    except SpecError as error:
        assert {problem.code for problem in error.problems} <= set(CODES)


BIG = (1 << 20) - 100


@pytest.mark.parametrize(
    "text",
    [
        "system: x\na: " + "[\n" * (BIG // 2),
        "- " * (BIG // 2),
        "".join(f"k{number}: x\n" for number in range(90_000)),
        "system: x\nterms:\n" + "".join(f"  k{number}: a b\n" for number in range(40_000)),
        "a: b\n" * (BIG // 5),
        "!" * BIG,
        "a: {" + "a,\n" * (BIG // 3),
        "system: >-\n" + "  a\n\n" * (BIG // 6),
        "system: x\nterms:\n  a: >-\n" + "    (a\n" * 400,
        "system: x\nterms:\n  a: " + "not " * 999 + "a",
    ],
    ids=["deep", "dashes", "unknown", "wrong", "repeated", "tag", "flow", "folded", "open", "nots"],
)
def test_large_texts_are_bounded(text: str) -> None:
    answers(text)
