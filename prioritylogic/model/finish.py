"""The last passes: which timers are part of the system, what is never read, what is waived."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from prioritylogic.model.draft import Draft, Sort
from prioritylogic.model.formula import Formula, TimedRead, walk
from prioritylogic.model.lower import Lowering
from prioritylogic.syntax import nodes

_UNUSED: tuple[tuple[Sort, str], ...] = (
    ("group", "no name and no binder uses it"),
    ("setting", "nothing reads it"),
    ("input", "no rule, term, output, alert or requirement reads it"),
    ("memory", "it is never read"),
    ("term", "nothing reads it"),
)


def mark_observed(draft: Draft, _: Lowering) -> None:
    """Find the timed conditions that are part of the system.

    A timer that a rule, alert, output or assumption reads, directly or inside another such timer,
    changes in step with the machines. One that only requirements and stories read must not: it would
    add instants at which time stops, and so change the system that it is meant to observe. It is
    `observed` and changes last in its instant.
    """
    inside: set[int] = set()
    waiting = list(_system_formulas(draft))
    while waiting:
        for part in walk(waiting.pop()):
            if isinstance(part, TimedRead) and part.timer not in inside:
                inside.add(part.timer)
                waiting.append(draft.timed[part.timer].condition)
    draft.timed = [replace(t, observed=at not in inside) for at, t in enumerate(draft.timed)]


def _system_formulas(draft: Draft) -> Iterator[Formula]:
    for machine in draft.machines:
        for rule in machine.rules:
            yield rule.guard
            yield from (value for _, value in rule.writes)
    for alert in draft.alerts:
        yield from (f for f in (alert.raise_, alert.clear, alert.silence_by) if f is not None)
    yield from (output.formula for output in draft.outputs)
    for a in draft.assumptions:
        yield from (f for f in (a.holds, a.after, a.expect, a.again_and_again) if f is not None)


def note_unused(draft: Draft, _: Lowering) -> None:
    """A warning for each name that nothing reads (being read by a requirement counts)."""
    for sort, why in _UNUSED:
        for declaration in draft.of_sort(sort):
            if declaration.name not in draft.used:
                message = f"the {sort} '{declaration.name}' is unused: {why}"
                draft.remark("unused-name", declaration.name, message, declaration.span)


def note_waivers(draft: Draft, _: Lowering) -> None:
    """Keep which findings are accepted, and why."""
    draft.waived = tuple(
        (item.id.value, item.reason.value)
        if isinstance(item, nodes.Waiver)
        else (item.key.value, item.value.value)
        for item in draft.spec.waive or ()
    )
