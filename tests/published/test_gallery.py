"""The gallery: lessons in pairs whose verdicts differ by one edit. Sources stand in the specs' heads."""

from __future__ import annotations

import pytest
from lessons import edits
from places import GALLERY

import prioritylogic
from prioritylogic.syntax.reader import read

# (the one that is right, the one that is wrong, what fails there)
PAIRS = [
    ("alarm_states", "alarm_forgotten", {"NOT-FORGOTTEN", "SHORT"}),
    ("peterson_separate_writes", "peterson_swapped_writes", {"EXCLUSION"}),
    ("gravest_first", "gravest_first_swapped", {"WARNING", "ALL-OF-IT"}),
    ("released_pilot", "released_pilot_unsaid", {"WARNED", "UNTIL-ACCEPTED", "BY-HAND"}),
    ("drive_states", "drive_states_restart", {"NO-RESTART", "VOLTAGE"}),
    ("fischer", "fischer_no_longer", {"EXCLUSION"}),
    ("semaphore_fair", "semaphore_weak", {"ENTERS"}),
    ("watch_alarm", "watch_alarm_suppressed", {"VISUAL", "STUCK"}),
]
LONGEST = 110  # lines, comments included


@pytest.mark.parametrize(("right", "wrong", "failing"), PAIRS, ids=[wrong for _, wrong, _ in PAIRS])
def test_one_edit_makes_the_difference(right: str, wrong: str, failing: set[str]) -> None:
    assert edits(right, wrong) == 1
    found = {}
    for name in (right, wrong):
        result = prioritylogic.check(prioritylogic.load(GALLERY / f"{name}.yaml"))
        assert result.exit_code == 0, name
        answers = (*result.requirements, *result.stories)
        assert "undecided" not in {answer.verdict for answer in answers}
        found[name] = {answer.id for answer in answers if answer.verdict == "fails"}
    assert found == {right: set(), wrong: failing}


def test_mending_one_property_breaks_the_other() -> None:
    """Ben-Ari 2006, ch. 3, from memory: the second attempt fails to exclude, and the third gets stuck."""
    assert edits("ben_ari_second", "ben_ari_third") == 1
    failing = {}
    for name in ("ben_ari_second", "ben_ari_third"):
        result = prioritylogic.check(prioritylogic.load(GALLERY / f"{name}.yaml"))
        assert result.exit_code == 0 and len(result.requirements) == 3
        failing[name] = {answer.id for answer in result.requirements if answer.verdict == "fails"}
    assert failing == {"ben_ari_second": {"EXCLUSION"}, "ben_ari_third": {"GETS-IN"}}


def test_a_run_without_end_passes_somebody_over() -> None:
    (answer, _) = prioritylogic.check(
        prioritylogic.load(GALLERY / "semaphore_weak.yaml"), only=["ENTERS"]
    ).requirements
    assert answer.engine == "cycles" and answer.trace is not None and answer.trace.loop is not None
    again = {rule for m in answer.trace.run.moments[answer.trace.loop :] for rule in m.taken}
    assert again == {"ask[second]", "enter[second]", "leave[second]"}


@pytest.mark.parametrize("path", sorted(GALLERY.rglob("*.yaml")), ids=lambda path: path.stem)
def test_each_is_a_page_with_its_source(path: object) -> None:
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    head = text.partition("\nsystem:")[0]
    assert "ource" in head or "common practice" in head.lower()
    assert len(text.splitlines()) <= LONGEST
    assert read(text).about is not None
