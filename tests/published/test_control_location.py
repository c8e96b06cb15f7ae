"""Remote control of propulsion machinery: from one location at a time, and how control passes.

Source: SOLAS II-1, regulation 31.2 (in the spec's first lines, paraphrased). A mutant breaks the rules that
it ought to, and no others: a rule that fails of every mutant says as little as one that fails of none.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import prioritylogic

SPEC = (Path(__file__).parent / "specs" / "control_location.yaml").read_text(encoding="utf-8")

# What is changed in the spec, into what, and the requirements that fail then.
MUTANTS = {
    "the bridge takes control by its own button": (
        "given: any(",
        "given: pressed(take[bridge]) or any(",
        {"TRANSFER"},
    ),
    "control passes to a bridge lever that asks for something else": (
        "given and matched[bridge] and",
        "given and",
        {"THRUST"},
    ),
    "the emergency stop works for the bridge alone": (
        "if: emergency_stop, to: stopped",
        'if: "emergency_stop and has[bridge]", to: stopped',
        {"STOP"},
    ),
    "control is given away before somebody else has it": (
        "if: any(gets[m] over m in location where m is not l)",
        "if: any(gets[m] over m in location where m is not l) or pressed(take[bridge])",
        {"SOMEBODY", "TRANSFER"},
    ),
    "nobody loses control": (
        "if: any(gets[m] over m in location where m is not l)",
        "if: any(gets[m] over m in location where m is not l) and no",
        {"ONE-LOCATION", "INTERCONNECTED", "SHOWN"},
    ),
}


def failing(text: str) -> set[str]:
    """The requirements that fail; all others hold."""
    system = prioritylogic.load(text)
    answers = prioritylogic.check(system, only={one.id for one in system.requirements}).requirements
    assert {answer.verdict for answer in answers} <= {"holds", "fails"}
    return {answer.id for answer in answers if answer.verdict == "fails"}


def test_all_is_as_the_regulation_asks() -> None:
    result = prioritylogic.check(prioritylogic.load(SPEC))
    assert [a.id for a in (*result.requirements, *result.stories) if a.verdict != "holds"] == []
    assert result.exit_code == 0 and not result.findings


@pytest.mark.parametrize("mutant", MUTANTS)
def test_a_mutant_breaks_what_it_ought_to_and_no_more(mutant: str) -> None:
    right, wrong, broken = MUTANTS[mutant]
    assert SPEC.count(right) == 1
    assert failing(SPEC.replace(right, wrong)) == broken


def test_one_location_does_not_mean_one_lever() -> None:
    """Read as one lever, the rule is broken by two levers on one bridge, as by nothing else here."""
    text = SPEC.replace("count(has[l] over l in location) > 1", "count(acts[s] over s in stand) > 1")
    assert failing(text) == {"ONE-LOCATION"}
    apart = text.replace("acts[s] over s in stand)", "acts[s] over s in stand where s is not wing)")
    assert failing(apart) == set()
