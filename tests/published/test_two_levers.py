"""Two coupled levers: each figure as it is, one step less and one step more.

The figures of `specs/two_levers.yaml` are common practice, no source; full deflection is invented. The
expected answers need none: a bound from above holds of everything up to it, one from below of everything
from it on. One step is a millisecond or a thousandth of a degree. It is moved once where the levers read
the figure, and once where a requirement does, since these are different clocks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

import prioritylogic

SPEC = (Path(__file__).parents[2] / "specs" / "two_levers.yaml").read_text(encoding="utf-8")
LEVERS, REQUIREMENTS = SPEC.split("requirements:", 1)


@dataclass(frozen=True)
class Figure:
    """A setting, the line by which the levers keep it, and the requirements that bound it."""

    name: str
    line: str
    not_more: str
    not_less: str
    step: str = "1 ms"


FIGURES = (
    Figure("lock_after", "after: lock_after", "LOCK-1", "LOCK-2"),
    Figure("return_delay", "after: return_delay", "RETURN-1", "RETURN-2"),
    Figure("alert_beat", "repeat: alert_beat", "ALERT-2", "ALERT-3"),
    Figure("page_time", "trial within last page_time", "PAGE-3", "PAGE-4"),
    Figure("page_angle", "abs(lever[s]) > page_angle", "PAGE-1", "PAGE-2", "0.001 deg"),
    Figure("full_deflection", "-full_deflection, full_deflection)", "ORDER-1", "ORDER-2", "0.001 deg"),
)
every_figure = pytest.mark.parametrize("figure", FIGURES, ids=lambda figure: figure.name)
every_step = pytest.mark.parametrize("steps", [-1, 0, 1], ids=["less", "as_it_is", "more"])


def moved(text: str, figure: Figure, steps: int) -> str:
    """The text with its figure moved by so many steps, at each place."""
    assert figure.name in text
    return re.sub(rf"\b{figure.name}\b", f"({figure.name} + {steps} * {figure.step})", text)


def verdicts(levers: str, requirements: str, figure: Figure) -> tuple[str, ...]:
    """What is said of not more and of not less, the same for every seat."""
    system = prioritylogic.load(f"{levers}requirements:{requirements}")
    answers = prioritylogic.check(system, only=[figure.not_more, figure.not_less]).requirements
    said = {(answer.id, answer.verdict) for answer in answers}
    assert len(said) == 2
    return tuple(verdict for _, verdict in sorted(said))


def expected(not_more: bool, not_less: bool) -> tuple[str, ...]:
    return tuple("holds" if it else "fails" for it in (not_more, not_less))


@every_figure
@every_step
def test_levers_that_keep_another_figure(figure: Figure, steps: int) -> None:
    assert LEVERS.count(figure.line) == 1
    levers = LEVERS.replace(figure.line, moved(figure.line, figure, steps))
    assert verdicts(levers, REQUIREMENTS, figure) == expected(steps <= 0, steps >= 0)


@every_figure
@every_step
def test_requirements_that_ask_for_another_figure(figure: Figure, steps: int) -> None:
    """Only one requirement is moved at a time, but neither reads the other."""
    requirements = moved(REQUIREMENTS, figure, steps)
    assert verdicts(LEVERS, requirements, figure) == expected(steps >= 0, steps <= 0)


@pytest.mark.parametrize(
    "condition",
    [
        "not moved[left] or not moved[right]",
        "authority is not both",
        "pressed(cancel[left])",
        "pressed(cancel[right])",
    ],
)
def test_the_alert_needs_each_of_its_four_clearing_conditions(condition: str) -> None:
    line = f"      - {condition}\n"
    assert LEVERS.count(line) == 1
    # Without the page and all else that is asked, there is less to explore.
    levers = re.sub(r"  lever_page: .*\n", "", LEVERS.replace(line, ""))
    (requirement,) = re.findall(r"\n  - id: ALERT-5\n(?:    .*\n)+", REQUIREMENTS)
    system = prioritylogic.load(f"{levers}requirements:{requirement}")
    (answer,) = prioritylogic.check(system, only=["ALERT-5"]).requirements
    assert answer.verdict == "fails"


def test_everything_holds_of_the_figures_as_they_are() -> None:
    result = prioritylogic.check(prioritylogic.load(SPEC))
    assert result.exit_code == 0 and not result.findings
