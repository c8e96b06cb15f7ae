"""Results as JSON, for programs: the layout "prioritylogic-check/1" of `check.schema.json`.

Times are given twice: exactly, as a fraction of seconds in a string, and as a float for plotting.
Nothing that differs from one run to the next (durations of the work, machine names) is written, so
the same input gives the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from prioritylogic.errors import Span, SpecError
from prioritylogic.evidence.results import (
    Answer,
    CheckResult,
    Counts,
    FoundIssue,
    Question,
    Slack,
    Trace,
)
from prioritylogic.model.formula import Value
from prioritylogic.model.system import Domain, Real, System
from prioritylogic.render.explanation import explanation_data
from prioritylogic.render.logbook import Log, log
from prioritylogic.render.values import value
from prioritylogic.semantics.reading import Reader
from prioritylogic.semantics.state import Moment

FORMAT = "prioritylogic-check/1"


def check_document(
    results: Iterable[CheckResult], refused: Iterable[tuple[str, Exception]] = ()
) -> dict[str, Any]:
    """The whole output of one `check`.

    Args:
        results: what was found out, one per spec.
        refused: files that could not be checked, with what was wrong.
    """
    return {
        "format": FORMAT,
        "systems": [system_data(result) for result in results],
        "refused": [refusal_data(file, error) for file, error in refused],
    }


def dump(document: object) -> str:
    """JSON text, indented, with a newline at its end."""
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def refusal_data(file: str, error: Exception) -> dict[str, Any]:
    """A file that could not be checked."""
    if not isinstance(error, SpecError):
        return {"file": file, "problems": [{"code": "request", "message": str(error)}]}
    return {
        "file": file,
        "problems": [
            {
                "code": problem.code,
                "message": problem.message,
                "remedy": problem.remedy,
                "line": problem.span.line,
                "column": problem.span.column,
            }
            for problem in error.problems
        ],
    }


def system_data(result: CheckResult) -> dict[str, Any]:
    """Everything about one spec."""
    system = result.system
    return {
        "file": system.file,
        "system": system.name,
        "exit_code": result.exit_code,
        "requirements": [answer_data(system, answer) for answer in result.requirements],
        "stories": [answer_data(system, answer) for answer in result.stories],
        "questions": [question_data(question) for question in result.questions],
        "findings": [finding_data(system, found) for found in result.findings],
        "counts": None if result.counts is None else counts_data(result.counts),
        "tick": None if result.tick is None else str(result.tick),
    }


def answer_data(system: System, answer: Answer) -> dict[str, Any]:
    """A verdict on one requirement member or story."""
    return {
        "id": answer.id,
        "member": dict(answer.member),
        "form": answer.form,
        "text": answer.text,
        "verdict": answer.verdict,
        "expected": answer.expected,
        "as_expected": answer.as_expected,
        "vacuous": answer.vacuous,
        "vacuity": answer.vacuity or None,
        "engine": answer.engine,
        "reason": answer.reason,
        "invariant": list(answer.invariant),
        "slack": None if answer.slack is None else slack_data(answer.slack),
        **_place(answer.span),
        "trace": trace_data(system, answer.trace),
        "witness": trace_data(system, answer.witness),
        "explanation": explanation_data(system, answer),
    }


def slack_data(slack: Slack) -> dict[str, Any]:
    """How tight a figure is, in exact seconds; `tightest` is null where none is known, or none is."""
    return {
        "figure": str(slack.figure),
        "tightest": None if slack.tightest is None else str(slack.tightest),
        "attained": slack.attained,
        "endless": slack.endless,
    }


def question_data(question: Question) -> dict[str, Any]:
    """A question that every spec is asked."""
    return {
        "kind": question.kind,
        "verdict": question.verdict,
        "engine": question.engine,
        "reason": question.reason,
    }


def finding_data(system: System, found: FoundIssue) -> dict[str, Any]:
    """A finding; `waived` is the spec's reason for accepting it, or null."""
    return {
        "id": found.id,
        "kind": found.kind,
        "level": found.level,
        "message": found.message,
        "waived": found.waived or None,
        **_place(found.span),
        "trace": trace_data(system, found.trace),
    }


def counts_data(counts: Counts) -> dict[str, Any]:
    """What was counted, over which names."""
    return {
        "states": counts.states,
        "over": list(counts.over),
        "explored": counts.explored,
        "reactions": counts.reactions,
        "complete": counts.complete,
    }


def trace_data(system: System, trace: Trace | None) -> dict[str, Any] | None:
    """A run, row by row. `marked` and `loop` are row numbers, counted from 1; `marked` is null when
    the passing of time decides. `at`: the instant that decides (null: that of the row, or the end)."""
    if trace is None:
        return None
    logbook = log(system, trace)
    rows = [row for row in logbook.rows if row.number is not None]
    return {
        "note": trace.note,
        "marked": None if trace.marked is None else trace.marked + 1,
        "at": None if trace.at is None else str(trace.at),
        "loop": None if logbook.loop is None else list(logbook.loop),
        "goes_on": goes_on_data(logbook),
        "end": str(trace.run.end),
        "end_seconds": float(trace.run.end),
        "rows": [
            {
                "row": row.number,
                "time": str(row.time),
                "seconds": float(row.time),
                "environment": list(row.outside),
                "taken": list(row.rules),
                "changes": list(row.changes),
                "state": state_data(system, moment),
            }
            for row, moment in zip(rows, trace.run.moments, strict=True)
        ],
    }


def goes_on_data(logbook: Log) -> dict[str, Any] | None:
    """How a run goes on for ever: `rows` repeat, each turn in so many seconds, or (null) only time
    passes. Null if the run just ends."""
    if logbook.loop is None and not logbook.quiet:
        return None
    return {
        "rows": None if logbook.loop is None else list(logbook.loop),
        "turn": str(logbook.turn),
        "turn_seconds": float(logbook.turn),
    }


def state_data(system: System, moment: Moment) -> dict[str, Any]:
    """The values after a reaction, by name; an alert's is its status."""
    reader = Reader(system)
    named = reader.named(moment.after)
    data: dict[str, Any] = {name: _plain(shown, system.domain(name)) for name, shown in named.items()}
    return data | {name: alert.status for name, alert in reader.alerts_of(moment.after).items()}


def _plain(shown: Value, domain: Domain) -> bool | int | str:
    if isinstance(shown, bool | str):
        return shown
    return value(shown, domain) if isinstance(domain, Real) else int(shown)


def _place(span: Span) -> dict[str, int]:
    return {"line": span.line, "column": span.column}
