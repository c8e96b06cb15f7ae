"""Bounded search: the shortest run that goes wrong, by unrolling the steps one after the other.

What: for each number of reactions, first whether the last one breaks the requirement, then whether
time does after it; so the first run found is shortest (Biere and others 1999, "Symbolic model checking
without BDDs"). Among the runs of that length one that takes the least time is chosen, with instants on
whole ticks if there is such a run, else on halves of them, and so on; strict bounds may need that.

It proves nothing when it finds nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import z3

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import has_strict_bounds
from prioritylogic.engines.solving import Translated, asked, given_up
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.model.formula import Value
from prioritylogic.model.system import Real, RuleId, Seconds
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State, Timer
from prioritylogic.semantics.terms import Figure, Term
from prioritylogic.semantics.translate import Symbol

SPLITS = (1, 2, 4, 8)  # of a tick, for the instants of a run
PLAIN_PARTS = 20  # of an analog range: figures on these marks are plainer than others


@dataclass(frozen=True)
class Chosen:
    """One step of a run: the time before its reaction, what the environment did, what followed."""

    wait: Seconds
    inputs: tuple[Value, ...] = ()
    expired: frozenset[Timer] = frozenset()
    taken: frozenset[RuleId] = frozenset()
    memory: tuple[Value, ...] = ()


@dataclass(frozen=True)
class Found:
    """A run that goes wrong: its reactions, and the time after the last."""

    steps: tuple[Chosen, ...]
    end: Seconds = Fraction(0)


class Unrolled:
    """The runs of a transition, up to ever more reactions."""

    def __init__(self, transition: Transition, work: int, limits: Limits) -> None:
        self.transition = transition
        self._work = work
        self._limits = limits
        self._context = z3.Context()
        self._translated = Translated(self._context)
        self._solver = z3.Solver(ctx=self._context)
        self._solver.set("random_seed", 1)
        self._solver.set("ctrl_c", False)
        self._depth = -1
        self._model: Any = None

    # ----------------------------------------------------------------- asking

    def _at(self, step: int, term: Term) -> Any:
        return self._translated.of(term, f"{step}:")

    def _satisfiable(self, *goals: Any) -> bool:
        """Whether the steps so far can be such; then a model is at hand."""
        self._solver.set("rlimit", max(1, self._work))
        answer = asked(self._context, self._limits, lambda: self._solver.check(*goals))
        if answer == z3.unknown:
            raise given_up(self._solver.reason_unknown(), self._work)
        return bool(answer == z3.sat)

    def _deepen(self) -> None:
        """One more reaction."""
        transition, _solver = self.transition, self._solver
        at = self._depth = self._depth + 1
        if at == 0:
            part, allowed = transition.start, (transition.start.allowed, transition.start.in_range)
        else:
            part, allowed = transition.step, (transition.step.allowed, transition.step.in_range)
        self._broken = self._at(at, part.broken)
        self._allowed = z3.And(*(self._at(at, term) for term in allowed))
        self._this = self._at(at, part.allowed)

    def _go_on(self) -> None:
        """The last reaction goes well, and leaves a state for the next step."""
        transition, solver, at = self.transition, self._solver, self._depth
        part = transition.step if at else transition.start
        solver.add(self._allowed, z3.Not(self._broken))
        if at:
            solver.add(z3.Not(self._at(at, part.late)))
        for name, variable in transition.everything.items():  # a run has all of a step
            solver.add(self._at(at + 1, variable) == self._at(at, part.after[name]))
        for fact in (*transition.typing, *transition.bounds):  # true anyway, and a help
            solver.add(self._at(at + 1, fact))

    def first(self, most: int) -> Found | None:
        """A shortest run that goes wrong within so many reactions after the first, or None.

        Raises:
            LimitError: a question took too much work, or the time is over.
        """
        for _ in range(most + 1):
            if (found := self.next()) is not None:
                return found
            if not self._satisfiable():
                return None  # no run is longer
        return None

    def next(self) -> Found | None:
        """A run of one reaction more than was looked at so far that goes wrong, if there is one."""
        step = self.transition.step
        self._deepen()
        if self._satisfiable(self._this, self._broken):
            return self._best(self._depth, self._this, self._broken)
        self._go_on()
        if step.late is not self.transition.terms.false:
            after = self._depth + 1
            passing, late = self._at(after, step.passing), self._at(after, step.late)
            if self._satisfiable(passing, late):
                return self._best(after, passing, late, late=True)
        return None

    # ----------------------------------------------------------------- the best of that length

    def _best(self, steps: int, *goals: Any, late: bool = False) -> Found:
        """The run of that many steps that takes the least time, on the coarsest grid that has one, with
        inputs that change as little as may be."""
        self._model, solver = self._solver.model(), self._solver
        solver.push()
        try:
            solver.add(*goals)
            reactions = steps if late else steps + 1
            with suppress(LimitError):  # the run is as it is by then
                self._nicer(steps, reactions)
            chosen = [self._chosen(self._model, step) for step in range(reactions)]
            return Found(tuple(chosen), self._waited(self._model, steps) if late else Fraction(0))
        finally:
            solver.pop()

    def _nicer(self, steps: int, reactions: int) -> None:
        """Betters the model in hand."""
        waits = [self._at(step, w) for step in range(1, steps + 1) for w in self.transition.waits]
        # A strict bound has no first instant; half a tick after it is near enough.
        for split in SPLITS[has_strict_bounds(self.transition.system) :] if waits else ():
            with suppress(LimitError):
                if self._on_grid(waits, self._tick() / split):
                    break
        self._solver.add(*(wait == self._model.eval(wait, True) for wait in waits))
        self._plain(reactions)

    def _tick(self) -> Seconds:
        """The tick of everything that is timed here."""
        transition = self.transition
        own = [transition.system.timed[n].time for n in transition.symbolic.watched]
        own += [transition.observer.figure] if transition.observer.figure else []
        return tick_of([*durations(transition.system), *own])

    def _on_grid(self, waits: list[Any], grid: Seconds) -> bool:
        """Instants that are multiples of `grid`, with the least sum; whether there are any."""
        solver = self._solver
        unit = self._translated.constant(grid)
        counts = [z3.Int(f"grid {n}", self._context) for n in range(len(waits))]
        solver.push()
        try:
            for wait, count in zip(waits, counts, strict=True):
                solver.add(wait == unit * z3.ToReal(count), count >= 0)
            if not self._satisfiable():
                return False
            self._model, total = solver.model(), z3.Sum(counts)
            low, high = 0, self._model.eval(total, True).as_long()
            while low < high:  # the least sum lies in low..high
                middle = (low + high) // 2
                if self._satisfiable(total <= middle):
                    self._model = solver.model()
                    high = self._model.eval(total, True).as_long()
                else:
                    low = middle + 1
            return True
        finally:
            solver.pop()

    def _plain(self, reactions: int) -> None:
        """Inputs stay as they are where they can, and analog ones have plain figures where they
        cannot; and nobody takes a rule that need not be taken."""
        solver = self._solver

        def keep(wish: Any) -> bool:
            fulfilled = bool(z3.is_true(self._model.eval(wish, True)))
            if not fulfilled and self._satisfiable(wish):
                self._model, fulfilled = solver.model(), True
            if fulfilled:
                solver.add(wish)
            return fulfilled

        for rule in (r for m in self.transition.system.machines for r in m.rules if r.optional):
            for step in range(reactions):
                taken = (self.transition.step if step else self.transition.start).reaction.scene.taken
                keep(z3.Not(self._at(step, taken[rule.id])))
        for variable in self.transition.system.inputs:
            for step in range(reactions):
                unchanged = step and keep(z3.And(*self._equal(variable.name, step)))
                if unchanged or not isinstance(variable.domain, Real):
                    continue
                now = self._symbols(step)[variable.name]
                assert isinstance(now, Term)
                value = self._at(step, now)
                for figure_ in plain_figures(variable.domain):
                    if keep(value == self._translated.constant(figure_)):
                        break

    def _symbols(self, step: int) -> Mapping[str, Symbol]:
        part = self.transition.step if step else self.transition.start
        return part.reaction.scene.now

    def _equal(self, name: str, step: int) -> list[Any]:
        """That an input is in this step as it was in the one before."""
        now, before = self._symbols(step)[name], self._symbols(step - 1)[name]
        if isinstance(now, Term):
            assert isinstance(before, Term)
            now, before = self.transition.terms.real(now) if before.sort == "Real" else now, before
            if now.sort == "Real":
                before = self.transition.terms.real(before)
            return [self._at(step, now) == self._at(step - 1, before)]
        assert not isinstance(before, Term)
        false = self.transition.terms.false
        names = dict.fromkeys((*now, *before))
        return [
            self._at(step, now.get(value, false)) == self._at(step - 1, before.get(value, false))
            for value in names
        ]

    # ----------------------------------------------------------------- out of the solver

    def _waited(self, model: Any, step: int) -> Seconds:
        waits = self.transition.waits if step else ()
        return sum((Fraction(figure(model.eval(self._at(step, w), True))) for w in waits), Fraction(0))

    def _chosen(self, model: Any, step: int) -> Chosen:
        """A step of the model in the words of the reference."""
        transition = self.transition
        system, part = transition.system, transition.step if step else transition.start
        scene = part.reaction.scene

        def true(term: Term) -> bool:
            return bool(figure(model.eval(self._at(step, term), True)))

        def value(name: str) -> Value:
            symbol = scene.now[name]
            if isinstance(symbol, Term):
                found = figure(model.eval(self._at(step, symbol), True))
                return found if isinstance(found, bool) else Fraction(found)
            return next(each for each, is_ in symbol.items() if true(is_))

        expired = {timer for timer, term in part.reaction.expires.items() if true(term)}
        for number, term in scene.expiring.items():
            if true(term):
                expired.add(Timer("timed", time=system.timed[number].time, index=number))
        return Chosen(
            self._waited(model, step),
            tuple(value(variable.name) for variable in system.inputs),
            frozenset(expired),
            frozenset(rule for rule, term in scene.taken.items() if true(term)),
            tuple(value(variable.name) for variable in system.memory),
        )


def plain_figures(domain: Real) -> Iterator[Fraction]:
    """The figures of a range that are plainest: nought or the end nearest to it, the ends, then marks
    between them, coarse ones first."""
    nought = min(max(Fraction(0), domain.low), domain.high)
    seen = [nought, domain.high, domain.low]
    for parts in (2, 4, 10, PLAIN_PARTS):
        step = (domain.high - domain.low) / parts
        marks = [domain.low + n * step for n in range(parts + 1)]
        seen += sorted(marks, key=lambda mark: (abs(mark - nought), mark < nought))
    yield from dict.fromkeys(seen)


def figure(value: Any) -> Figure:
    """A value of Z3's as ours."""
    if z3.is_true(value) or z3.is_false(value):
        return bool(z3.is_true(value))
    if z3.is_int_value(value):
        return int(value.as_long())
    if z3.is_algebraic_value(value):
        raise LimitError("the run needs a figure that is no quotient of whole numbers")
    return Fraction(value.numerator_as_long(), value.denominator_as_long())


