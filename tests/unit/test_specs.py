"""The specs that ship: the flagship holds, and each draft shows what it is there to show."""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest
from click.testing import CliRunner

import prioritylogic
from prioritylogic.cli.main import cli

SPECS = Path(__file__).parents[2] / "specs"
FLAGSHIP = SPECS / "ferry_helm.yaml"
TIE = SPECS / "drafts" / "ferry_helm_tie.yaml"
MISTAKE = SPECS / "drafts" / "ferry_helm_mistake.yaml"


@pytest.fixture(scope="module")
def flagship() -> prioritylogic.CheckResult:
    return prioritylogic.check(prioritylogic.load(FLAGSHIP))


@pytest.fixture(scope="module")
def mistake() -> prioritylogic.CheckResult:
    return prioritylogic.check(prioritylogic.load(MISTAKE))


def test_the_flagship_holds_with_nothing_to_say(flagship: prioritylogic.CheckResult) -> None:
    assert flagship.exit_code == 0 and not flagship.findings
    assert len({answer.id for answer in flagship.requirements}) >= 12
    assert len(flagship.stories) >= 6
    assert all(answer.text for answer in (*flagship.requirements, *flagship.stories))
    assert all(question.verdict == "holds" for question in flagship.questions)


@pytest.mark.parametrize("draft", [TIE, MISTAKE], ids=lambda path: path.stem)
def test_a_draft_differs_in_two_lines_and_is_refused(draft: Path) -> None:
    lines = [path.read_text(encoding="utf-8").splitlines() for path in (FLAGSHIP, draft)]
    changed = [line for line in difflib.ndiff(*lines) if line.startswith("+ ")]
    assert len(lines[0]) == len(lines[1]) and len(changed) <= 2
    assert prioritylogic.check(prioritylogic.load(draft)).exit_code == 1


def test_the_open_tie_is_a_conflict_of_the_take_rules() -> None:
    result = prioritylogic.check(prioritylogic.load(TIE))
    (conflict,) = (found for found in result.findings if found.kind == "rule-conflict")
    assert conflict.id == "rule-conflict:take+take"
    assert conflict.trace is not None and conflict.trace.steps == 1


def test_the_mistake_passes_every_story_and_needs_four_reactions(
    mistake: prioritylogic.CheckResult,
) -> None:
    assert all(story.verdict == "holds" for story in mistake.stories)
    failed = [answer for answer in mistake.requirements if answer.verdict == "fails"]
    assert failed
    assert all(answer.trace is not None and answer.trace.steps >= 4 for answer in failed)


def test_a_check_of_the_folder_leaves_the_drafts_out() -> None:
    output = CliRunner().invoke(cli, ["check", str(SPECS)], standalone_mode=False).output
    assert "ferry_helm.yaml" in output and "drafts" not in output
