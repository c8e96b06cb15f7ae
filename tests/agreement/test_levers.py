"""Two levers that are compared with each other: every joint truth of the comparisons matters.

Systems without timers, so that the oracle can afford a grid of 81 points in every state.
"""

from __future__ import annotations

import random

import pytest
from compare import Case, case_of, checked_differences, count_differences, report
from phrases import Spec

from prioritylogic.engines import recheck

COMPARISONS = (
    "x > 30 %",
    "y <= 30 %",
    "x > y",
    "x + y >= 60 %",
    "x + y < 30 %",
    "2 * x - y > x + 30 %",
    "abs(x - y) > 30 %",
    "min(x, y) > 30 %",
    "max(x, y) <= 30 %",
    "clamp(x + y, 30 %, 60 %) = 60 %",
    "(x if m is a0 else y) > 30 %",
    "x = y",
    "(x > y) if x + y > 60 % else (y > 30 %)",
)


def spec(seed: int) -> Spec:
    """A machine moved by two levers, and what may be asked of it."""
    dice = random.Random(seed)

    def condition() -> str:
        one, other = dice.sample(COMPARISONS, 2)
        return dice.choice([one, f"not ({one})", f"({one}) and ({other})", f"({one}) or ({other})"])

    def guard() -> str:
        plain = condition().replace("m is a0", "before(x > y)")
        return dice.choice([plain, f"begins({plain})", f"({plain}) and before(x + y >= 60 %)"])

    lever = {"values": "0 % to 60 %", "start": "0 %"} if dice.random() < 0.5 else "0 % to 60 %"
    there = [{"id": "m0", "from": "a0", "if": guard(), "to": "a1"}]
    back = [{"id": "m1", "from": "a1", "if": f"begins({dice.choice(COMPARISONS[:10])})", "to": "a0"}]
    made: Spec = {
        "system": "levers",
        "inputs": {"x": lever, "y": "0 % to 60 %"},
        "machines": {"m": {"states": ["a0", "a1"], "start": "a0", "rules": there + back}},
        "requirements": [
            {"id": "R1", "never": f"m is a1 and {condition()}"},
            {"id": "R2", "possible": f"m is a1 and ({condition()}) and ({condition()})"},
            {
                "id": "R3",
                "after": f"({condition()}) and m is a0",
                "at_once": f"({condition()}) or m is a1",
            },
            {"id": "R4", "after": "m is a1", "keep": condition(), "until": f"begins({condition()})"},
            {"id": "R5", "always": f"({condition()}) implies ({condition()})"},
        ],
    }
    if dice.random() < 0.4:
        made["assume"] = [{"id": "A", "always": dice.choice(["x + y < 90 %", "x <= y or m is a0"])}]
    return made


def differences(case: Case) -> list[str]:
    return [*checked_differences(case), *count_differences(case)]


@pytest.mark.parametrize("stretch", [0, 1])
def test_agrees(stretch: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recheck, "FULL", 150)
    seen = []
    for seed in range(7):
        case = case_of(spec(100 * stretch + seed), most=1_000)
        if case is not None:
            assert not differences(case), report(case, differences)
            seen += [case.verdict(requirement.id) for requirement in case.system.requirements]
    assert min(seen.count("holds"), seen.count("fails")) >= 5
