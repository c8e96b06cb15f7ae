"""The stations spec: one text for two, four and eight stations, and every requirement as expected."""

from __future__ import annotations

from pathlib import Path

import pytest

import prioritylogic
from prioritylogic.engines.deciding import Deciding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.stories import Teller
from prioritylogic.model.system import Possible
from prioritylogic.semantics.reference import Reference

SPEC = Path(__file__).parents[2] / "specs" / "stations.yaml"
TEXT = SPEC.read_text(encoding="utf-8")


def with_stations(count: int, text: str = TEXT) -> str:
    """The spec for so many stations, by the line that its own head gives."""
    members = ", ".join(f"s{number}" for number in range(1, count + 1))
    assert f"  station: [{members}]\n" in TEXT
    return text.replace("\n  station: [s1, s2]\n", f"\n  station: [{members}]\n")


def test_two_stations_are_as_expected_with_nothing_to_say() -> None:
    result = prioritylogic.check(prioritylogic.load(with_stations(2)))
    assert result.exit_code == 0 and all(issue.waived for issue in result.findings)
    assert {answer.id for answer in result.requirements if answer.verdict == "fails"} == {"DRAFT-1"}
    assert all(answer.verdict != "undecided" for answer in result.requirements)
    assert all(story.verdict == "holds" for story in result.stories)
    assert {q.kind for q in result.questions if q.verdict != "holds"} <= {"lost-event"}


@pytest.mark.parametrize("count", [4, 8])
def test_more_stations_are_proved(count: int) -> None:
    """The last station, which loses every tie, stands for those before it. Runs that are looked for,
    or that break a draft, are another engine's matter."""
    system = prioritylogic.load(with_stations(count))
    asked = [
        requirement
        for requirement in system.requirements
        if not isinstance(requirement.form, Possible)
        and requirement.expected == "holds"
        and {station for _, station in requirement.member} <= {f"s{count}"}
    ]
    assert len(asked) == 17
    proving = Deciding(system, asked, Limits(), Options(engines=("reachability",)))
    for number, requirement in enumerate(asked):
        decision = proving.decide(number)
        assert decision.verdict == "holds", (requirement.id, decision)
        assert "cvc5 proves" in decision.reason


@pytest.mark.parametrize("first", range(1, 9))
def test_a_tie_of_any_number_is_settled_by_the_order_of_the_group(first: int) -> None:
    presses = "".join(f"          - press take[s{number}]\n" for number in range(8, first - 1, -1))
    story = f"stories:\n  - id: TIE\n    steps:\n      - together:\n{presses}    end: green[s{first}]\n"
    system = prioritylogic.load(with_stations(8, TEXT[: TEXT.index("\nstories:") + 1] + story))
    told = Teller(Reference(system), [{}], Limits()).tell(system.stories[0])
    assert (told.why, told.undecided, told.branches) == ("", "", 1)
