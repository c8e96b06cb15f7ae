"""An invariant without the facts that it does not need.

A solver's invariant holds facts that it met on its way and does not need in the end. In a fixed order
each is left out if what remains is still inductive and enough; so the result depends on nothing but
the facts and their order, and is what a person has to read.
"""

from __future__ import annotations

import z3

from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import Translated, asked
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.semantics.terms import Term

WORK = 2_000_000  # Z3's resource units, for one question
MOST_FACTS = 200


def thinned(transition: Transition, facts: list[Term], limits: Limits) -> list[Term]:
    """The facts that are needed; all of them where finding out takes too long."""
    if len(facts) > MOST_FACTS:
        return facts
    checking = _Checking(transition, facts, limits)
    kept = list(range(len(facts)))
    for number in reversed(range(len(facts))):  # what was found last is the most special
        fewer = [other for other in kept if other != number]
        try:
            if checking.suffices(fewer):
                kept = fewer
        except LimitError as stop:
            if stop.final:
                raise
    return [facts[number] for number in kept]


def nothing_needed(transition: Transition, limits: Limits) -> bool:
    """Whether what is true of each state anyway is enough."""
    return _Checking(transition, [], limits).suffices([])


class _Checking:
    """Two of the obligations with each fact behind a switch."""

    def __init__(self, transition: Transition, facts: list[Term], limits: Limits) -> None:
        self._limits = limits
        self._context = z3.Context()
        translated = Translated(self._context)
        t, step = transition.terms, transition.step
        known = t.all(*transition.typing, *transition.bounds)

        def solver(*given: Term) -> z3.Solver:
            made = z3.Solver(ctx=self._context)
            made.set("rlimit", WORK)
            made.set("ctrl_c", False)
            made.add(*(translated.of(fact) for fact in given))
            return made

        self._switches = [z3.Bool(f"fact {n}", self._context) for n in range(len(facts))]
        well = (t.negation(step.broken), t.negation(step.late))
        self._stays = solver(known, step.allowed, step.in_range, *well)
        late, broken = t.all(step.passing, step.late), t.all(step.allowed, step.broken)
        self._enough = solver(known, t.any(late, broken))
        for switch, fact in zip(self._switches, facts, strict=True):
            self._stays.add(z3.Implies(switch, translated.of(fact)))
            self._enough.add(z3.Implies(switch, translated.of(fact)))
        after = {name: step.after[name] for name in transition.variables}
        self._broken = [z3.Not(translated.of(f)) for f in t.substitute([*facts, known], after)]

    def suffices(self, kept: list[int]) -> bool:
        """Whether these facts are inductive and enough. (All of them start true, so these do.)"""
        switches = [self._switches[n] for n in kept]
        goal = z3.Or(*(self._broken[n] for n in kept), self._broken[-1])
        return not (
            self._possible(self._enough, *switches) or self._possible(self._stays, goal, *switches)
        )

    def _possible(self, solver: z3.Solver, *goals: z3.BoolRef) -> bool:
        answer = asked(self._context, self._limits, lambda: solver.check(*goals))
        return bool(answer != z3.unsat)
