"""Vacuity: what a requirement that holds must show before it is believed to say something.

One that nothing triggers holds whatever the rules do; and where one could ask more and still hold, part
of what it says makes no difference (Beer, Ben-David, Eisner, Rodeh: "Efficient detection of vacuity in
ACTL formulas", 1997, and "... in temporal model checking", 2001; from memory). Both are put as *other
requirements*, to be decided like any: one that the trigger never comes about, and for each place in the
text the one that asks most there (strengthening.py). If that one holds, what is written there makes no
difference; what breaks it is a run in which it did.

What never comes about is judged by the forms' own sentences: a trigger is a start that is asked
something, one that is not cancelled in its own reaction. `possible` shows its run and is never vacuous.
`recoverable` is, where its condition is never left.

The run that shows a requirement at work is one in which the trigger comes about and, where a form has an
answer or an end, that comes, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from prioritylogic.errors import Span
from prioritylogic.model import formula as f
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    Form,
    KeepFor,
    KeepUntil,
    Possible,
    Recoverable,
    Requirement,
    Respond,
)
from prioritylogic.requirements.strengthening import Part


@dataclass(frozen=True, slots=True)
class Trigger:
    """What a requirement waits for.

    Attributes:
        said: that it never comes about, in words.
        span: where it stands.
        never: the requirement that it never comes about.
    """

    said: str
    span: Span
    never: Requirement


def trigger(requirement: Requirement, parts: tuple[Part, ...]) -> Trigger | None:
    """What a requirement with these parts waits for; None if for nothing.

    Where an `always` has no parts, because it was not read from a text, it is taken to wait for nothing.
    """
    said = dict(requirement.said)
    during = f" during `{said['during']}`" if "during" in said else ""
    first = f"`{next(iter(said.values()), 'its start')}`{during}"
    match requirement.form:
        case Possible():
            return None
        case Always():
            return next(filter(None, map(_condition, parts)), None)
        case Recoverable(condition):
            never = _asking(requirement, Always(condition), "always")
            return Trigger(f"{first} is never false", requirement.span, never)
        case Every(while_=start) | Respond(after=start) | Apart(after=start):
            pass
        case KeepUntil(after=start) | KeepFor(after=start):
            pass
    never = _asking(requirement, KeepUntil(start, f.FALSE, f.FALSE), "after keep until")
    span = next((part.span for part in parts), requirement.span)
    but = " without being cancelled at once" if requirement.unless is not None else ""
    return Trigger(f"{first} never comes about{but}", span, never)


def no_run(requirement: Requirement) -> Trigger:
    """What is said where no run without an end counts, so that nothing could break it."""
    keeps = f" that keeps {' and '.join(requirement.assuming)}" if requirement.assuming else ""
    never = _asking(requirement, Always(f.FALSE), "always")
    return Trigger(f"there is no run without an end{keeps}", requirement.span, never)


def _condition(part: Part) -> Trigger | None:
    """On what an `always` asks something."""
    if part.given and part.stronger is not None:
        return Trigger(f"`{part.given}` is never true", part.given_at, part.stronger)
    return next(filter(None, map(_condition, part.parts)), None)


def _asking(requirement: Requirement, form: Form, keys: str) -> Requirement:
    """Another form about the same, cancelled by the same."""
    return replace(requirement, form=form, keys=keys, expected="holds", reason="", said=())


def examples(requirement: Requirement) -> Iterator[tuple[Requirement, str]]:
    """Requirements broken by a run in which this one, which holds, is met; with what is seen at the
    run's end. The first that some run breaks is the most telling."""
    late = "its time is over"
    match requirement.form:
        case Respond(after, expect):
            answered = KeepUntil(after, f.negation(expect), f.FALSE)
            yield _asking(requirement, answered, "after keep until"), "it is answered"
        case KeepUntil(after, _, until):
            start = f.conjunction(f.begins(after), f.negation(until))
            ended = KeepUntil(start, f.negation(until), f.FALSE)
            yield _asking(requirement, ended, "after keep until"), "it has been kept long enough"
        case Apart(after, time):
            yield (
                _asking(requirement, Apart(after, 2 * time), "after apart"),
                "it comes again, late enough",
            )
        case KeepFor(after, _, time):
            whole = Respond(after, f.FALSE, time, under=True)
            yield _asking(requirement, whole, "after expect within"), late
        case Every(while_, _, period):
            whole = Respond(while_, f.FALSE, period, under=True)
            yield _asking(requirement, whole, "after expect within"), late
        case _:
            pass
