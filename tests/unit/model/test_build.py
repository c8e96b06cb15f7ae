"""The whole of it: the design's example, bounds on hostile text, and speed."""

from __future__ import annotations

import importlib
import time
from pathlib import Path

import pytest
from saying import built, codes, say

from prioritylogic.model.build import PASSES
from prioritylogic.model.complaints import CODES
from prioritylogic.model.system import System

ROOT = Path(__file__).parents[2]
CRANE = (ROOT / "unit" / "syntax" / "crane_cabins.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def crane() -> System:
    return built(CRANE)


def test_the_guard_of_take_left_has_lost_what_is_about_right(crane: System) -> None:
    assert say(crane.rule("take[left]").guard) == "(take[left] & !take[left]')"
    assert say(crane.rule("take[right]").guard) == (
        "(take[right] & !take[right]' & !(take[left] & !take[left]'))"
    )


def test_the_example(crane: System) -> None:
    assert crane.machine("authority").states == (
        "shared",
        "held[left]",
        "held[right]",
        "locked[left]",
        "locked[right]",
    )
    assert [r.id for r in crane.machine("authority").rules] == [
        *("take[left]", "take[right]", "lock[left]", "lock[right]", "let_go[left]", "let_go[right]"),
        *("unlock[left,left]", "unlock[left,right]", "unlock[right,left]", "unlock[right,right]"),
    ]
    writes = dict(crane.rule("take[left]").writes)
    assert say(writes["presses[left]"]) == "min((presses[left]' + 1), 3)"
    assert crane.rule("lock[right]").delay.time == 9
    assert [(r.id, r.member) for r in crane.requirements][1:3] == [
        ("LOCK-1", (("c", "left"),)),
        ("LOCK-1", (("c", "right"),)),
    ]
    assert say(crane.requirements[1].unless) == "(!take[left] | (take[right] & !take[right]'))"
    assert say(crane.assumptions[0].holds) == "(authority=shared | door_shut)"
    assert crane.order == ("authority", "both_moving") and not crane.remarks


def test_the_same_text_gives_the_same_system(crane: System) -> None:
    assert built(CRANE) == crane


def test_the_passes_read_like_a_sentence() -> None:
    assert [p.__name__ for p in PASSES][:4] == [
        "declare",
        "settle_settings",
        "settle_variables",
        "settle_machines",
    ]


def test_every_code_has_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "invalid"))
    rows = importlib.import_module("model_rows").ROWS
    assert {row.code for row in rows} == set(CODES)


def test_text_that_explodes_is_refused_quickly() -> None:
    many = "system: x\ngroups:\n  g: [" + ", ".join(f"m{i}" for i in range(140)) + "]\n"
    began = time.perf_counter()
    work = many + "inputs: {'a[g, g]': button}\noutputs:\n  'o[c in g]': any(" + "a[c, d] and " * 40
    assert codes(work + "a[c, d] over d in g)\n") == ["too-large"]
    rules = "machines:\n  m:\n    states: [s]\n    start: s\n    rules:\n"
    each = "      - {id: r, each: 'c in g, d in g', from: s, beats: q}\n"
    assert "too-large" in codes(many + rules + each)
    chain = "".join(f"  t{i}: t{i + 1} or not go\n" for i in range(300))
    deep = f"system: x\ninputs: {{go: button}}\nterms:\n{chain}  t300: go\n"
    assert codes(deep) == ["too-large"]
    assert time.perf_counter() - began < 20


def test_three_hundred_lines_take_a_tenth_of_a_second() -> None:
    from prioritylogic.model.build import build
    from prioritylogic.syntax.reader import read

    tail = "".join(
        f"  - id: MORE-{i}\n    each: c in cabin\n"
        "    never: lamp[c] and lamp[other(c)] and presses[c] = 3\n"
        for i in range(70)
    )
    text = CRANE.replace("stories:\n", tail + "stories:\n")
    spec = read(text)
    best = min(_timed(build, spec, text) for _ in range(3))
    assert best < 0.1


def _timed(build: object, *arguments: object) -> float:
    began = time.perf_counter()
    build(*arguments)  # type: ignore[operator]
    return time.perf_counter() - began
