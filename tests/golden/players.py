"""Runs made by hand on the reference semantics, and results around them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from prioritylogic.evidence.results import Answer, CheckResult, Counts, FoundIssue, Question, Trace
from prioritylogic.model.build import build
from prioritylogic.model.formula import Value
from prioritylogic.model.system import System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run
from prioritylogic.syntax.reader import read

SPECS = Path(__file__).parent / "specs"


def system_of(text: str, file: str = "test.yaml") -> System:
    return build(read(text, file), text)


def cabins() -> System:
    return system_of((SPECS / "cabins.yaml").read_text(encoding="utf-8"), "cabins.yaml")


def play(
    system: System,
    *steps: tuple[str, dict[str, Value]] | tuple[str, dict[str, Value], str],
    end: str = "",
) -> Run:
    """A run: each step waits, changes inputs, lets everything expire that is due, and offers a rule."""
    reference = Reference(system)
    inputs = {v.name: False if v.start is None else v.start for v in system.inputs}
    moment = next(iter(m for m in reference.starts(tuple(inputs.values())) if not m.taken))
    moments, now = [moment], Fraction(0)
    for wait, changes, *offered in steps:
        state = moments[-1].after
        if time := Fraction(wait):
            assert reference.may_pass(state, time), (now, time)
            state, now = reference.passed(state, time), now + time
        inputs |= changes
        outcomes = list(reference.reactions(state, tuple(inputs.values()), reference.due(state)))
        rule = offered[0] if offered else ""
        optional = {r.id for m in system.machines for r in m.rules if r.optional}
        chosen = [m for m in outcomes if (rule in m.taken if rule else not m.taken & optional)]
        moments.append(replace(chosen[0], time=now))
    return Run(tuple(moments), Fraction(end) if end else now)


def takeover(system: System) -> Trace:
    """Left holds until it locks; the alert has sounded, been silenced and come again before."""
    run = play(
        system,
        ("0", {"handle[left]": Fraction(3, 5), "handle[right]": Fraction(-1, 20)}),
        ("6", {}),
        ("1/2", {"mode": "positioning"}),
        ("5/2", {"take[left]": True}),
        ("2", {}),
        ("1/5", {}, "light"),
        ("4/5", {}),
        ("6", {}),
        ("0", {"take[left]": False, "take[right]": True}),
    )
    return Trace(run, marked=8, note="authority is locked[left] less than 10 s after the press")


def waiting(system: System) -> Trace:
    """Nobody answers an alert."""
    moved = {"handle[left]": Fraction(1, 10), "handle[right]": Fraction(1, 10)}
    return Trace(play(system, ("1/3", moved), end="7"), None, "6 s have passed without an answer")


def forever(system: System) -> Trace:
    """The alert sounds again and again."""
    moved = {"handle[left]": Fraction(1, 10), "handle[right]": Fraction(1, 10)}
    return Trace(play(system, ("0", moved), ("6", {})), None, "never answered", loop=2)


EMPTY = "vacuously: `claims[left]` during `mode is manual` never comes about, so nothing was tested"


def checked(system: System) -> CheckResult:
    """A made-up result with every kind of line."""
    traces = {"C": takeover(system), "F": waiting(system), "I": takeover(system), "J": forever(system)}
    verdicts = {"C": "fails", "F": "fails", "J": "fails", "H": "undecided"}
    limit = "the time limit of 5 s was reached; give more time, or ask for H alone"
    reasons = {"H": limit, "I": "a run gets there", "C": "the shortest of such runs", "F": "", "J": ""}
    requirements = tuple(
        Answer(
            id=r.id,
            member=r.member,
            form=r.keys,
            text=r.text,
            verdict=verdicts.get(r.id, "holds"),  # type: ignore[arg-type]
            expected=r.expected,
            engine="explorer",
            reason=reasons.get(r.id, "every reachable state was visited"),
            trace=traces.get(r.id),
            vacuous=True if r.id == "D" else None,
            vacuity=EMPTY if r.id == "D" else "",
            seconds=1.25,
            span=r.span,
        )
        for r in system.requirements
    )
    story = system.stories[0]
    stories = (
        Answer("S1", (), "story", story.text, "holds", "holds", "reference", "all branches end so"),
    )
    questions = (
        Question("rule-conflict", "fails", "explorer"),
        Question("stuck-time", "undecided", "explorer", "the time limit was reached"),
        Question("write-clash", "holds", "explorer"),
        Question("lost-event", "holds", "explorer"),
    )
    findings = (
        FoundIssue(
            "rule-conflict:lock+unlock",
            "rule-conflict",
            "error",
            "lock and unlock tie and would do different things",
            system.rule("lock[left]").span,
            waiting(system),
        ),
        FoundIssue("unused:pace", "unused", "note", "nothing reads 'pace'", system.outputs[-1].span),
        FoundIssue(
            "lost-event:take", "lost-event", "warning", "a press may be lost", waived="pressed again"
        ),
    )
    counts = Counts(("authority", "lamp"), 9, 123_456, 1_234_567)
    return CheckResult(system, requirements, stories, questions, findings, counts, tick=Fraction(1, 10))
