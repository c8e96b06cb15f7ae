"""What decided about a requirement where a run breaks it: the parts of its condition that did.

Of an `and` that is false every part that is false, of an `or` that is true the first part that is true,
of the others all parts; down to comparisons, each with the values that it read.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from prioritylogic.evidence.explanation import DecisivePart
from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula, Value
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    KeepFor,
    KeepUntil,
    Possible,
    Requirement,
    Respond,
    Seconds,
)
from prioritylogic.semantics.judgement import Failure, Judgement
from prioritylogic.semantics.reading import Reader
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run, View


def parts(reader: Reader, formula: Formula, view: View) -> tuple[DecisivePart, ...]:
    """The parts that make a condition what it is, each once."""
    return tuple(dict.fromkeys(_parts(reader, formula, view)))


def _parts(reader: Reader, formula: Formula, view: View) -> Iterator[DecisivePart]:
    true = reader.true(formula, view)
    match formula:
        case f.Not(operand):
            yield from _parts(reader, operand, view)
        case f.All(inner) | f.Some(inner):
            deciding = [part for part in inner if reader.true(part, view) == true]
            if true and isinstance(formula, f.Some):
                deciding = deciding[:1]  # one is enough
            for part in deciding:
                yield from _parts(reader, part, view)
        case f.Choose(condition, then, other):
            yield from _parts(reader, condition, view)
            yield from _parts(reader, then if reader.true(condition, view) else other, view)
        case f.Const():
            return
        case _:
            yield DecisivePart(formula, true, tuple(_read(formula, view, true)))


def _read(formula: Formula, view: View, true: bool) -> Iterator[tuple[str, Value]]:
    """The values that a comparison read, unless its truth says them."""
    match formula:
        case f.Read():
            return
        case f.Same(f.Read(), f.Const()) if true:
            return
    for part in dict.fromkeys(f.walk(formula)):
        if isinstance(part, f.Read):
            yield (
                (f"before({part.name})", view.was[part.name])
                if part.before
                else (
                    part.name,
                    view.now[part.name],
                )
            )


class _Alone(Judgement):
    """A judgement about one beginning of what a requirement waits for."""

    only = -1

    def starting(self, formula: Formula) -> Iterator[int]:
        """That one, if it is a beginning."""
        yield from (i for i in super().starting(formula) if i == self.only)


class Decided(NamedTuple):
    """Where a run breaks a requirement (or gets to what is possible), the parts of its condition that
    decide there, and since when it was asked."""

    place: Failure
    parts: tuple[DecisivePart, ...]
    asked: Seconds | None = None


def decisive(reference: Reference, requirement: Requirement, run: Run) -> Decided:
    """What decides about a requirement in a run that breaks it, or gets to what is possible."""
    judgement = _Alone(reference, requirement, run)
    form = requirement.form
    if isinstance(form, Possible):
        reached = judgement.reached()
        assert reached is not None, "the run gets there"
        there = judgement.seen[reached]
        place = Failure(there.time, there.moment, "it is reached here")
        return Decided(place, parts(reference, form.condition, there.reaction))
    failure = Judgement(reference, requirement, run, judgement.seen).failure()
    assert failure is not None, "the run breaks it"
    at = max(i for i, seen in enumerate(judgement.seen) if seen.time <= failure.time)
    if failure.moment is not None:
        at = next(i for i, seen in enumerate(judgement.seen) if seen.moment == failure.moment)
    seen = judgement.seen[at]
    if isinstance(form, Always):
        return Decided(failure, parts(reference, form.condition, seen.reaction))
    asked = None
    for judgement.only in range(at + 1):
        if failure in judgement.failures():
            asked = judgement.seen[judgement.only].time
    match form:
        case KeepUntil(_, kept, _) | KeepFor(_, kept, _):
            return Decided(failure, parts(reference, kept, seen.reaction), asked)
        case Respond(_, expect, _, _) | Every(_, expect, _, _):
            return Decided(failure, parts(reference, expect, seen.rest), asked)
        case Apart(after, _):
            return Decided(failure, parts(reference, after, seen.reaction), asked)
    return Decided(failure, (), asked)
