"""Stories: short runs, told step by step on the reference.

Each step is one reaction, then stutters until settled. Inputs that nothing sets, ties, and what a
named optional rule may do branch; every branch must pass every `check` and the `end`. A `wait` lets
time pass to each instant at which something is due, where all that is due expires together and every
rule whose upper end has come is offered; what is due at its own end is included. (A rule that must be
taken *before* an instant has no last moment; it is offered at the last instant at which the story
stops before that one.)

Analog inputs without a start take one value for each joint truth of the comparisons in the spec.
What it does not do: explore. The reference is the only meaning used, so a story has no second opinion
and needs none.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from prioritylogic.engines.cells import Cell
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.table import Table
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Real, Seconds, Step, Story, System
from prioritylogic.semantics.judgement import observations
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State

MOST_BRANCHES = 4_000
MOST_STUTTERS = 200
MOST_CELLS = 64


@dataclass(frozen=True, slots=True)
class Branch:
    """One way a story may go so far: its reactions, and the state and time now."""

    moments: tuple[Moment, ...]
    state: State
    time: Seconds

    @property
    def run(self) -> Run:
        """The branch as a run."""
        return Run(self.moments, self.time)


@dataclass(frozen=True, slots=True)
class Telling:
    """How a story goes: the first branch that fails and why, or (why "") the first of all.

    `undecided`: what stopped it, or "".
    """

    why: str
    run: Run | None
    branches: int
    undecided: str = ""


class StuckError(Exception):
    """A branch that cannot go on as the story says."""


def needs_figures(system: System) -> bool:
    """Whether some analog input has no start."""
    return any(isinstance(v.domain, Real) and v.start is None for v in system.inputs)


def start_figures(table: Table) -> list[dict[str, Fraction]] | None:
    """Start values for the analog inputs that have none: one set for each joint truth of the spec's
    comparisons, or None where these depend on the state or are too many."""
    system, cells = table.system, table.cells
    for story in system.stories:  # a story's own comparisons tell figures apart as well
        for formula in (*conditions(story.steps), *(f for f in (story.end,) if f is not None)):
            table.parts.compiler.function(formula)
    table.prepare_cuts()
    free = [n for n, v in enumerate(system.inputs) if isinstance(v.domain, Real) and v.start is None]
    if table.parts.compiler.joint:
        return None
    wanted = {n: Fraction(0) for n in cells.ranges}
    found: list[Cell] = [table.start_cell]
    for atom in table.cuts:
        found = [
            cell | {side} for cell in found for side in (atom, atom ^ 1) if cells.possible(cell | {side})
        ]
        if len(found) > MOST_CELLS:
            return None
    points = [cells.point(cell, wanted) for cell in found]
    return [{system.inputs[n].name: point[n] for n in free} for point in points]


def conditions(steps: Iterable[Step]) -> Iterator[Formula]:
    """The conditions that steps check."""
    for step in steps:
        yield from () if step.condition is None else (step.condition,)
        yield from conditions(step.parts)


class Teller:
    """Tells the stories of one system.

    Args:
        reference: of the system.
        figures: start values for analog inputs, one set for each joint truth of the spec's
            comparisons; None if there are too many.
        limits: of time and memory.
    """

    def __init__(
        self, reference: Reference, figures: list[dict[str, Fraction]] | None, limits: Limits
    ) -> None:
        self.reference = reference
        self.system = reference.system
        self.figures = figures
        self.limits = limits
        self._observing = any(timed.observed for timed in reference.system.timed)
        self._numbers = {variable.name: n for n, variable in enumerate(self.system.inputs)}

    def tell(self, story: Story) -> Telling:
        """Plays every branch of a story."""
        if self.figures is None:
            return Telling("", None, 0, "analog inputs without a start have too many joint cases")
        branches: list[Branch] = []
        try:
            for moment in self._starts():
                self.limits.check()
                if len(branches) > MOST_BRANCHES:
                    return Telling("", None, 0, f"it has more than {MOST_BRANCHES} starts")
                first = Branch((moment,), moment.after, Fraction(0))
                branches += self._settle(first, story.unsettled)
        except StuckError as error:
            return Telling(f"at time 0, {error}", None, 1)
        if not branches:
            return Telling("", None, 0, "the assumptions exclude every start")
        for step in story.steps:
            following: list[Branch] = []
            for branch in branches:
                self.limits.check()
                try:
                    following += self._step(branch, step, story.unsettled)
                except StuckError as error:
                    return Telling(f"at `{step.said}`, {error}", branch.run, len(branches))
            if not following:
                why = f"at `{step.said}`, the assumptions forbid it"
                return Telling(why, branches[0].run, len(branches))
            branches = self._different(following)
            if len(branches) > MOST_BRANCHES:
                reason = f"it has more than {MOST_BRANCHES} branches"
                return Telling("", branches[0].run, len(branches), reason)
        for branch in branches:
            if story.end is not None and not self._true(story.end, branch):
                why = f"at the end `{story.said or 'end'}` is not true"
                return Telling(why, branch.run, len(branches))
        return Telling("", branches[0].run, len(branches))

    def _true(self, formula: Formula, branch: Branch) -> bool:
        """Whether a condition is true at rest after a branch."""
        timers = observed_timers(self.system, [formula])
        last = observations(self.reference, branch.run, timers, to_the_end=True)[-1]
        return self.reference.true(formula, last.rest)

    # ----------------------------------------------------------------- steps

    def _starts(self) -> Iterator[Moment]:
        for figures in self.figures or [{}]:
            analog = {name: [value] for name, value in figures.items()}
            for inputs in self.reference.input_choices(None, analog):
                for moment in self.reference.starts(inputs):
                    if not self._optional(moment):  # no step names a rule yet
                        yield moment

    def _optional(self, moment: Moment) -> set[str]:
        return {rule for rule in moment.taken if self.system.rule(rule).optional}

    def _step(self, branch: Branch, step: Step, unsettled: bool) -> Iterable[Branch]:
        """The continuations of a branch by one step. Raises StuckError."""
        if step.verb == "check":
            assert step.condition is not None
            if not self._true(step.condition, branch):
                raise StuckError("it is not true")
            return [branch]
        if step.verb == "wait":
            return self._wait(branch, step.time, unsettled)
        return self._act(branch, step, unsettled)

    def _act(self, branch: Branch, step: Step, unsettled: bool) -> Iterator[Branch]:
        """One reaction in which the environment does what the step says."""
        inputs = list(branch.state.values[: len(self.system.inputs)])
        rules: list[set[str]] = []
        for part in step.parts or (step,):
            if part.verb == "take":
                rules.append(set(part.rules))
            else:
                value = {"press": True, "release": False}.get(part.verb, part.value)
                assert value is not None
                inputs[self._numbers[part.name]] = value
        changed = sum(a != b for a, b in zip(inputs, branch.state.values, strict=False))
        if self.system.one_input_at_a_time and changed > 1:
            raise StuckError("inputs change one at a time in this spec")
        offered = list(self.reference.reactions(branch.state, tuple(inputs), frozenset()))
        if not offered:
            return  # the assumptions exclude it, so this branch is no run
        found = [
            moment
            for moment in offered
            if self._optional(moment) <= set().union(*rules)
            and all(group & moment.taken for group in rules)
        ]
        if not found:
            raise StuckError("the rule is not available")
        yield from self._follow(branch, found, unsettled)

    def _follow(self, branch: Branch, moments: Iterable[Moment], unsettled: bool) -> Iterator[Branch]:
        for moment in moments:
            if moment.out_of_range:
                raise StuckError(f"{moment.out_of_range} leaves its range")
            timed = dataclasses.replace(moment, time=branch.time)
            longer = Branch((*branch.moments, timed), moment.after, branch.time)
            yield from self._settle(longer, unsettled)

    def _settle(self, branch: Branch, unsettled: bool) -> list[Branch]:
        """Stutters until settled, along every tie."""
        if unsettled:
            return [branch]
        settled: list[Branch] = []
        open_ = [branch]
        while open_:
            at = open_.pop()
            if self.reference.settled(at.state):
                settled.append(at)
                continue
            if len(at.moments) - len(branch.moments) > MOST_STUTTERS:
                raise StuckError("it never settles")
            inputs = at.state.values[: len(self.system.inputs)]
            moments = list(self.reference.reactions(at.state, inputs, frozenset(), offers=False))
            open_ += self._follow(at, moments, unsettled=True)
        return self._different(settled)

    # ----------------------------------------------------------------- waiting

    def _wait(self, branch: Branch, time: Seconds, unsettled: bool) -> Iterator[Branch]:
        """Time passes, from instant to instant at which something is due or owed."""
        state = branch.state
        due = self.reference.due(state)
        stop = min(time, self.reference.until_due(state))
        owed = {
            rule.id
            for rule, left, reach in self.reference.deadlines(state)
            if left <= 0 or (not reach and left <= stop)
        }
        if due or owed:
            inputs = state.values[: len(self.system.inputs)]
            found = [
                moment
                for moment in self.reference.reactions(state, inputs, due)
                if self._optional(moment) <= owed and (due or owed & moment.taken)
            ]
            if not found:
                raise StuckError("time cannot go on")
            for after in self._follow(branch, found, unsettled):
                yield from self._wait(after, time, unsettled)
            return
        if time == 0:
            yield branch
            return
        stop = min([stop, *(left for _, left, _ in self.reference.deadlines(state))])
        if not self.reference.may_pass(state, stop):
            raise StuckError("it has not settled, so no time can pass")
        later = Branch(branch.moments, self.reference.passed(state, stop), branch.time + stop)
        yield from self._wait(later, time - stop, unsettled)

    def _different(self, branches: Iterable[Branch]) -> list[Branch]:
        """One branch for each different state and time (all, where a timed condition that only
        stories and requirements read makes the past matter)."""
        found: dict[object, Branch] = {}
        for branch in branches:
            past = branch.moments if self._observing else ()
            found.setdefault((branch.state, branch.time, past), branch)
        return list(found.values())
