"""Requirements judged on a recorded run, each form by the sentence that defines it.

Why beside the observers: an observer is a small machine that could be wrong in a way that proves
everything. Here nothing is carried along: each sentence is asked of the whole run at once, with
"there is a beginning at i such that ..." written as a loop over i. Tests hold the two against each
other on random runs, and every trace is judged here before it is shown.

A timed condition that only requirements read changes last in its instant: the run is first extended
by one *observation* at each such change, read like a reaction in which nothing but that timer
happens.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    KeepFor,
    KeepUntil,
    Possible,
    Recoverable,
    Requirement,
    Respond,
    Seconds,
)
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference, next_phase
from prioritylogic.semantics.state import Phase, Run, State, View


@dataclass(frozen=True, slots=True)
class Failure:
    """Where a run breaks a requirement: in reaction `moment`, or (None) while time passes, as soon
    as `time` is over."""

    time: Seconds
    moment: int | None
    why: str


@dataclass(frozen=True, slots=True)
class Observation:
    """A reaction, or a change of observed timers, of a run: its time, its place in the run (None for
    a timer's change), and the two readings of formulas."""

    time: Seconds
    moment: int | None
    reaction: View
    rest: View


def observations(
    reference: Reference, run: Run, watched: tuple[int, ...] | None = None, to_the_end: bool = False
) -> list[Observation]:
    """The run's reactions, with the changes in between of these observed timed conditions (None: of
    all). `to_the_end`: the run's last instant is over too, as at the end of a story's `wait`."""
    timed = reference.system.timed
    if watched is None:
        watched = tuple(index for index, condition in enumerate(timed) if condition.observed)
    phases = {index: Phase() for index in watched}
    since: dict[int, Fraction] = {}
    seen: list[Observation] = []

    def mixed(own: tuple[Phase, ...]) -> tuple[Phase, ...]:
        return tuple(phases.get(index, phase) for index, phase in enumerate(own))

    def move(reaction: View, after: State, time: Fraction, expiring: frozenset[int]) -> View:
        """Moves the watched phases on, inner ones first; the rest that follows."""
        for index in watched:
            rest = reference.rest_view(after, mixed(after.timed))
            before = phases[index]
            phases[index] = next_phase(
                timed[index].kind,
                before,
                expiring=index in expiring,
                in_reaction=reference.true(timed[index].condition, reaction),
                at_rest=reference.true(timed[index].condition, rest),
            )
            if phases[index].name == "running" and phases[index] is not before:
                since[index] = time
        return reference.rest_view(after, mixed(after.timed))

    for number, moment in enumerate(run.moments):
        before = reference.reaction_view(moment).phases
        reaction = reference.reaction_view(moment, mixed(before))
        rest = move(reaction, moment.after, moment.time, frozenset())
        seen.append(Observation(moment.time, number, reaction, rest))
        following = run.moments[number + 1].time if number + 1 < len(run.moments) else run.end
        while True:
            ends = {i: since[i] + timed[i].time for i in watched if phases[i].name == "running"}
            first = min(ends.values(), default=following)
            over = to_the_end and number + 1 == len(run.moments)
            if first > following or (first == following and not (ends and over)):
                break
            expiring = frozenset(i for i, end in ends.items() if end == first)
            own = reference.rest_view(moment.after, mixed(moment.after.timed))
            change = View(own.now, own.now, own.phases, own.alerts_now, own.alerts_now, expiring)
            rest = move(change, moment.after, first, expiring)
            seen.append(Observation(first, None, change, rest))
    return seen


class Judgement:
    """One requirement asked of one run; `seen` are its observations, if they are at hand."""

    def __init__(
        self,
        reference: Reference,
        requirement: Requirement,
        run: Run,
        seen: list[Observation] | None = None,
    ) -> None:
        self.requirement = requirement
        self.end = run.end
        if seen is None:
            seen = observations(reference, run, observed_timers(reference.system, requirement.formulas))
        self.seen = seen
        self._true = reference.true

    # ----------------------------------------------------------------- words of the sentences

    def now(self, formula: Formula, i: int) -> bool:
        """True in observation i."""
        return self._true(formula, self.seen[i].reaction)

    def rest(self, formula: Formula, i: int) -> bool:
        """True at rest after observation i (before the first: nothing is)."""
        return i >= 0 and self._true(formula, self.seen[i].rest)

    def starts(self, formula: Formula, i: int) -> bool:
        """An event that comes, or a condition that begins, in observation i."""
        return self.now(formula, i) and not self.rest(formula, i - 1)

    def starting(self, formula: Formula) -> Iterator[int]:
        """The observations in which it starts and is not cancelled at once."""
        unless = self.requirement.unless or f.FALSE
        for i in range(len(self.seen)):
            if self.starts(formula, i) and not self.rest(unless, i):
                yield i

    def cancelled(self, j: int) -> bool:
        """Whether what started before observation j is cancelled in it."""
        unless = self.requirement.unless or f.FALSE
        during = self.requirement.during or f.TRUE
        return self.now(unless, j) or not self.now(during, j)

    def after(self, i: int) -> Seconds:
        """The time until which nothing happens after observation i."""
        return self.seen[i + 1].time if i + 1 < len(self.seen) else self.end

    # ----------------------------------------------------------------- the forms

    def failure(self) -> Failure | None:
        """The first failure of the run, or None."""
        return min(
            self.failures(), key=lambda failure: (failure.time, failure.moment is None), default=None
        )

    def failures(self) -> Iterator[Failure]:
        """Every failure of the run, in no particular order."""
        match self.requirement.form:
            case Always(condition):
                for i in range(len(self.seen)):
                    if not self.now(condition, i):
                        yield self._at(i, "it does not hold here")
            case Respond(after, expect, limit, under) if limit is not None:
                yield from self._respond(after, expect, limit, under)
            case KeepUntil(after, keep, until):
                yield from self._keep_until(after, keep, until)
            case KeepFor(after, keep, time):
                yield from self._keep_for(after, keep, time)
            case Every(while_, expect, period, under):
                yield from self._every(while_, expect, period, under)
            case Apart(after, time):
                yield from self._apart(after, time)
            case Respond() | Possible() | Recoverable():
                return  # no finite run breaks these

    def reached(self) -> int | None:
        """For `possible`: the first observation in which its condition is true."""
        form = self.requirement.form
        assert isinstance(form, Possible)
        return next((i for i in range(len(self.seen)) if self.now(form.condition, i)), None)

    def _at(self, i: int, why: str) -> Failure:
        return Failure(self.seen[i].time, self.seen[i].moment, why)

    def _respond(
        self, after: Formula, expect: Formula, limit: Seconds, under: bool
    ) -> Iterator[Failure]:
        """More than `limit` passes (`under`: `limit` passes) from a start with no answer yet."""
        for i in self.starting(after):
            over = self.end
            for j in range(i, len(self.seen)):
                if self.now(expect, j) or (j > i and self.cancelled(j)):
                    over = self.seen[j].time
                    break
            waited = over - self.seen[i].time
            if waited > limit or (under and waited == limit):
                yield Failure(self.seen[i].time + limit, None, "no answer came")

    def _keep_until(self, after: Formula, keep: Formula, until: Formula) -> Iterator[Failure]:
        """From a start on, in a reaction before `until` comes, `keep` is false."""
        for i in self.starting(after):
            for j in range(i, len(self.seen)):
                if self.now(until, j) or (j > i and self.cancelled(j)):
                    break
                if not self.now(keep, j):
                    yield self._at(j, "it is no longer kept")
                    break

    def _keep_for(self, after: Formula, keep: Formula, time: Seconds) -> Iterator[Failure]:
        """Less than `time` after a start, `keep` is false."""
        for i in self.starting(after):
            for j in range(i, len(self.seen)):
                if self.seen[j].time - self.seen[i].time >= time or (j > i and self.cancelled(j)):
                    break
                if not self.now(keep, j):
                    yield self._at(j, "it is no longer kept")
                    break

    def _every(
        self, while_: Formula, expect: Formula, period: Seconds, under: bool
    ) -> Iterator[Failure]:
        """While it lasts, more than `period` passes since it began or `expect` was last true."""
        for i in self.starting(while_):
            last = self.seen[i].time
            for j in range(i, len(self.seen)):
                if j > i and (self.cancelled(j) or not self.now(while_, j)):
                    break
                if self.now(expect, j) or (j > i and self.rest(expect, j - 1)):
                    last = self.seen[j].time
                if not self.rest(while_, j):
                    break
                waited = self.after(j) - last
                late = waited > period or (under and waited == period)
                if late and not self.rest(expect, j):
                    yield Failure(last + period, None, "it did not come again")
                    break

    def _apart(self, after: Formula, time: Seconds) -> Iterator[Failure]:
        """The next start comes sooner than `time` after one."""
        for i in self.starting(after):
            for j in range(i + 1, len(self.seen)):
                if self.cancelled(j):
                    break
                if self.starts(after, j):
                    if self.seen[j].time - self.seen[i].time < time:
                        yield self._at(j, "it comes again too soon")
                    break


def judge(reference: Reference, requirement: Requirement, run: Run) -> Failure | None:
    """The first failure of a requirement on a run, or None (for `possible`: never a failure)."""
    return Judgement(reference, requirement, run).failure()