def rerun(reference: Reference, found: Found) -> Run:
    """The run, step by step on the reference.

    Raises:
        DisagreementError: the reference does not know a step.
    """
    moments: list[Moment] = []
    state: State | None = None
    time = Fraction(0)
    for step in found.steps:
        if state is None:
            offered = reference.starts(step.inputs)
        else:
            state, time = _passed(reference, state, step.wait), time + step.wait
            if not step.expired <= reference.due(state):
                raise DisagreementError("a timer runs out that the reference does not hold due")
            offered = reference.reactions(state, step.inputs, step.expired)
        memory = len(step.memory)
        for moment in offered:
            values = moment.after.values[len(moment.after.values) - memory :]
            if (moment.taken, values) == (step.taken, step.memory):
                break
        else:
            raise DisagreementError(
                f"the reference does not know the reaction that takes {sorted(step.taken) or 'no rule'}"
            )
        moments.append(replace(moment, time=time))
        state = moment.after
    assert state is not None
    _passed(reference, state, found.end)
    return Run(tuple(moments), time + found.end)


def _passed(reference: Reference, state: State, wait: Seconds) -> State:
    if not wait:
        return state
    if not reference.may_pass(state, wait):
        raise DisagreementError(f"the reference lets no {wait} s pass, yet the solver did")
    return reference.passed(state, wait)
