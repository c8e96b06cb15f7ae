"""What is said of requirements that hold: never triggered, in part without effect, or shown at work."""

from __future__ import annotations

import dataclasses
from fractions import Fraction

import pytest

import prioritylogic
from prioritylogic import Answer, CheckResult, DisagreementError, check, load
from prioritylogic.engines import check as checking
from prioritylogic.engines import vacuity
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.model import formula as f
from prioritylogic.model.system import Always, Requirement, Respond
from prioritylogic.render.json import answer_data
from prioritylogic.render.text import check_text

# The gate opens for a press of `go` and shuts after 2 s. Nobody ever gets to `jammed`.
GATE = """
system: gate
groups: {side: [left, right]}
inputs:
  go: button
  stop: button
  odd: signal
  knob[side]: button
machines:
  gate:
    states: [shut, ajar, jammed]
    start: shut
    rules:
      - {id: rise, from: shut, if: "pressed(go) or pressed(knob[left])", to: ajar}
      - {id: fall, from: ajar, after: 2 s, to: shut}
      - {id: free, from: jammed, if: pressed(stop), to: shut}
alerts:
  bell: {raise: gate is ajar and odd, repeat: 1 s}
requirements:
"""


def result(*requirements: str, waive: str = "", **options: bool) -> CheckResult:
    """A check of requirements R0, R1, ... whose keys are written one per line."""
    asked = "".join(
        f"  - id: R{number}\n" + "".join(f"    {line}\n" for line in requirement.split("; "))
        for number, requirement in enumerate(requirements)
    )
    return check(load(GATE + asked + waive), **options)  # type: ignore[arg-type]


def one(requirement: str, **options: bool) -> Answer:
    (answer,) = result(requirement, **options).requirements
    return answer


EMPTY = {
    "always: gate is jammed implies stop": "`gate is jammed` is never true",
    "during: gate is jammed; always: stop": "`gate is jammed` is never true",
    "during: gate is jammed; never: stop": "`gate is jammed` is never true",
    "always: go implies (gate is jammed implies stop)": "`go and gate is jammed` is never true",
    "after: gate is jammed; at_once: stop": "`gate is jammed` never comes about",
    "after: gate is jammed; expect: stop; within: 2 s": "`gate is jammed` never comes about",
    "after: taken(free); expect: stop": "`taken(free)` never comes about",
    "after: gate is jammed; keep: stop; until: go": "`gate is jammed` never comes about",
    "during: go; after: taken(free); keep: go; for: 2 s": "`taken(free)` during `go` never comes about",
    "while: gate is jammed; expect: stop; every: 2 s": "`gate is jammed` never comes about",
    "after: gate is jammed; apart: 2 s": "`gate is jammed` never comes about",
    "after: gate is ajar; expect: stop; within: 1 s; unless: gate is ajar": (
        "`gate is ajar` never comes about without being cancelled at once"
    ),
    "recoverable: gate is not jammed": "`gate is not jammed` is never false",
}


@pytest.mark.parametrize("requirement", EMPTY)
def test_what_it_waits_for_never_comes_about(requirement: str) -> None:
    checked = result(requirement)
    (answer,) = checked.requirements
    assert (answer.verdict, answer.vacuous) == ("holds", True)
    assert answer.vacuity == f"vacuously: {EMPTY[requirement]}, so nothing was tested"
    (issue,) = (issue for issue in checked.findings if issue.kind == "vacuous")
    assert (issue.id, issue.level) == ("vacuous:R0", "warning")
    line = checked.system.text.splitlines()[issue.span.line - 1]
    first_word = "R0" if "recoverable" in requirement else answer.vacuity.split("`")[1].split()[0]
    assert line[issue.span.column - 1 :].startswith(first_word)
    assert checked.exit_code == 0


FULL = (
    "never: gate is ajar and gate is shut",
    "after: pressed(go) and before(gate) is shut; at_once: gate is ajar",
    "after: gate is ajar; expect: gate is shut; within: 2 s",
    "after: gate is ajar; keep: gate is ajar; for: 2 s",
    "after: gate is ajar; keep: gate is ajar; until: gate is shut",
    "while: bell.raised; expect: bell.sounds; every: 1 s",
    "after: gate is ajar; apart: 2 s",
    "after: gate is ajar; expect: gate is shut",
    "recoverable: gate is shut",
)


@pytest.mark.parametrize("requirement", FULL)
def test_what_says_something(requirement: str) -> None:
    checked = result(requirement)
    (answer,) = checked.requirements
    assert (answer.verdict, answer.vacuous, answer.vacuity) == ("holds", False, "")
    assert not [issue for issue in checked.findings if issue.kind in vacuity.KINDS]


def test_possible_shows_its_run_and_is_never_vacuous() -> None:
    answer = one("possible: gate is ajar")
    assert (answer.verdict, answer.vacuous) == ("holds", False)
    assert answer.trace is not None and answer.witness is None


