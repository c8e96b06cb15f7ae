"""Property-directed reachability: an inductive invariant found by Z3's engine for Horn clauses.

What: the states that can be reached are a relation R over the variables of a `Transition`; what can
go wrong is a relation without arguments. Three kinds of clauses say what both hold at least; Z3 either
finds R such that nothing goes wrong, an inductive invariant, or tells that something does.

Why this way: one relation over plain scalars, no arrays, no quantifiers, groups expanded; dense clocks
as reals. It needs no depth and no tick, and finds the few facts that matter (Bradley 2011, "SAT-based
model checking without unrolling"; Komuravelli, Gurfinkel, Chaki 2014, "SMT-based model checking for
recursive programs").

What is found is only a proposal: `lemmas.py` writes it down in the spec's words, and
`obligations.py` proves it again, from those words, with another solver. That something goes wrong is
a proposal too; `bounded.py` looks for the run.
"""

from __future__ import annotations

from typing import Any

import z3

from prioritylogic.engines.limits import Limits
from prioritylogic.engines.solving import Translated, asked, given_up
from prioritylogic.engines.thinning import nothing_needed
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.semantics.terms import Term, Terms, variables

SEED = 1


def invariant(transition: Transition, work: int, limits: Limits) -> list[Term] | None:
    """Facts that together are inductive and exclude that anything goes wrong; None if it can.

    The facts are over the transition's variables, and inductive together with its `typing` and
    `bounds`.

    Raises:
        LimitError: neither was found with so much work, or in the time that is left.
    """
    t = transition.terms
    context = z3.Context()
    translated = Translated(context)
    horn = z3.Fixedpoint(ctx=context)
    horn.set(
        "engine", "spacer",
        "rlimit", max(1, work),
        "ctrl_c", False,
        "spacer.random_seed", SEED,
        "xform.slice", False,
        "xform.inline_linear", False,
        "xform.inline_eager", False,
    )  # fmt: skip
    names = tuple(transition.variables)
    own = [translated.of(variable) for variable in transition.variables.values()]
    truth = z3.BoolSort(context)
    reached = z3.Function("reached", *(variable.sort() for variable in own), truth)
    wrong = z3.Function("wrong", truth)
    horn.register_relation(reached, wrong)
    start, step = transition.start, transition.step
    known = t.all(*transition.typing, *transition.bounds)
    goes_on = t.all(step.allowed, step.in_range, t.negation(step.broken), t.negation(step.late))
    starts = t.all(start.allowed, start.in_range, t.negation(start.broken))
    everything = [starts, goes_on, known, start.allowed, start.broken, step.allowed, step.broken]
    everything += [step.passing, step.late]
    everything += [value for part in (start, step) for value in map(part.after.__getitem__, names)]
    for variable in {**transition.variables, **variables(*everything)}.values():
        horn.declare_var(translated.of(variable))

    def clause(head: Any, *body: Term, before: bool) -> None:
        facts = [translated.of(fact) for fact in (*body, *([known] if before else []))]
        horn.rule(head, [*([reached(*own)] if before else []), *facts])

    def after(values: Any) -> Any:
        return reached(*(translated.of(values[name]) for name in names))

    clause(after(start.after), starts, before=False)
    clause(wrong(), t.all(start.allowed, start.broken), before=False)
    clause(after(step.after), goes_on, before=True)
    clause(wrong(), t.all(step.passing, step.late), before=True)
    clause(wrong(), t.all(step.allowed, step.broken), before=True)
    answer = asked(context, limits, lambda: horn.query(wrong()), work)
    if answer == z3.sat:
        return None
    if answer == z3.unknown:
        raise given_up(horn.reason_unknown(), work)
    try:
        return _facts(horn.get_answer(), reached, transition)
    except _NoWordsError:
        if nothing_needed(transition, limits):  # so it is where the question answers itself
            return []
        raise LimitError("the invariant that was found cannot be written down") from None


