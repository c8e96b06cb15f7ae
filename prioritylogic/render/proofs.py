"""What stands behind a `holds`, for whoever asks: the facts of invariants, how tight bounds are."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from prioritylogic.evidence.results import Answer, CheckResult
from prioritylogic.render.layout import Ink, beside, column_for, paragraph
from prioritylogic.render.values import duration, indexed, listed

Key = TypeVar("Key")
FROM_ABOVE = ("within", "every")
HELP = (
    "A fact is true after every reaction, and while time passes. `x.time` is how long machine x has "
    "been in its state, `asked` that the requirement waits for something, `asked.time` for how long."
)


def invariants(result: CheckResult, width: int, ink: Ink) -> list[str]:
    """The facts that each proof rests on, in the spec's words."""
    shown = [answer for answer in result.requirements if answer.invariant]
    if not shown:
        return []
    lines = ["", ink("bold", "Invariants"), *(ink("faint", line) for line in paragraph(HELP, width, 2))]
    for facts, answers in _alike(shown, lambda answer: answer.invariant):
        lines += paragraph(listed(_label(answer) for answer in answers), width, 2)
        for fact in facts:
            lines += paragraph(fact, width, 4, 8)
    return lines


def tightness(result: CheckResult, width: int, ink: Ink) -> list[str]:
    """How much tighter each timed requirement could be."""
    shown = [answer for answer in result.requirements if answer.slack is not None]
    if not shown:
        return []
    groups = _alike(shown, lambda answer: (answer.id, slack_words(answer)))
    labels = [answers[0].id if answers[1:] else _label(answers[0]) for _, answers in groups]
    at = 2 + column_for(labels, limit=24, indent=2)
    lines = ["", ink("bold", "How tight the bounds are")]
    for label, ((_, words), _answers) in zip(labels, groups, strict=True):
        lines += beside(label, words, width, at)
    return lines


def slack_words(answer: Answer) -> str:
    """A sentence about a bound that holds: `within 6 s; within 4 s would hold too, and nothing shorter
    (2 s to spare)`."""
    slack, form = answer.slack, answer.form
    assert slack is not None
    from_above = form.endswith(FROM_ABOVE)
    key = form.rpartition(" ")[2]
    own, beyond = f"{key} {duration(slack.figure)}", "shorter" if from_above else "longer"
    if slack.endless:
        return f"{own}; it holds for any length of time"
    if slack.tightest is None:
        return f"{own}; whether a {beyond} time would hold is not decided"
    last = duration(slack.tightest)
    if not slack.attained:
        return f"under {duration(slack.figure)}; every time over {last} would hold, and {last} would not"
    if slack.tightest == slack.figure:
        return f"{own}; nothing {beyond} holds"
    spare = duration(abs(slack.figure - slack.tightest))
    return f"{own}; {key} {last} would hold too, and nothing {beyond} ({spare} to spare)"


def _alike(answers: Iterable[Answer], key: Callable[[Answer], Key]) -> list[tuple[Key, list[Answer]]]:
    """Answers with the same key, together, in the order of the first."""
    found: dict[Key, list[Answer]] = {}
    for answer in answers:
        found.setdefault(key(answer), []).append(answer)
    return list(found.items())


def _label(answer: Answer) -> str:
    return indexed(answer.id, answer.member)
