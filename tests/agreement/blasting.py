"""A third opinion on systems without clocks and numbers: terms as clauses, for a solver of another kind.

The steps of a `Transition` become clauses by one new variable for each part of a term (Tseitin 1968, "On
the complexity of derivation in propositional calculus"), unrolled as in bounded search (Biere and others
1999). Nothing of the Z3 engines is used but the terms, and their meaning is stated here once more.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from pysat.solvers import Solver

from prioritylogic.engines.transition import Transition
from prioritylogic.semantics.terms import Term, subterms


class NotBoolean(Exception):  # noqa: N818 - no error: another system is taken
    """There are clocks or numbers in it."""


class Clauses:
    """Terms as literals of a SAT solver. Variables are told apart by a number, their step."""

    def __init__(self) -> None:
        self.solver = Solver(name="glucose4")
        self._fresh = itertools.count(1)
        self._literals: dict[tuple[int, int], int] = {}
        self._named: dict[tuple[str, int], int] = {}
        self._kept: list[Term] = []  # a term that is gone would free its id
        self._true = next(self._fresh)
        self.solver.add_clause([self._true])

    def variable(self, name: str, step: int) -> int:
        """The literal of a variable in a step."""
        key = (name, step)
        if key not in self._named:
            self._named[key] = next(self._fresh)
        return self._named[key]

    def of(self, root: Term, step: int) -> int:
        """The literal that is true exactly when the term is."""
        self._kept.append(root)
        for term in subterms([root]):
            if (id(term), step) not in self._literals:
                args = [self._literals[id(arg), step] for arg in term.args]
                self._literals[id(term), step] = self._made(term, args, step)
        return self._literals[id(root), step]

    def _made(self, term: Term, args: list[int], step: int) -> int:
        if term.sort != "Bool" or any(arg.sort != "Bool" for arg in term.args):
            raise NotBoolean
        add = self.solver.add_clause
        match term.op:
            case "var":
                return self.variable(str(term.leaf), step)
            case "const":
                return self._true if term.leaf else -self._true
            case "not":
                return -args[0]
        made = next(self._fresh)
        match term.op:
            case "and":
                add([made, *(-arg for arg in args)])
                for arg in args:
                    add([-made, arg])
            case "or":
                add([-made, *args])
                for arg in args:
                    add([made, -arg])
            case "=":
                one, other = args
                for signs in ((-1, 1, -1), (-1, -1, 1), (1, 1, 1), (1, -1, -1)):
                    add([sign * each for sign, each in zip(signs, (made, one, other), strict=True)])
            case "ite":
                condition, then, otherwise = args
                add([-made, -condition, then])
                add([-made, condition, otherwise])
                add([made, -condition, -then])
                add([made, condition, -otherwise])
            case _:
                raise NotBoolean
        return made


def least_depth(transition: Transition, most: int) -> int | None:
    """The fewest reactions after the first to one that goes wrong, if at most `most` are enough.

    Raises:
        NotBoolean: the question is not one of truth values alone.
    """
    t = transition.terms
    still = {str(wait.leaf): t.zero for wait in transition.waits}  # time need not pass
    start, step = transition.start, transition.step
    names = list(transition.variables)

    def parts(part: object, values: Iterable[Term]) -> list[Term]:
        return t.substitute(values, still)

    fixed = [
        parts(each, [each.allowed, each.in_range, each.broken, *(each.after[name] for name in names)])
        for each in (start, step)
    ]
    if t.substitute([step.late], still)[0] is not t.false:
        raise NotBoolean
    clauses = Clauses()
    try:
        for depth in range(most + 1):
            allowed, in_range, broken, *after = fixed[1 if depth else 0]
            literals = [clauses.of(term, depth) for term in (allowed, in_range, broken, *after)]
            if clauses.solver.solve(assumptions=[literals[0], literals[2]]):
                return depth
            for literal in (literals[0], literals[1], -literals[2]):
                clauses.solver.add_clause([literal])
            for name, literal in zip(names, literals[3:], strict=True):
                new = clauses.variable(name, depth + 1)
                clauses.solver.add_clause([-new, literal])
                clauses.solver.add_clause([new, -literal])
        return None
    finally:
        clauses.solver.delete()
