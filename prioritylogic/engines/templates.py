"""Induction by template clauses: of all facts of a few simple shapes, the largest set that is inductive.

The shapes, over the variables of a state: a clause of at most two truths (`asked implies take[fore]`);
one clock at most another one, perhaps where something is true (`asked implies asked.time <=
command.time`); a clock at most, or at least, one of the durations. If these are not enough, also where
two things are true, one of them that the requirement waits, and one clock at least so much ahead of
another. All are taken up. Those that a first reaction makes false are dropped; then, again and again,
those that some step makes false, from a state with all that are left. What remains is inductive, and
nothing larger of these shapes is (Flanagan and Leino 2001, on annotations that are guessed and refuted;
from memory). The largest such set does not depend on the order of dropping. If it is enough, only the
facts that the argument uses are kept.

It finds no run, and gives up where the shapes are not enough.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, permutations, product
from typing import Any

import z3

from prioritylogic.engines.bounded import figure
from prioritylogic.engines.clockwork import durations
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import Translated, asked, given_up
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.model.system import Whole
from prioritylogic.semantics.terms import Figure, Term, evaluated, variables

MOST_CANDIDATES = 20_000


def candidates(transition: Transition, rich: bool) -> list[Term]:
    """Every fact of the shapes, in a fixed order; `rich`: also those with two guards and an offset.

    Raises:
        LimitError: there are too many.
    """
    names, known = set(transition.variables), {*transition.typing, *transition.bounds}
    found: dict[Term, None] = {}
    for fact in _candidates(transition, rich):
        if fact not in known and fact.op != "const" and set(variables(fact)) <= names:
            found[fact] = None
        if len(found) > MOST_CANDIDATES:
            raise LimitError(f"there are more than {MOST_CANDIDATES} template clauses")
    return list(found)


def _candidates(transition: Transition, rich: bool) -> Iterator[Term]:
    t = transition.terms
    clocks = [v for v in transition.variables.values() if v.sort == "Real"]
    truths = [v for v in transition.variables.values() if v.sort == "Bool"] + _steps(transition)
    literals = [literal for truth in truths for literal in (truth, t.negation(truth))]
    one_of = [set(map(id, values)) for values in transition.symbolic.named.values()]
    yield from literals
    for one, other in combinations(literals, 2):
        if one is not t.negation(other) and not _exclusive(one, other, one_of):
            yield t.any(one, other)
    times = set(durations(transition.system))
    times |= {transition.observer.figure} if transition.observer.figure else set()
    figures = [t.const(time) for time in sorted(times)]
    compared = [t.below(one, other, True) for one, other in permutations(clocks, 2)]
    for figure_, clock in product(figures, clocks):
        compared += [t.below(clock, figure_, True), t.below(figure_, clock, True)]
    guards = [t.false, *literals]
    if rich:
        pairs = permutations(clocks, 2)
        compared += [t.below(t.add(a, d), b, True) for (a, b), d in product(pairs, figures)]
        guards += [t.any(t.negation(v), g) for v in transition.waiting for g in literals]
    for fact in compared:
        yield from (t.any(guard, fact) for guard in guards)


def _steps(transition: Transition) -> list[Term]:
    """Where whole numbers lie."""
    t, system = transition.terms, transition.system
    found: list[Term] = []
    domains = {v.name: v.domain for v in system.memory} | {v.name: v.domain for v in system.inputs}
    for name, domain in domains.items():
        if isinstance(domain, Whole) and name in transition.variables:
            variable = transition.variables[name]
            found += [t.below(variable, t.const(n), True) for n in range(domain.low, domain.high)]
    return found


def _exclusive(one: Term, other: Term, one_of: list[set[int]]) -> bool:
    """Whether a clause only says that something has not two values at once."""
    if one.op != "not" or other.op != "not":
        return False
    return any({id(one.args[0]), id(other.args[0])} <= values for values in one_of)


class Pruning:
    """Drops candidates until what is left is inductive.

    Attributes:
        spent: of the work, which is for all questions together, in Z3's resource units.
    """

    def __init__(
        self, transition: Transition, facts: list[Term], work: int, spent: int, limits: Limits
    ) -> None:
        t = transition.terms
        self.facts = facts
        self.spent = self._before = spent
        self._transition, self._work, self._limits = transition, work, limits
        self._context = z3.Context()
        self._translated = Translated(self._context)
        self._switches = [z3.Bool(f"fact {n}", self._context) for n in range(len(facts))]
        self._numbers = {switch.get_id(): n for n, switch in enumerate(self._switches)}
        start, step = transition.start, transition.step
        known = t.all(*transition.typing, *transition.bounds)
        well = (t.negation(step.broken), t.negation(step.late))
        self._begins_wrong = self._solver(start.allowed, start.broken)
        self._begins = self._solver(start.allowed, start.in_range, t.negation(start.broken))
        self._goes_on = self._solver(known, step.allowed, step.in_range, *well)
        wrong = t.any(t.all(step.passing, step.late), t.all(step.allowed, step.broken))
        self._goes_wrong = self._solver(known, wrong)
        for solver in (self._goes_on, self._goes_wrong):
            for switch, fact in zip(self._switches, facts, strict=True):
                solver.add(z3.Implies(switch, self._of(fact)))
        self._first = [z3.Not(self._of(f)) for f in self._later([*facts, known], start.after)]
        self._next = [z3.Not(self._of(f)) for f in self._later([*facts, known], step.after)]

    def _of(self, term: Term) -> Any:
        return self._translated.of(term)

    def _later(self, facts: list[Term], after: Any) -> list[Term]:
        names = self._transition.variables
        return self._transition.terms.substitute(facts, {name: after[name] for name in names})

    def _solver(self, *given: Term) -> z3.Solver:
        made = z3.Solver(ctx=self._context)
        made.set("ctrl_c", False)
        made.set("random_seed", 1)
        made.add(*(self._of(fact) for fact in given))
        return made

    def _possible(self, solver: z3.Solver, *goals: Any) -> bool:
        solver.set("rlimit", max(1, self._work - self.spent))
        answer = asked(self._context, self._limits, lambda: solver.check(*goals), self._work)
        self.spent = self._before + solver.statistics().get_key_value("rlimit count")  # of the context
        if answer == z3.unknown:
            raise given_up(solver.reason_unknown(), self._work)
        return bool(answer == z3.sat)

    # ----------------------------------------------------------------- dropping

    def inductive(self) -> list[int]:
        """The largest inductive set, as numbers of facts."""
        left = list(range(len(self.facts)))
        left = self._dropped(left, self._begins, self._first, self._transition.start.after, False)
        return self._dropped(left, self._goes_on, self._next, self._transition.step.after, True)

    def _dropped(
        self, left: list[int], solver: z3.Solver, broken: list[Any], after: Any, from_them: bool
    ) -> list[int]:
        """What is left when each fact is dropped that some step makes false."""
        while left:
            given = [self._switches[n] for n in left] if from_them else []
            if not self._possible(solver, z3.Or(*(broken[n] for n in left)), *given):
                break
            values = self._values(solver.model(), after)
            seen = evaluated([self.facts[n] for n in left], values)
            left = [n for n in left if seen[id(self.facts[n])]]
        return left

    def _values(self, model: Any, after: Any) -> dict[str, Figure]:
        """The state after the step of a model."""
        names = self._transition.variables
        return {name: figure(model.eval(self._of(after[name]), True)) for name in names}

    # ----------------------------------------------------------------- what is used

    def goes_wrong_at_once(self) -> bool:
        """Whether the reaction at time 0 may."""
        return self._possible(self._begins_wrong)

    def enough(self, left: list[int]) -> list[int] | None:
        """Of an inductive set the facts that the argument uses; None if it is not enough."""
        given = [self._switches[n] for n in left]
        if self._possible(self._goes_wrong, *given):
            return None
        used = self._core(self._goes_wrong)
        waiting = [*used, len(self.facts)]  # the last: what is true of each state by its kind
        while waiting:
            number = waiting.pop()
            possible = self._possible(self._goes_on, self._next[number], *given)
            assert not possible or number == len(self.facts), "the set is inductive"
            if possible:
                return None
            for other in self._core(self._goes_on):
                if other not in used:
                    used.append(other)
                    waiting.append(other)
        return sorted(used)

    def _core(self, solver: z3.Solver) -> list[int]:
        numbers = (self._numbers.get(switch.get_id()) for switch in solver.unsat_core())
        return sorted(number for number in numbers if number is not None)


def clauses(transition: Transition, work: int, limits: Limits) -> list[Term] | None:
    """Facts of the shapes that are inductive and enough, those that the argument uses; None if the
    first reaction goes wrong, which no fact about a state can tell.

    Raises:
        LimitError: they are not enough, or take too much work.
    """
    spent = 0
    for facts in _offers(transition):
        pruning = Pruning(transition, facts, work, spent, limits)
        if pruning.goes_wrong_at_once():
            return None
        used = pruning.enough(pruning.inductive())
        if used is not None:
            return [facts[number] for number in used]
        spent = pruning.spent
    raise LimitError("no set of template clauses is inductive and enough")


def _offers(transition: Transition) -> Iterator[list[Term]]:
    """The candidates, fewest first: often none is needed."""
    yield []
    yield candidates(transition, rich=False)
    yield candidates(transition, rich=True)
