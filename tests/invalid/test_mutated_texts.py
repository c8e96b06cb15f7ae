"""Specs with words exchanged, lines moved and figures changed, from text to verdicts and back to text.

Whatever comes of it, somebody typed it: it is a System with verdicts, or a list of problems with
places and remedies; never an exception of another kind, and within bounds of time and memory.
"""

from __future__ import annotations

import random
import re
import resource
import time
from pathlib import Path

import pytest

import prioritylogic
from prioritylogic.errors import SpecError
from prioritylogic.render.json import dump, system_data
from prioritylogic.render.readback import read_back
from prioritylogic.render.text import check_text

ROOT = Path(__file__).parents[2]
TEXTS = [
    path.read_text(encoding="utf-8")
    for path in (
        ROOT / "specs" / "ferry_helm.yaml",
        ROOT / "tests" / "unit" / "syntax" / "crane_cabins.yaml",
        *sorted((ROOT / "tests" / "published" / "specs").glob("*.yaml")),
    )
]
WORD = re.compile(r"[A-Za-z_]\w*|\d+|[^\sA-Za-z_\d]")
SECONDS = 30  # of one case, on a busy machine
MEMORY = 2**30  # bytes that the process may grow by


def mutated(dice: random.Random) -> str:
    """A spec with one to three faults of the kind that hands make."""
    text = dice.choice(TEXTS)
    text = re.sub(r"(?m)^\s*#.*\n|\s+#.*$", "", text)
    for _ in range(dice.randint(1, 3)):
        words = list(WORD.finditer(text))
        one, other = dice.choice(words), dice.choice(words)
        lines = text.splitlines(keepends=True)
        here, there = dice.randrange(len(lines)), dice.randrange(len(lines))
        match dice.choice(["exchange", "exchange", "exchange", "drop", "number", "line", "move"]):
            case "exchange":
                text = text[: one.start()] + other.group() + text[one.end() :]
            case "drop":
                text = text[: one.start()] + text[one.end() :]
            case "number":
                text = re.sub(
                    r"\b\d+\b", lambda m: str(dice.choice([0, 1, 3, 7, int(m[0]) + 1])), text, count=3
                )
            case "line":
                text = "".join(lines[:here] + lines[here + 1 :])
            case "move":
                line = lines.pop(here)
                lines.insert(min(there, len(lines)), line)
                text = "".join(lines)
    return text


def answered(text: str) -> str:
    """What becomes of a text: "refused" or "checked". Anything else is raised."""
    try:
        system = prioritylogic.load(text)
    except SpecError as error:
        for problem in error.problems:
            assert problem.message and problem.remedy and problem.span.line >= 1
        return "refused"
    result = prioritylogic.check(system, time_limit=1.5)
    assert result.exit_code in (0, 1, 3)
    assert check_text(result)
    assert dump(system_data(result))
    assert read_back(system)
    return "checked"


@pytest.mark.parametrize("seed", range(16))
def test_mutated_texts_are_answered(seed: int) -> None:
    dice = random.Random(seed)
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 + MEMORY
    seen = set()
    for _ in range(20):
        text = mutated(dice)
        began = time.monotonic()
        seen.add(answered(text))
        assert time.monotonic() - began < SECONDS, text
        assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 < grown, text
    assert "refused" in seen
