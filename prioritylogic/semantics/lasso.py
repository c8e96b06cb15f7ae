"""Runs without an end, judged by the sentences that say what is asked of them.

A run without an end is shown as a *lasso*: a recorded run whose reactions from `loop` on repeat for
ever, one turn taking as long as from the first of them to the run's end; or, if none repeats, after
whose last reaction only time passes. Here every claim about one is checked on the reference alone: each
reaction is one of its outcomes, a turn leads back to the same state and takes time, every `fair` rule
and every `takes` rule without upper end gets its due, the assumptions named are kept for ever, and the
requirement is broken.

A clock beyond all that is ever asked of it may go on: its figure then changes nothing. With a `tick`,
states count as the same where whole ticks and the order of the fractions are (Alur and Dill 1994): from
there the same reactions can follow again, though not always after the very same times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from prioritylogic.model.formula import Value
from prioritylogic.model.system import (
    Assumption,
    Possible,
    Recoverable,
    Requirement,
    Respond,
    Rule,
    Seconds,
)
from prioritylogic.semantics.clocks import NEVER
from prioritylogic.semantics.judgement import Failure, Judgement
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import ZERO, Moment, Run, State

Clock = tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Lasso:
    """A run without an end.

    Attributes:
        run: the reactions once, and when the first turn is over.
        loop: the index of the first reaction that repeats; their number if none does.
        tick: with which states count as the same up to the order of fractions; None: exactly.
        mark: what of it is claimed where no sentence about single runs says it (`recoverable`).
    """

    reference: Reference
    run: Run
    loop: int
    tick: Seconds | None = None
    mark: Failure | None = None

    # ----------------------------------------------------------------- what is claimed

    def flaws(
        self, requirement: Requirement, assumed: tuple[Assumption, ...], replayed: bool = False
    ) -> Iterator[str]:
        """Whatever keeps it from being a run that counts and breaks the requirement. `replayed`: its
        steps were taken on this reference just now."""
        if not replayed:
            yield from self._steps()
        yield from self._turn()
        yield from self._unfair()
        for assumption in assumed:
            if not self._kept(assumption):
                yield f"it does not keep {assumption.id}"
        if self.broken(requirement) is None:
            yield f"it does not break {requirement.id}"

    def broken(self, requirement: Requirement) -> Failure | None:
        """Where the requirement breaks (what is possible: is reached)."""
        form = requirement.form
        if isinstance(form, Recoverable):
            return self.mark
        if isinstance(form, Respond) and form.limit is None:
            return self._unanswered(requirement, form)
        judgement = Judgement(self.reference, requirement, self.run)
        if isinstance(form, Possible):
            reached = judgement.reached()
            if reached is None:
                return None
            seen = judgement.seen[reached]
            return Failure(seen.time, seen.moment, "it is reached here")
        return judgement.failure()

    # ----------------------------------------------------------------- a run, without end

    @property
    def turns(self) -> bool:
        """Whether reactions repeat; else only time passes."""
        return self.loop < len(self.run.moments)

    @property
    def period(self) -> Seconds:
        """How long a turn takes."""
        return self.run.end - self.run.moments[self.loop].time

    def _steps(self) -> Iterator[str]:
        """Each reaction is an outcome of the reference, and time may pass between them."""
        state: State | None = None
        time = ZERO
        for number, moment in enumerate(self.run.moments):
            if state is not None and moment.time > time:
                if not self.reference.may_pass(state, moment.time - time):
                    yield f"no time may pass before reaction {number + 1}"
                    return
                state = self.reference.passed(state, moment.time - time)
            inputs = moment.after.values[: len(self.reference.system.inputs)]
            offered = (
                self.reference.starts(inputs)
                if state is None
                else self.reference.reactions(state, inputs, moment.expired)
            )
            if moment.out_of_range or all(replace(o, time=moment.time) != moment for o in offered):
                yield f"reaction {number + 1} is not one of the outcomes"
                return
            state, time = moment.after, moment.time

    def _turn(self) -> Iterator[str]:
        """A turn leads back and takes time; or time may pass for ever."""
        if not self.returns:
            yield "it does not come back to the same state"
        if self.turns and self.period <= 0:
            yield "no time passes in the loop"

    @property
    def returns(self) -> bool:
        """Whether a turn leads back to the state before it; if none is, whether nothing need happen."""
        reference, last = self.reference, self.run.moments[-1]
        if not self.turns:
            quiet = reference.settled(last.after) and not list(reference.deadlines(last.after))
            return quiet and reference.until_due(last.after) == NEVER
        state, first = last.after, self.run.moments[self.loop].before
        if left := self.run.end - last.time:
            if not reference.may_pass(state, left):
                return False
            state = reference.passed(state, left)
        return first is not None and self.alike(state, first)

    def unrolled(self, turns: int) -> Run:
        """The run with so many turns."""
        if not self.turns:
            return self.run
        again = self.run.moments[self.loop :]
        moments = [
            *self.run.moments[: self.loop],
            *(replace(m, time=m.time + n * self.period) for n in range(turns) for m in again),
        ]
        return Run(tuple(moments), self.run.end + (turns - 1) * self.period)

    # ----------------------------------------------------------------- the same state

    def alike(self, one: State, other: State) -> bool:
        """Whether the two states are the same, apart from clocks beyond all that is asked of them."""
        still = (one.values, self._phases(one)) == (other.values, self._phases(other))
        return still and self._clocks(one) == self._clocks(other)

    def _phases(self, state: State) -> object:
        return (
            [stay.expired for stay in state.stays],
            [phase.name for phase in state.timed],
            [(alert.status, alert.silence is None) for alert in state.alerts],
        )

    def _clocks(self, state: State) -> object:
        system, reference = self.reference.system, self.reference
        found: list[Fraction | None] = []
        named = reference.named(state)
        for machine, stay in zip(system.machines, state.stays, strict=True):
            here = [r.delay for r in machine.rules if r.delay and named[machine.name] in r.sources]
            last = max((delay.time for delay in here if delay.strict), default=NEVER)
            idle = stay.expired == len(machine.delays(str(named[machine.name])))
            found.append(None if idle and stay.clock > last else stay.clock)
        for rule, clock in zip(reference.takes_rules, state.takes, strict=True):
            found.append(None if clock is None or beyond(rule, clock) else clock)
        waits = [clock is None for clock in state.takes]
        found += [phase.clock if phase.name == "running" else None for phase in state.timed]
        found += [clock for alert in state.alerts for clock in (alert.repeat, alert.silence)]
        if self.tick is None:
            return waits, found
        counts = [None if clock is None else clock / self.tick for clock in found]
        order = sorted({count % 1 for count in counts if count is not None} | {ZERO})
        return waits, [None if c is None else (c // 1, order.index(c % 1)) for c in counts]

    # ----------------------------------------------------------------- fairness

    def _again(self) -> list[tuple[Moment, Seconds]]:
        """Each reaction that repeats, with the time that passes after it; the last reaction of all if
        none does."""
        moments = self.run.moments[self.loop :] if self.turns else self.run.moments[-1:]
        ends = [*(moment.time for moment in moments[1:]), self.run.end]
        return [(moment, end - moment.time) for moment, end in zip(moments, ends, strict=True)]

    def _unfair(self) -> Iterator[str]:
        """A rule that waits for ever, or is not taken though it can be again and again."""
        rules = [rule for machine in self.reference.system.machines for rule in machine.rules]
        for rule in rules:
            weak = rule.takes is not None and rule.takes.high is None and not rule.may
            if weak and not any(self._rests(rule, moment) for moment, _ in self._again()):
                yield f"{rule.id} waits for ever and is never taken"
            taken = self.turns and any(rule.id in moment.taken for moment, _ in self._again())
            if rule.fair and not taken and self._could_be_taken(rule):
                yield f"{rule.id} can be taken again and again and never is"

    def _rests(self, rule: Rule, moment: Moment) -> bool:
        if not self.turns:
            return not delay_runs(self.reference, rule, moment.after)
        return delay_rests(self.reference, rule, moment)

    def _could_be_taken(self, rule: Rule) -> bool:
        """Whether a rule could be taken in what repeats, or while time passes there."""
        reference = self.reference
        if not self.turns:
            long = max((r.takes.low for r in reference.takes_rules if r.takes), default=ZERO) + 1
            return could_be_taken_waiting(reference, rule, self.run.moments[-1].after, long)
        return any(
            could_be_taken(reference, rule, moment)
            or (left and could_be_taken_waiting(reference, rule, moment.after, left))
            for moment, left in self._again()
        )

    # ----------------------------------------------------------------- answers

    def _kept(self, assumption: Assumption) -> bool:
        """Whether an assumption is kept for ever."""
        again = assumption.again_and_again
        if again is not None:
            judgement = Judgement(self.reference, asking(assumption, None), self.run, None)
            last = len(self.run.moments) - 1
            seen = range(self.loop, last + 1) if self.turns else [last]
            return any(
                (self.turns and judgement.now(again, i)) or judgement.rest(again, i) for i in seen
            )
        form = Respond(assumption.after, assumption.expect, assumption.within, assumption.under)  # type: ignore[arg-type]
        requirement = asking(assumption, form)
        if form.limit is None:
            return self._unanswered(requirement, form) is None
        if not self.turns:
            run = replace(self.run, end=self.run.end + form.limit + 1)
        else:
            # Up to the order of fractions only the reactions repeat, not their very times.
            run = self.run if self.tick else self.unrolled(2 + int(form.limit / self.period))
        return Judgement(self.reference, requirement, run).failure() is None

    def _unanswered(self, requirement: Requirement, form: Respond) -> Failure | None:
        """The first start that is neither answered nor cancelled, ever."""
        timed = self.reference.system.timed
        own = observed_timers(self.reference.system, requirement.formulas)
        longest = max((timed[index].time for index in own), default=ZERO)  # what it may lag behind
        if self.turns:
            run = self.unrolled(3 + int(longest / self.period) if self.period else 2)
        else:
            run = replace(self.run, end=self.run.end + longest + 1)
        judgement = Judgement(self.reference, requirement, run)
        seen = judgement.seen
        for i in judgement.starting(form.after):
            if (seen[i].moment or 0) >= len(self.run.moments) or seen[i].time > run.end - longest:
                break
            if not any(
                judgement.now(form.expect, j) or (j > i and judgement.cancelled(j))
                for j in range(i, len(seen))
            ):
                return Failure(seen[i].time, seen[i].moment, "no answer ever comes")
        return None


# --------------------------------------------------------------------------- what a rule is due


def delay_runs(reference: Reference, rule: Rule, state: State) -> bool:
    """Whether the uncertain delay of a rule runs, and the rule waits."""
    clock = state.takes[reference.takes_rules.index(rule)]
    return clock is not None and reference.waiting(rule, reference.rest_view(state))


def delay_rests(reference: Reference, rule: Rule, moment: Moment) -> bool:
    """Whether a rule's uncertain delay starts in a reaction, or does not run after it."""
    assert rule.takes is not None
    if not delay_runs(reference, rule, moment.after):
        return True
    if moment.before is None or moment.before.takes[reference.takes_rules.index(rule)] is None:
        return True
    if rule.takes.since:
        return not moment.taken.isdisjoint({rule.id, *rule.takes.since})
    taken = [reference.system.rule(name) for name in moment.taken]
    return rule in taken or any(r.machine == rule.machine and r.target is not None for r in taken)