class _NoWordsError(Exception):
    """Something in Z3's answer that our terms do not have, such as a quantifier."""


def _facts(answer: Any, reached: Any, transition: Transition) -> list[Term]:
    """The definition of R in Z3's answer, each conjunct as one of our terms."""
    definitions = list(answer.children()) if z3.is_and(answer) else [answer]
    for definition in definitions:
        if not z3.is_quantifier(definition):
            if z3.is_eq(definition) and definition.arg(0).decl().eq(reached):
                return _conjuncts(definition.arg(1), {}, transition)
            continue
        body = definition.body()
        if z3.is_eq(body) and body.arg(0).decl().eq(reached):
            # A bound variable is mapped by its position among the relation's arguments.
            places = dict(enumerate(body.arg(0).children()))
            variables_ = list(transition.variables.values())
            bound = {z3.get_var_index(places[n]): variables_[n] for n in places}
            return _conjuncts(body.arg(1), bound, transition)
    return []  # nothing but what is known anyway is needed


def _conjuncts(formula: Any, bound: dict[int, Term], transition: Transition) -> list[Term]:
    read = _Reading(transition.terms, bound).term(formula)
    if read.op == "and":
        return list(read.args)
    return [] if read is transition.terms.true else [read]


class _Reading:
    """Z3's expressions as our terms."""

    def __init__(self, terms: Terms, bound: dict[int, Term]) -> None:
        self._terms = terms
        self._bound = bound
        self._done: dict[int, Term] = {}

    def term(self, expression: Any) -> Term:
        key = expression.get_id()
        if key not in self._done:
            self._done[key] = self._read(expression)
        return self._done[key]

    def _read(self, expression: Any) -> Term:
        t = self._terms
        if z3.is_quantifier(expression):
            raise _NoWordsError
        if z3.is_var(expression):
            return self._bound[z3.get_var_index(expression)]
        if z3.is_int_value(expression):
            return t.const(expression.as_long())
        if z3.is_rational_value(expression):
            return t.const(expression.as_fraction())
        args = [self.term(child) for child in expression.children()]
        match expression.decl().kind():
            case z3.Z3_OP_TRUE:
                return t.true
            case z3.Z3_OP_FALSE:
                return t.false
            case z3.Z3_OP_NOT:
                return t.negation(args[0])
            case z3.Z3_OP_AND:
                return t.all(*args)
            case z3.Z3_OP_OR:
                return t.any(*args)
            case z3.Z3_OP_IMPLIES:
                return t.implies(*args)
            case z3.Z3_OP_ITE:
                return t.choose(*args)
            case z3.Z3_OP_EQ | z3.Z3_OP_IFF:
                return t.same(*args)
            case z3.Z3_OP_XOR | z3.Z3_OP_DISTINCT:
                return t.negation(t.same(*args))
            case z3.Z3_OP_LE:
                return t.below(args[0], args[1], True)
            case z3.Z3_OP_GE:
                return t.below(args[1], args[0], True)
            case z3.Z3_OP_LT:
                return t.below(args[0], args[1])
            case z3.Z3_OP_GT:
                return t.below(args[1], args[0])
            case z3.Z3_OP_ADD:
                return t.add(*args)
            case z3.Z3_OP_SUB:
                return t.add(args[0], *(t.multiply(t.const(-1), arg) for arg in args[1:]))
            case z3.Z3_OP_UMINUS:
                return t.multiply(t.const(-1), args[0])
            case z3.Z3_OP_MUL:
                product = args[0]
                for arg in args[1:]:
                    product = t.multiply(product, arg)
                return product
            case z3.Z3_OP_TO_REAL:
                return t.real(args[0])
            case z3.Z3_OP_TO_INT:
                return t.whole(args[0])
            case z3.Z3_OP_IS_INT:
                return t.is_whole(args[0])
        raise _NoWordsError