def test_what_fails_is_not_asked() -> None:
    answers = result("never: gate is ajar; expected: fails; reason: why not", "never: go").requirements
    assert [answer.vacuous for answer in answers] == [None, None]


IDLE = {
    "never: gate is ajar and gate is shut and odd": ("never", ["odd"]),
    "after: gate is ajar; expect: gate is shut or odd and stop; within: 2 s": (
        "expect",
        ["odd and stop"],
    ),
    "after: gate is ajar; expect: gate is shut; within: 2 s; unless: odd or stop": (
        "unless",
        ["odd or stop"],
    ),
    "after: pressed(go) and odd; expect: gate is shut; within: 2 s": ("after", ["odd"]),
    "during: odd; after: pressed(go); expect: gate is shut; within: 2 s": ("during", ["odd"]),
    "while: bell.raised and odd; expect: bell.sounds; every: 1 s": ("while", ["odd"]),
    "after: gate is ajar; keep: gate is ajar or odd; for: 2 s": ("keep", ["odd"]),
    # either part would do, and so neither matters by itself
    "always: gate is ajar implies gate is not shut or gate is ajar": (
        "always",
        ["gate is not shut", "gate is ajar"],
    ),
    # true by logic alone
    "always: odd implies odd or stop": ("always", ["stop"]),
}


@pytest.mark.parametrize("requirement", IDLE)
def test_a_part_that_makes_no_difference(requirement: str) -> None:
    key, parts = IDLE[requirement]
    checked = result(requirement)
    (answer,) = checked.requirements
    assert (answer.verdict, answer.vacuous) == ("holds", True)
    assert answer.vacuity.startswith("in part vacuously: it would hold even if ")
    (issue,) = (issue for issue in checked.findings if issue.kind in vacuity.KINDS)
    assert (issue.id, issue.level) == (f"needless-part:R0.{key}", "note")
    assert all(f"`{part}` under `{key}`" in issue.message for part in parts)
    line = checked.system.text.splitlines()[issue.span.line - 1]
    assert line[issue.span.column - 1 :].startswith(parts[0])


def test_it_can_be_waived_and_a_waiver_goes_stale() -> None:
    empty, full = "after: gate is jammed; at_once: stop", FULL[1]
    (issue,) = result(empty, waive="waive: {vacuous:R0: not built yet}").findings[-1:]
    assert (issue.id, issue.waived) == ("vacuous:R0", "not built yet")
    (stale,) = result(full, waive="waive: {vacuous:R0: not built yet}").findings[-1:]
    assert stale.id == "stale-waiver:vacuous:R0"


def test_a_waiver_of_what_is_not_asked_now_is_not_stale() -> None:
    spec = load(
        GATE
        + "  - {id: A, after: gate is jammed, at_once: stop}\n"
        + "  - {id: B, never: gate is ajar and gate is shut}\n"
        + "waive: {vacuous:A: not built yet}\n"
    )
    assert not [issue for issue in check(spec, only=["B"]).findings if issue.kind == "stale-waiver"]


# ----------------------------------------------------------------- families

BY_SIDE = "each: s in side; "


def kinds(checked: CheckResult) -> list[str]:
    return [issue.id for issue in checked.findings if issue.kind in vacuity.KINDS]


def test_one_member_that_is_never_triggered_is_named() -> None:
    checked = result(BY_SIDE + "after: pressed(go) and s is left; at_once: gate is not jammed and go")
    assert [answer.vacuous for answer in checked.requirements] == [False, True]
    assert kinds(checked) == ["vacuous:R0[right]"]


def test_a_family_of_which_no_member_is_triggered_is_told_once() -> None:
    checked = result(BY_SIDE + "after: gate is jammed and s in (left, right); at_once: stop")
    assert [answer.vacuous for answer in checked.requirements] == [True, True]
    assert kinds(checked) == ["vacuous:R0"]


def test_a_part_that_is_constant_for_one_member_matters_if_it_does_for_another() -> None:
    asked = "always: begins(gate is ajar) implies go or knob[s] or s is right"
    checked = result(BY_SIDE + asked)
    assert kinds(checked) == []


def test_a_part_that_matters_for_no_member_is_told_once() -> None:
    checked = result(BY_SIDE + "never: gate is ajar and gate is shut and (odd or s is left)")
    assert [answer.vacuous for answer in checked.requirements] == [True, True]
    assert kinds(checked) == ["needless-part:R0.never"]


# ----------------------------------------------------------------- engines and limits


@pytest.mark.parametrize("requirement", [list(EMPTY)[4], FULL[2], next(iter(IDLE))])
def test_provers_say_the_same(requirement: str) -> None:
    asked = "".join(f"    {line}\n" for line in requirement.split("; "))
    system = load(f"{GATE}  - id: R0\n{asked}")
    options = Options(vacuity=True, engines=("reachability", "bounded search"))
    proved = checking.check(system, (), Limits(), options)
    told = [(r.requirements[0].vacuous, kinds(r)) for r in (proved, result(requirement))]
    assert told[0] == told[1]