def could_be_taken(reference: Reference, rule: Rule, moment: Moment) -> bool:
    """Whether a rule that is not taken in a reaction could be: under the same inputs and expiries some
    outcome takes it, and no other optional rule that is not taken here."""
    if moment.before is None:
        return False
    inputs = moment.after.values[: len(reference.system.inputs)]
    return _takes(reference, rule, moment.before, inputs, moment)


def could_be_taken_at_rest(reference: Reference, rule: Rule, state: State) -> bool:
    """Whether a rule could be taken though no input changes and nothing expires."""
    return _takes(reference, rule, state, state.values[: len(reference.system.inputs)], None)


def could_be_taken_waiting(reference: Reference, rule: Rule, state: State, time: Seconds) -> bool:
    """Whether a rule could be taken while so much time passes."""
    later = reference.passed(state, time)
    if rule.takes is not None:
        clock = later.takes[reference.takes_rules.index(rule)]
        if clock is None or clock <= rule.takes.low:  # reached when that time is over
            return False
    return could_be_taken_at_rest(reference, rule, later)


def _takes(
    reference: Reference, rule: Rule, state: State, inputs: tuple[Value, ...], like: Moment | None
) -> bool:
    expired = frozenset() if like is None else like.expired
    taken = frozenset() if like is None else like.taken
    return any(
        {name for name in other.taken - taken if reference.system.rule(name).optional} == {rule.id}
        for other in reference.reactions(state, inputs, expired)
        if not other.out_of_range
    )


def beyond(rule: Rule, clock: Seconds) -> bool:
    """Whether nothing more is asked of the clock of a `takes` rule."""
    assert rule.takes is not None
    top = max(rule.takes.low, rule.takes.high or ZERO)
    strict = rule.takes.low_strict or rule.takes.high_strict
    return clock > top or (clock == top and not strict)


def asking(assumption: Assumption, form: Respond | None) -> Requirement:
    """An assumption as a requirement, for being judged."""
    nothing = Respond(assumption.again_and_again, assumption.again_and_again, None)  # type: ignore[arg-type]
    return Requirement(assumption.id, assumption.member, "", "", form or nothing)
