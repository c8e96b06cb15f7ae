"""An inductive invariant as an argument that a person can follow, fact by fact.

What is asked of Z3, in the words of obligations.py:

    starts true   which one part of the fact is true after the first reaction of every run
    stays true    in which rules' steps the fact may come to be true by another of its parts than before
                  (only there is anything to be argued), and which other facts before the step it needs
    is enough     on which facts "no step goes wrong" rests
    blocking      a step from a state that nothing but its kind restricts to what is forbidden: what
                  induction without the facts stumbles over, and which facts exclude that state

The facts have been proved by whoever found them; here nothing is proved, and what Z3 does not answer
within its work is left out or, where that is the safe side, named needlessly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

import z3

from prioritylogic.engines.bounded import figure
from prioritylogic.engines.clockwork import durations
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import Translated, asked
from prioritylogic.engines.transition import Transition
from prioritylogic.evidence.explanation import Blocking, Fact
from prioritylogic.model.formula import Formula, Value
from prioritylogic.model.system import RuleId
from prioritylogic.semantics.terms import Figure, Term, evaluate, variables
from prioritylogic.semantics.translate import Symbol

WORK = 2_000_000  # Z3's resource units, for one question
PLAIN = 12  # figures tried for a clock


class Argument:
    """The argument that some facts make about one transition.

    Args:
        transition: about the requirement.
        texts: the facts.
        limits: on time.
        hypothesis: what plain induction may assume before a step, the requirement itself; None where
            this is no condition on a state.
    """

    def __init__(
        self,
        transition: Transition,
        texts: tuple[str, ...],
        limits: Limits,
        hypothesis: Formula | None = None,
    ) -> None:
        self.transition = transition
        self._lemmas = Lemmas(transition)
        self._texts = texts
        self._facts = [self._lemmas.read(text) for text in texts]
        self._limits = limits
        self._context = z3.Context()
        self._translated = Translated(self._context)
        t, step = transition.terms, transition.step
        self._known = t.all(*transition.typing, *transition.bounds)
        self._before = t.true
        if hypothesis is not None:
            self._before = transition.symbolic.true(hypothesis, transition.symbolic.state.rest)
        self._well = t.all(step.allowed, step.in_range, t.negation(step.broken), t.negation(step.late))
        self._wrong = t.any(t.all(step.passing, step.late), t.all(step.allowed, step.broken))

    # ----------------------------------------------------------------- asking

    def _solver(self, *given: Term) -> z3.Solver:
        made = z3.Solver(ctx=self._context)
        made.set("rlimit", WORK)
        made.set("random_seed", 1)
        made.set("ctrl_c", False)
        made.add(*(self._translated.of(term) for term in given))
        return made

    def _asked(self, solver: z3.Solver, *goals: Any) -> Any:
        return asked(self._context, self._limits, lambda: solver.check(*goals))

    def _after(self, terms: list[Term], start: bool = False) -> list[Term]:
        part = self.transition.start if start else self.transition.step
        by = {name: part.after[name] for name in self.transition.variables}
        return self.transition.terms.substitute(terms, by)

    def _least(self, kept: list[int], *given: Term) -> tuple[int, ...]:
        """Facts before a step without which the given cannot be excluded, found by leaving out one
        after the other; counted from 1."""
        solver = self._solver(self._known, *given)
        for number in reversed(kept):
            fewer = [other for other in kept if other != number]
            facts = [self._translated.of(self._facts[other]) for other in fewer]
            if self._asked(solver, *facts) == z3.unsat:
                kept = fewer
        return tuple(number + 1 for number in sorted(kept))

    # ----------------------------------------------------------------- the three steps

    def facts(self) -> tuple[Fact, ...]:
        """What each fact rests on."""
        return tuple(map(self._fact, range(len(self._facts))))

    def _fact(self, number: int) -> Fact:
        t, fact = self.transition.terms, self._facts[number]
        disjuncts = list(fact.args) if fact.op == "or" else [fact]
        (after,) = self._after([fact])
        others = [n for n in range(len(self._facts)) if n != number]
        kept = self._least([number, *others], self._well, t.negation(after))
        pairs = zip(disjuncts, self._after(disjuncts), strict=True)
        handed = t.all(*(t.negation(t.all(before, later)) for before, later in pairs))
        taken = self.transition.step.reaction.scene.taken
        solver = self._solver(self._known, *self._facts, self._well, handed)
        none = t.all(*(t.negation(term) for term in taken.values()))
        at_rest = self._possible(solver, none)
        return Fact(
            self._texts[number],
            self._starts(disjuncts),
            self._risks(solver, taken),
            at_rest,
            tuple(n for n in kept if n != number + 1),
        )

    def _risks(self, solver: z3.Solver, taken: Mapping[RuleId, Term]) -> tuple[RuleId, ...]:
        """The rules that bring such a step about by themselves, and those that do where these do not."""
        t = self.transition.terms
        alone = [
            rule
            for rule in taken
            if self._possible(
                solver, t.all(*(term if r == rule else t.negation(term) for r, term in taken.items()))
            )
        ]
        others = t.all(*(t.negation(taken[rule]) for rule in alone), t.any(*taken.values()))
        found = {r for r in taken if r in alone or self._possible(solver, t.all(others, taken[r]))}
        return tuple(rule for rule in taken if rule in found)

    def _possible(self, solver: z3.Solver, term: Term) -> bool:
        return bool(self._asked(solver, self._translated.of(term)) != z3.unsat)

    def _starts(self, disjuncts: list[Term]) -> str:
        start, t = self.transition.start, self.transition.terms
        solver = self._solver(start.allowed, start.in_range, t.negation(start.broken))
        for part, later in zip(disjuncts, self._after(disjuncts, start=True), strict=True):
            if not self._possible(solver, t.negation(later)):
                return self._lemmas.written(part)
        return ""

    def enough(self) -> tuple[int, ...]:
        """The facts on which "no step goes wrong" rests."""
        return self._least(list(range(len(self._facts))), self._wrong)

    # ----------------------------------------------------------------- what blocks plain induction

    def blocking(self) -> tuple[Blocking | None, bool]:
        """The step that plain induction stumbles over, if there is one; and whether that is known."""
        step, t = self.transition.step, self.transition.terms
        solver = self._solver(self._known, self._before, self._wrong)
        answer = self._asked(solver)
        if answer != z3.sat:
            return None, bool(answer == z3.unsat)
        model = solver.model()
        for wish in self._wishes():
            goal = self._translated.of(wish)
            if z3.is_true(model.eval(goal, True)):
                solver.add(goal)
            elif self._asked(solver, goal) == z3.sat:
                model = solver.model()
                solver.add(goal)
        roots = [
            self._known,
            self._wrong,
            *self._facts,
            *step.after.values(),
            *step.reaction.scene.taken.values(),
        ]
        free = variables(*roots) | self.transition.everything
        values: dict[str, Figure] = {
            name: figure(model.eval(self._translated.variable(term), True))
            for name, term in free.items()
        }
        assert evaluate(t.all(self._known, self._wrong), values), "a step as Z3 says it is one"
        return self._told(values), True

    def _wishes(self) -> Iterator[Term]:
        """What makes a step plain: nothing else happens in it, its clocks have figures of the spec."""
        t, transition = self.transition.terms, self.transition
        step, system = transition.step, transition.system
        yield step.allowed
        yield from self._facts
        scene = step.reaction.scene
        for variable in system.inputs:
            yield self._same(scene.now.get(variable.name), scene.was.get(variable.name))
        taken = scene.taken
        yield from (t.negation(term) for term in taken.values())
        yield from (t.same(wait, t.zero) for wait in transition.waits)
        state = transition.symbolic.state.values
        for machine in system.machines:
            own = state[machine.name]
            if not isinstance(own, Term):
                yield own.get(machine.start, t.false)
        figures = [Fraction(0), *sorted(set(durations(system)))][:PLAIN]
        clocks = [v for v in transition.variables.values() if v.sort == "Real"]
        for clock in clocks:
            yield from (t.same(clock, t.const(figure_)) for figure_ in figures)

    def _same(self, now: Symbol | None, was: Symbol | None) -> Term:
        t = self.transition.terms
        if now is None or was is None:
            return t.true
        if isinstance(now, Term) and isinstance(was, Term):
            return t.same(now, was)
        if isinstance(now, Term) or isinstance(was, Term):
            return t.true
        return t.all(*(t.same(now.get(v, t.false), was.get(v, t.false)) for v in {**now, **was}))

    def _told(self, values: dict[str, Figure]) -> Blocking:
        transition = self.transition
        system, step = transition.system, transition.step
        scene = step.reaction.scene
        late = not bool(evaluate(transition.terms.all(step.allowed, step.broken), values))
        state = transition.symbolic.state.values
        owners = [machine.name for machine in system.machines] + [m.name for m in system.memory]
        own = [name for name in owners if self._matters(state[name])]
        before = [(name, _value(state[name], values)) for name in own]
        shown = [name for name in transition.variables if self._worth(name)]
        before += [(name, _plain(values[name])) for name in shown]
        names = [v.name for v in system.inputs if v.name in state and self._matters(state[v.name])]
        changes, after = [], []
        if not late:
            changes = [
                (name, _value(scene.now[name], values))
                for name in names
                if _value(scene.now[name], values) != _value(scene.was[name], values)
            ]
            after = [
                (name, _value(scene.now[name], values))
                for name in own
                if _value(scene.now[name], values) != _value(state[name], values)
            ]
        wait = sum((Fraction(values.get(str(w.leaf), 0)) for w in transition.waits), Fraction(0))
        rules: tuple[RuleId, ...] = tuple(
            rule for rule, term in scene.taken.items() if not late and evaluate(term, values)
        )
        excluded = tuple(n for n, fact in enumerate(self._facts, 1) if not evaluate(fact, values))
        return Blocking(tuple(before), wait, tuple(changes), rules, tuple(after), late, excluded)

    def _matters(self, symbol: Symbol) -> bool:
        """Whether anything wrong depends on a name; nothing is known of others, not even their kind."""
        terms = [symbol] if isinstance(symbol, Term) else [*symbol.values()]
        return variables(*terms).keys() <= self.transition.variables.keys()

    def _worth(self, name: str) -> bool:
        """Whether a person wants to know of a variable: a fact speaks of it, no name has it."""
        symbols = self.transition.symbolic.state.values.values()
        terms = [t for s in symbols for t in ([s] if isinstance(s, Term) else s.values())]
        return name not in variables(*terms) and any(name in variables(fact) for fact in self._facts)


def _value(symbol: Symbol, values: dict[str, Figure]) -> Value:
    """What a name has come to be."""
    if isinstance(symbol, Term):
        return _plain(evaluate(symbol, values))
    return next(value for value, term in symbol.items() if evaluate(term, values))


def _plain(found: Figure) -> Value:
    """A figure as a value."""
    return found if isinstance(found, bool) else Fraction(found)
