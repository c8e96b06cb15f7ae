"""k-induction with distinct states: an argument without an invariant, for systems without clocks.

Two claims for one k. *Base*: no run goes wrong within k reactions. *Step*: from no k different states
one after the other, whether they can be reached or not, does the next reaction go wrong. A shortest run
that goes wrong visits no state twice, since it could be cut short; so the two together say that there is
none (Sheeran, Singh, Stalmarck 2000, "Checking safety properties using induction and a SAT-solver"). For
finite state some k is always enough. Without "different" it may be that none is.

States are different here in the variables on which anything wrong depends. Clocks and analog values
are declined: a delay can be cut ever smaller, so there states never run out.

What every state has by its kind is proved by itself (obligations.py), and then used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import z3

from prioritylogic.engines.bounded import Found, Unrolled
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.obligations import Obligation, obligations
from prioritylogic.engines.solving import Translated, asked, given_up
from prioritylogic.engines.transition import Step, Transition
from prioritylogic.errors import LimitError
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.smtlib import script
from prioritylogic.semantics.terms import Term, variables

MOST = 40  # states in a row


@dataclass(frozen=True, slots=True)
class Proved:
    """How many states in a row were enough."""

    k: int


class Unwinding:
    """The claims about one transition, for ever more states in a row.

    Raises:
        Declined: a state has clocks or analog values.
    """

    def __init__(self, transition: Transition) -> None:
        if any(variable.sort == "Real" for variable in transition.variables.values()):
            raise Declined("a state has clocks or analog values")
        self.transition = transition

    def decided(self, work: int, limits: Limits) -> Proved | Found:
        """The least k that is enough, or a shortest run that goes wrong.

        Raises:
            LimitError: neither was found within so much work.
        """
        unrolled = Unrolled(self.transition, work, limits)
        for k in range(1, MOST + 1):
            if (found := unrolled.next()) is not None:
                return found
            if not self._possible(self.step(k), work, limits):
                return Proved(k)
        raise LimitError(f"{MOST} states in a row are not enough for induction")

    def _possible(self, facts: list[Term], work: int, limits: Limits) -> bool:
        context = z3.Context()
        translated, solver = Translated(context), z3.Solver(ctx=context)
        solver.set("rlimit", max(1, work))
        solver.set("ctrl_c", False)
        solver.add(*(translated.of(fact) for fact in facts))
        answer = asked(context, limits, solver.check, work)
        if answer == z3.unknown:
            raise given_up(solver.reason_unknown(), work)
        return bool(answer == z3.sat)

    # ----------------------------------------------------------------- the claims

    def step(self, k: int) -> list[Term]:
        """That from k different states one after the other the next reaction goes wrong."""
        t, transition = self.transition.terms, self.transition
        facts = [self._at(n, t.all(*transition.typing, *transition.bounds)) for n in range(k)]
        for n in range(k - 1):
            facts += self._well(transition.step, n, n + 1)
        for one, other in combinations(range(k), 2):
            facts.append(t.negation(self._equal(one, other)))
        return [*facts, self._wrong(transition.step, k - 1)]

    def base(self, depth: int) -> list[Term]:
        """That the first reaction goes wrong, or (`depth` > 0) one after so many that go well."""
        transition = self.transition
        if depth == 0:
            return [
                self._at(
                    -1, self.transition.terms.all(transition.start.allowed, transition.start.broken)
                )
            ]
        facts = self._well(transition.start, -1, 0)
        for n in range(depth - 1):
            facts += self._well(transition.step, n, n + 1)
        return [*facts, self._wrong(transition.step, depth - 1)]

    def obligations(self, k: int) -> Iterator[Obligation]:
        """What a second solver must prove of it."""
        starts, stays, _ = obligations(self.transition, [])
        yield from (starts, stays)
        for depth in range(k):
            yield Obligation("starts true", script(self.base(depth)))
        yield Obligation("stays true", script(self.step(k)))

    # ----------------------------------------------------------------- pieces

    def _at(self, number: int, term: Term) -> Term:
        """A term about the state of this number, and the choices made there."""
        t = self.transition.terms
        own = {name: t.var(f"{name} @{number}", v.sort) for name, v in variables(term).items()}
        return t.substitute([term], own)[0]

    def _well(self, step: Step, number: int, following: int) -> list[Term]:
        """That a step from one state to the next goes well."""
        t = self.transition.terms
        well = t.all(step.allowed, step.in_range, t.negation(step.broken), t.negation(step.late))
        links = [
            t.same(self._at(following, variable), self._at(number, step.after[name]))
            for name, variable in self.transition.variables.items()
        ]
        return [self._at(number, well), *links]

    def _wrong(self, step: Step, number: int) -> Term:
        t = self.transition.terms
        return self._at(number, t.any(t.all(step.passing, step.late), t.all(step.allowed, step.broken)))

    def _equal(self, one: int, other: int) -> Term:
        parts = self.transition.variables.values()
        return self.transition.terms.all(
            *(self.transition.terms.same(self._at(one, v), self._at(other, v)) for v in parts)
        )