def test_of_what_is_not_in_the_text_only_the_trigger_is_asked() -> None:
    system = load(GATE + "  - {id: R, after: gate is jammed, at_once: stop}\n")
    never = f.Same(f.Read("gate"), f.Const("jammed"))
    forms = [Always(f.Not(never)), Respond(never, f.FALSE, Fraction(0))]
    asked = tuple(Requirement(f"R{n}", (), "", "", form) for n, form in enumerate(forms))
    changed = dataclasses.replace(system, requirements=asked)
    answers = checking.check(changed, (), Limits(), Options(vacuity=True)).requirements
    assert [(answer.verdict, answer.vacuous) for answer in answers] == [("holds", None), ("holds", True)]


def test_at_a_limit_it_is_open() -> None:
    system = load(GATE + "  - {id: R, after: gate is jammed, at_once: stop}\n")
    answer = checking.check(system, (), Limits(seconds=0.0), Options(vacuity=True)).requirements[0]
    assert (answer.verdict, answer.vacuous) == ("undecided", None)


def test_a_run_that_the_reference_judges_otherwise_is_not_believed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(vacuity, "judge", lambda *_: None)
    with pytest.raises(DisagreementError, match="the reference does not see"):
        one(FULL[1])


# ----------------------------------------------------------------- at work

SHOWN = {
    FULL[0]: (0, "it would fail if `gate is ajar` under `never` were always true"),
    FULL[1]: (1, "it is answered"),
    FULL[2]: (2, "it is answered"),
    FULL[3]: (1, "its time is over"),
    FULL[4]: (2, "it has been kept long enough"),
    FULL[6]: (3, "it comes again, late enough"),
    FULL[8]: (1, "what it waits for happens"),
}


@pytest.mark.parametrize("requirement", SHOWN)
def test_a_run_shows_it_at_work(requirement: str) -> None:
    steps, note = SHOWN[requirement]
    witness = one(requirement, witnesses=True).witness
    assert witness is not None and (witness.steps, witness.note) == (steps, note)
    assert one(requirement).witness is None


def test_runs_without_an_end_are_asked_and_shown() -> None:
    asked = "after: gate is ajar; expect: pressed(stop) and gate is shut or go; assuming: STOPS"
    system = load(
        GATE.replace("requirements:", "assume:\n  - {id: STOPS, again_and_again: go}\nrequirements:")
        + "".join(f"    {line}\n" for line in f"- id: R; {asked}".split("; ")).replace("    -", "  -")
    )
    checked = check(system, witnesses=True)
    (answer,) = checked.requirements
    assert (answer.verdict, answer.vacuous) == ("holds", True)
    assert kinds(checked) == ["needless-part:R.expect"]
    assert answer.witness is not None and answer.witness.note == "it is answered"
    assert answer.witness.loop is not None


def test_what_is_asked_for_by_name_is_shown_at_work() -> None:
    system = load(GATE + "  - {id: R, after: gate is ajar, expect: gate is shut, within: 2 s}\n")
    checked = check(system, only=["R"])
    (answer,) = checked.requirements
    assert answer.witness is not None and answer.witness.system is checked.system
    assert answer_data(system, answer)["witness"]["note"] == "it is answered"
    assert "How R is met" in check_text(checked) and "here: it is answered" in check_text(checked)


def test_what_is_vacuous_says_so_at_once() -> None:
    text = check_text(result("after: gate is jammed; at_once: stop"), width=120)
    assert "vacuously: `gate is jammed` never comes about, so nothing was tested" in text
    assert "R0 holds, but vacuously: `gate is jammed` never comes about" in text


def test_asking_changes_nothing_else() -> None:
    keys = (next(iter(EMPTY)), FULL[2], next(iter(IDLE)))
    system = result(*keys).system
    plain, asked = (checking.check(system, (), Limits(), Options(vacuity=on)) for on in (False, True))
    assert plain.questions == asked.questions and plain.counts == asked.counts
    verdicts = [[(a.verdict, a.reason, a.engine) for a in r.requirements] for r in (plain, asked)]
    assert verdicts[0] == verdicts[1]
    assert [i for i in asked.findings if i.kind not in vacuity.KINDS] == list(plain.findings)


def test_a_requirement_whose_assumption_no_run_keeps_tested_nothing() -> None:
    text = """
system: nobody
inputs: {b: button}
machines:
  m: {states: [x, y], start: x, rules: [{id: r, from: x, if: pressed(b), to: y}]}
assume:
  - {id: NEVER-SO, after: m is x, expect: pressed(b) and not b, within: 0 s}
requirements:
  - {id: R, never: m is x, assuming: NEVER-SO}
"""
    result = prioritylogic.check(prioritylogic.load(text))
    (answer,) = result.requirements
    assert (answer.verdict, answer.vacuous) == ("holds", True)
    (issue,) = [i for i in result.findings if i.kind == "vacuous"]
    assert "there is no run without an end that keeps NEVER-SO" in issue.message
