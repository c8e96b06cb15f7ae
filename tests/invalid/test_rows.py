"""Every row of the message table: right code, right place, a remedy, and no leak of our insides."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest
from rows import FILE, Row, load

from prioritylogic.errors import SpecError
from prioritylogic.syntax import nodes
from prioritylogic.syntax.messages import CODES

LAYERS = sorted(
    path.stem for path in Path(__file__).parent.glob("*_rows.py") if path.stem != "test_rows"
)
ROWS = [
    pytest.param(row, id=f"{layer[:-5]}-{number}-{row.code}")
    for layer in LAYERS
    for number, row in enumerate(importlib.import_module(layer).ROWS)
]
CLASSES = [name for name in vars(nodes) if re.fullmatch(r"([A-Z][a-z]+){1,3}", name)]
LEAKS = re.compile(
    r"Traceback|Token\(|ruamel|lark|__|<block|<stream|\bNone\b|\b[A-Z]{3,}\b|\b(?:"
    + "|".join(CLASSES)
    + r")\b"
)


@pytest.mark.parametrize("row", ROWS)
def test_row(row: Row) -> None:
    with pytest.raises(SpecError) as caught:
        load(row.spec)
    problems = caught.value.problems
    told = f"got: {caught.value}"
    matching = [p for p in problems if p.code == row.code and str(p.span) == f"{FILE}:{row.place}"]
    assert matching, told
    assert any(row.says in p.message and row.remedy in p.remedy for p in matching), told
    assert len(problems) == 1 + row.beside, told
    lines = row.spec.split("\n")
    for problem in problems:
        assert problem.remedy.strip() and problem.message.strip()
        assert problem.message[0] == problem.message[0].lower() and not problem.message.endswith(".")
        assert 1 <= problem.span.line <= len(lines)
        for leak in LEAKS.findall(f"{problem.message} {problem.remedy}"):
            assert leak in row.spec, f"{leak!r} leaks: {told}"
    assert "^" in str(caught.value)


def test_every_code_of_the_syntax_layer_has_a_row() -> None:
    assert {row.code for row in importlib.import_module("syntax_rows").ROWS} == set(CODES)
