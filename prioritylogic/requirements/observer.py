"""Observers: each requirement form as a small machine that watches a run and says when it is broken.

An observer sees the reactions of a run and the time between them. Its state is a `Mode` (was the
trigger true at rest; is something pending) and at most one clock. What a reaction does depends on
the mode and on *facts* (formulas read in the reaction or at rest after it), never on the clock's
figure: so an engine that tabulates reactions can do so without clocks. Facts are asked for one by
one, because an engine that branches only on what is read must not be asked for more than matters.

    figure kind   what the figure means when the clock passes it
    "over"        broken when more than the figure has passed   (within, every)
    "reached"     broken once the figure has passed             (within under, every under)
    "window"      nothing is pending any more                   (keep for, apart)

`always` needs no observer state; `possible` is the search for a reaction that breaks its opposite.
An answer some day has an observer that nothing breaks: what counts is whether it stays pending for
ever (`some_day`, engines/cycles.py). What is not here: `recoverable`, which is about many runs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NamedTuple, TypeAlias

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import (
    Always,
    Apart,
    Assumption,
    Every,
    KeepFor,
    KeepUntil,
    Possible,
    Requirement,
    Respond,
    Seconds,
)

FigureKind: TypeAlias = Literal["over", "reached", "window", "none"]


class Fact(NamedTuple):
    """A formula, read in the reaction or at rest after it."""

    formula: Formula
    at_rest: bool


class Mode(NamedTuple):
    """`held`: the trigger was true at rest. `pending`: something is asked. `paused`: it is, but its
    clock stands still because the answer lasts."""

    held: bool = False
    pending: bool = False
    paused: bool = False


class Effect(NamedTuple):
    """What a reaction does: the next mode, whether the clock starts over, whether it is broken."""

    mode: Mode
    restart: bool = False
    broken: bool = False


ReadFact: TypeAlias = Callable[[Fact], bool]
Step: TypeAlias = Callable[[Mode, ReadFact], Effect]


@dataclass(frozen=True)
class Observer:
    """A requirement as a machine.

    Attributes:
        step: what a reaction does to the mode.
        facts: every fact the step may ask for.
        figure: the clock's figure, or None when it has no clock.
        held: the fact that `Mode.held` is, always; None when there is no mode.
        pauses: the fact that `Mode.paused` is while something is pending.
    """

    step: Step
    facts: tuple[Fact, ...]
    figure: Seconds | None = None
    kind: FigureKind = "none"
    held: Fact | None = None
    pauses: Fact | None = None

    def elapse(
        self, mode: Mode, clock: Fraction | int, time: Fraction | int, figure: Fraction | int
    ) -> tuple[Mode, Fraction | int, bool]:
        """After `time` without a reaction (`clock`, `time` and `figure` in one unit): the mode, the
        clock (0 when nothing is measured), and whether the requirement is broken."""
        return self.judged(mode, clock + time, figure) if self.counts(mode) else (mode, 0, False)

    def counts(self, mode: Mode) -> bool:
        """Whether the clock runs."""
        return mode.pending and not mode.paused and self.kind != "none"

    def judged(
        self, mode: Mode, clock: Fraction | int, figure: Fraction | int
    ) -> tuple[Mode, Fraction | int, bool]:
        """What it means that the clock, which runs, has come so far."""
        if self.kind == "window":
            return (Mode(mode.held), 0, False) if clock >= figure else (mode, clock, False)
        return mode, clock, clock > figure or (self.kind == "reached" and clock == figure)


def observer(requirement: Requirement) -> Observer | None:
    """The observer of a requirement; None for the forms that are not observers.

    `possible` gives the observer of its opposite: broken where the condition is reached.
    """
    unless = requirement.unless or f.FALSE
    during = requirement.during or f.TRUE
    cancels = (Fact(f.disjunction(unless, f.negation(during)), False), Fact(unless, True))
    match requirement.form:
        case Always(condition):
            return _always(condition)
        case Possible(condition):
            return _always(f.negation(condition))
        case Respond(after, expect, limit, under) if limit is not None:
            return _respond(after, expect, limit, under, *cancels)
        case KeepUntil(after, keep, until):
            return _keep(after, keep, until, None, *cancels)
        case KeepFor(after, keep, time):
            return _keep(after, keep, f.FALSE, time, *cancels)
        case Every(while_, expect, period, under):
            return _every(while_, expect, period, under, *cancels)
        case Apart(after, time):
            return _apart(after, time, *cancels)
    return None


def some_day(requirement: Requirement) -> Observer:
    """The observer of an answer some day: pending while one is owed; a restart begins another."""
    form = requirement.form
    assert isinstance(form, Respond)
    unless, during = requirement.unless or f.FALSE, requirement.during or f.TRUE
    cancels = (Fact(f.disjunction(unless, f.negation(during)), False), Fact(unless, True))
    return _respond(form.after, form.expect, None, False, *cancels)


def assumed(assumption: Assumption) -> Observer:
    """The observer of an assumed answer; where it is broken, the run is none that counts."""
    assert assumption.after is not None and assumption.expect is not None
    never = (Fact(f.FALSE, False), Fact(f.FALSE, True))
    return _respond(assumption.after, assumption.expect, assumption.within, assumption.under, *never)


def _always(condition: Formula) -> Observer:
    fact = Fact(condition, False)
    return Observer(lambda mode, read: Effect(mode, broken=not read(fact)), (fact,))


def _respond(
    after: Formula, expect: Formula, limit: Seconds | None, under: bool, cancel: Fact, cancel_own: Fact
) -> Observer:
    """Pending from the oldest unanswered start on."""
    start, rest, answer = Fact(after, False), Fact(after, True), Fact(expect, False)

    def step(mode: Mode, read: ReadFact) -> Effect:
        pending = mode.pending and not read(cancel) and not read(answer)
        starts = not mode.held and not pending and read(start)
        starts = starts and not read(answer) and not read(cancel_own)
        return Effect(Mode(read(rest), pending or starts), restart=starts)

    kind: FigureKind = "none" if limit is None else "reached" if under else "over"
    return Observer(step, (start, rest, answer, cancel, cancel_own), limit, kind, rest)


def _keep(
    after: Formula, keep: Formula, until: Formula, time: Seconds | None, cancel: Fact, cancel_own: Fact
) -> Observer:
    """Pending from a start on, until `until` or for `time` from the newest start."""
    start, rest = Fact(after, False), Fact(after, True)
    kept, end = Fact(keep, False), Fact(until, False)

    def step(mode: Mode, read: ReadFact) -> Effect:
        pending = mode.pending and not read(cancel)
        starts = not mode.held and time != 0 and (time is not None or not pending) and read(start)
        starts = starts and not read(cancel_own)
        asked = (pending or starts) and not read(end)
        broken = asked and not read(kept)
        return Effect(Mode(read(rest), asked), restart=starts, broken=broken)

    kind: FigureKind = "none" if time is None else "window"
    return Observer(step, (start, rest, kept, end, cancel, cancel_own), time, kind, rest)


def _every(
    while_: Formula, expect: Formula, period: Seconds, under: bool, cancel: Fact, cancel_own: Fact
) -> Observer:
    """Pending while it lasts; the clock starts over whenever `expect` is true and stands while it
    stays true."""
    lasts, rest = Fact(while_, False), Fact(while_, True)
    comes, stays = Fact(expect, False), Fact(expect, True)

    def step(mode: Mode, read: ReadFact) -> Effect:
        pending = mode.pending and not read(cancel) and read(lasts)
        starts = not mode.held and not pending and read(lasts) and not read(cancel_own)
        held = read(rest)
        if not (pending or starts) or not held:
            return Effect(Mode(held))
        paused = read(stays)
        return Effect(Mode(held, True, paused), restart=starts or mode.paused or paused or read(comes))

    kind: FigureKind = "reached" if under else "over"
    return Observer(step, (lasts, rest, comes, stays, cancel, cancel_own), period, kind, rest, stays)


def _apart(after: Formula, time: Seconds, cancel: Fact, cancel_own: Fact) -> Observer:
    """Pending for `time` after a start; a start meanwhile breaks it."""
    start, rest = Fact(after, False), Fact(after, True)

    def step(mode: Mode, read: ReadFact) -> Effect:
        pending = mode.pending and not read(cancel)
        starts = not mode.held and read(start)
        begun = starts and time > 0 and not read(cancel_own)
        return Effect(Mode(read(rest), pending or begun), restart=begun, broken=starts and pending)

    return Observer(step, (start, rest, cancel, cancel_own), time, "window", rest)
