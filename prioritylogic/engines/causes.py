"""The few causes that matter: what a run could not have done without.

What is meant. A run is taken as a timetable: at its instants inputs change and optional rules are taken,
the *deeds* of whoever is outside. Another run *follows* a part of these deeds if at the same instants it
does them and no others, while everything else goes its way: what is due runs out, together, when time is
to pass; what is owed is taken; a tie goes either way; assumptions are kept. First deeds are left out,
the latest first, as long as some run that follows the rest still shows what is to be explained. Then
each deed that is left is a cause: without it, none does. So is each rule taken in that run without which
(it is there, but can never be taken) none does. This is the "but for" test of Lewis (1973, "Causation"),
with deletion to a minimal set as in Zeller and Hildebrandt (2002, "Simplifying and isolating
failure-inducing input"); both from memory.

Everything is played on the reference. What it does not do: name two causes of which either one would be
enough (neither is needed), nor the passing of time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError
from prioritylogic.evidence.explanation import Cause
from prioritylogic.model.formula import FALSE, Value
from prioritylogic.model.system import Possible, Requirement, RuleId, Seconds, System
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import ZERO, Moment, Run, State, Timer

MOST_OUTCOMES = 4_000  # of reactions, for one question
MOST_FORCED = 30  # reactions between two of the timetable


@dataclass(frozen=True, slots=True)
class Deed:
    """An input that is changed in a reaction, or (value None) an optional rule that is taken in it."""

    step: int
    name: str
    value: Value | None = None


@dataclass(frozen=True, slots=True)
class Singled:
    """A run with nothing needless in it, and what it could not do without.

    Attributes:
        settled: whether all that it does was tried.
    """

    run: Run
    causes: tuple[Cause, ...]
    settled: bool


def deeds(reference: Reference, run: Run) -> tuple[Deed, ...]:
    """What is done from outside in a run, in order."""
    found: list[Deed] = []
    for step, moment in enumerate(run.moments):
        if moment.before is not None:
            values = zip(
                reference.system.inputs, moment.before.values, moment.after.values, strict=False
            )
            found += [Deed(step, variable.name, now) for variable, was, now in values if was != now]
        found += [
            Deed(step, rule) for rule in sorted(moment.taken) if reference.system.rule(rule).optional
        ]
    return tuple(found)


def without(system: System, rule: RuleId) -> System:
    """The system with a rule that can never be taken."""
    machine = system.machine(system.rule(rule).machine)
    rules = tuple(replace(r, guard=FALSE) if r.id == rule else r for r in machine.rules)
    machines = (replace(m, rules=rules) if m is machine else m for m in system.machines)
    return replace(system, machines=tuple(machines))


def shows(reference: Reference, requirement: Requirement, run: Run) -> bool:
    """Whether a run breaks a requirement, or gets to what is possible."""
    judgement = Judgement(reference, requirement, run)
    if isinstance(requirement.form, Possible):
        return judgement.reached() is not None
    return judgement.failure() is not None


def causes(system: System, requirement: Requirement, run: Run, limits: Limits) -> Singled | None:
    """What a run could not do without, to show what it shows.

    Returns:
        None if the run itself is not followed within so many reactions.

    Raises:
        LimitError: the time is over.
    """
    whole = Following(system, requirement, run, limits)
    kept = deeds(whole.reference, run)
    least, _ = _tried(whole, kept)
    if least is None:
        return None
    fewer = True
    while fewer:
        fewer, unsure = False, set[Deed]()
        for deed in reversed(kept):
            rest = tuple(other for other in kept if other != deed)
            found, sure = _tried(whole, rest)
            unsure |= set() if sure else {deed}
            if found is not None:
                least, kept, fewer = found, rest, True
    offered = {deed.name for deed in kept if deed.value is None}
    rules = dict.fromkeys(rule for moment in least.moments for rule in sorted(moment.taken))
    causing, settled = set[RuleId](), not unsure
    for rule in rules:
        if rule not in offered:
            found, sure = _tried(Following(without(system, rule), requirement, run, limits), kept)
            settled = settled and sure
            causing |= {rule} if sure and found is None else set()
    timed = [(deed, run.moments[deed.step].time) for deed in kept]
    found_there = _in_order(system, least, timed, causing)
    return Singled(least, tuple(cause for deed, cause in found_there if deed not in unsure), settled)


def _tried(following: Following, kept: tuple[Deed, ...]) -> tuple[Run | None, bool]:
    """The run that still shows it, if any, and whether that is known."""
    try:
        return following.shown(kept), True
    except LimitError as stop:
        if stop.final:
            raise
        return None, False


def _in_order(
    system: System, run: Run, deeds: list[tuple[Deed, Seconds]], causing: set[RuleId]
) -> Iterator[tuple[Deed | None, Cause]]:
    """Deeds and rules as the run comes to them; what is done again is a deed of a later reaction."""
    inputs = {variable.name: n for n, variable in enumerate(system.inputs)}
    left, waiting = list(deeds), set(causing)
    for row, moment in enumerate(run.moments, 1):
        met = set[tuple[str, bool]]()
        for deed, time in tuple(left):
            kind = (deed.name, deed.value is None)
            if time != moment.time or kind in met:
                continue
            if deed.value is None:
                if deed.name in moment.taken:
                    left.remove((deed, time))
                    met.add(kind)
                    yield deed, Cause("offer", deed.name, time, row, span=system.rule(deed.name).span)
            elif moment.before is not None:
                number = inputs[deed.name]
                was, now = moment.before.values[number], moment.after.values[number]
                if was != now == deed.value:
                    left.remove((deed, time))
                    met.add(kind)
                    span = system.inputs[number].span
                    yield deed, Cause("input", deed.name, time, row, deed.value, span)
        for rule in sorted(moment.taken & waiting):
            waiting.remove(rule)
            yield None, Cause("rule", rule, moment.time, row, span=system.rule(rule).span)


# --------------------------------------------------------------------------- following a timetable


@dataclass(frozen=True, slots=True)
class Branch:
    """A run so far: its reactions, and the state and the time that it has come to."""

    moments: tuple[Moment, ...]
    state: State
    now: Seconds
    forced: int = 0

    def then(self, moment: Moment, forced: bool = False) -> Branch:
        """With one more reaction."""
        timed = replace(moment, time=self.now)
        return Branch((*self.moments, timed), moment.after, self.now, self.forced + 1 if forced else 0)


class Following:
    """The runs that follow some deeds of one run, in its system or one that is nearly the same."""

    def __init__(self, system: System, requirement: Requirement, run: Run, limits: Limits) -> None:
        self.reference = Reference(system)
        self._requirement = requirement
        self._run = run
        self._limits = limits
        self._numbers = {variable.name: n for n, variable in enumerate(system.inputs)}
        self._left = 0

    def shown(self, deeds: tuple[Deed, ...]) -> Run | None:
        """The first run that follows these deeds and shows it; None if none does.

        Raises:
            LimitError: there are too many to try, or the time is over.
        """
        self._left = MOST_OUTCOMES
        runs = self._followed(None, 0, deeds)
        return next((run for run in runs if shows(self.reference, self._requirement, run)), None)

    def _followed(self, at: Branch | None, step: int, deeds: tuple[Deed, ...]) -> Iterator[Run]:
        """Every way on from the reaction before this step of the timetable."""
        over = step == len(self._run.moments)
        goal = self._run.end if over else self._run.moments[step].time
        for here in self._until(at, goal) if at is not None else (None,):
            found = False
            if not over and (here is None or (here.now == goal and not here.moments[-1].out_of_range)):
                for following in self._acted(here, step, deeds):
                    found = True
                    yield from self._followed(following, step + 1, deeds)
            if here is not None and not found:  # it is over, or nothing can happen any more
                yield Run(here.moments, here.now)

    def _acted(self, at: Branch | None, step: int, deeds: tuple[Deed, ...]) -> Iterator[Branch]:
        """One reaction of the timetable."""
        old = self._run.moments[step]
        now = {deed for deed in deeds if deed.step == step}
        offers = {deed.name for deed in now if deed.value is None}
        if at is None:
            inputs = old.after.values[: len(self._numbers)]
            outcomes = self.reference.starts(inputs)
            at = Branch((), old.after, ZERO)
        else:
            values = list(at.state.values[: len(self._numbers)])
            for deed in now:
                if deed.value is not None:
                    values[self._numbers[deed.name]] = deed.value
            expired = old.expired & self.reference.due(at.state)
            if not now and not expired and self.reference.settled(at.state):
                yield at  # there is nothing left to happen; but the reaction may still be one
            outcomes = self.reference.reactions(at.state, tuple(values), expired)
        found = [moment for moment in self._counted(outcomes) if self._optional(moment) <= offers]
        for moment in sorted(found, key=lambda m: (m.taken != old.taken, sorted(m.taken))):
            yield at.then(moment)

    def _until(self, at: Branch, goal: Seconds) -> Iterator[Branch]:
        """Time passes, from instant to instant at which something is due or owed; where it cannot, the
        branch stays behind."""
        reference = self.reference
        while at.now < goal and not at.moments[-1].out_of_range:
            stop = min(goal - at.now, reference.until_due(at.state))
            owed = frozenset(
                rule.id
                for rule, left, reach in reference.deadlines(at.state)
                if left <= 0 or (not reach and left <= stop)
            )
            due = reference.due(at.state)
            if due or owed or not reference.settled(at.state):
                following = list(self._forced(at, due, owed)) if at.forced < MOST_FORCED else []
                for branch in following:
                    yield from self._until(branch, goal)
                if following:
                    return
                break
            stop = min([stop, *(left for _, left, _ in reference.deadlines(at.state))])
            if stop <= 0 or not reference.may_pass(at.state, stop):
                break
            at = Branch(at.moments, reference.passed(at.state, stop), at.now + stop, at.forced)
        yield at

    def _forced(self, at: Branch, due: frozenset[Timer], owed: frozenset[RuleId]) -> Iterator[Branch]:
        """A reaction without which no time passes."""
        inputs = at.state.values[: len(self._numbers)]
        for moment in self._counted(self.reference.reactions(at.state, inputs, due)):
            if self._optional(moment) <= owed and (due or not owed or owed & moment.taken):
                yield at.then(moment, forced=True)

    def _optional(self, moment: Moment) -> frozenset[RuleId]:
        return frozenset(r for r in moment.taken if self.reference.system.rule(r).optional)

    def _counted(self, outcomes: Iterator[Moment]) -> Iterator[Moment]:
        """Outcomes, as long as there is patience for them."""
        for moment in outcomes:
            self._left -= 1
            self._limits.check_time()
            if self._left < 0:
                raise LimitError("there are too many runs to try")
            yield moment
