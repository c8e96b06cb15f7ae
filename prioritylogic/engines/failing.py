"""Values of a setting for which some run goes wrong, an interval at a time.

What: bounded search (bounded.py) with the setting as one more unknown. A run that is found goes wrong
at one value. Its choices are then kept, what was pressed, what expired and which rules were taken, and
the lengths of time between them, the analog figures and the setting are let go: the values for which
they can be chosen anew so that the same things happen are an interval around that value
(halfspaces.py). It is taken out, and the search goes on until no run of that length is left.

An interval counts only when a run at each of its ends has been taken, step by step, on the reference of
the system built for that very value. In between nothing new can happen: the steps are the same, and what
they ask of the figures is linear.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Any, TypeAlias

from prioritylogic.engines.bounded import Found, Unrolled, figure
from prioritylogic.engines.halfspaces import reasons, shadow
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError
from prioritylogic.model.intervals import Interval, all_without
from prioritylogic.model.unknown import settled
from prioritylogic.semantics.parametric import ParametricTerms
from prioritylogic.semantics.terms import Figure, Term, variables

MOST_REACTIONS = 30
MOST_AT_ONCE = 40  # intervals of one length, before what is left is asked about anew

Confirm: TypeAlias = Callable[[Fraction, Found], None]


class Failing(Unrolled):
    """The runs of a transition over a setting.

    Args:
        transition: made of `ParametricTerms`.
        confirm: takes a run, at a value, on the reference; raises DisagreementError if it does not go
            wrong there.
        near: what counts as near beside an end that is not in an interval.
    """

    def __init__(
        self, transition: Transition, work: int, limits: Limits, confirm: Confirm, near: Fraction
    ) -> None:
        super().__init__(transition, work, limits)
        assert isinstance(transition.terms, ParametricTerms)
        self._terms = transition.terms
        self._confirm = confirm
        self._near = near
        self._found: list[Interval] = []
        self._late = False  # whether the time after the last reaction is asked about, not the reaction
        self._deepen()

    def intervals(self, among: Iterable[Interval]) -> list[Interval]:
        """Values among these for which runs of the least length go wrong; none if there is no such run
        within `MOST_REACTIONS`.

        Raises:
            LimitError: a question took too much work, or the time is over.
            DisagreementError: the reference does not see that a run goes wrong.
        """
        wanted = self._at(0, self._terms.any(*map(self._terms.inside, among)))
        while self._depth <= MOST_REACTIONS:
            found: list[Interval] = []
            while len(found) < MOST_AT_ONCE and self._satisfiable(wanted, *self._goals):
                found.append(self._interval())
            if found:
                return found
            if self._late:
                self._deepen()
            else:
                self._go_on()
                if not self._satisfiable(wanted):
                    break  # no run is longer
            self._late = not self._late
        return []

    @property
    def _goals(self) -> tuple[Any, ...]:
        """That it goes wrong now."""
        if not self._late:
            return self._this, self._broken
        step = self.transition.step
        return self._at(self._depth + 1, step.passing), self._at(self._depth + 1, step.late)

    def _interval(self) -> Interval:
        """The values around that of the model for which the same happens, less those known before."""
        facts, point = self._path(self._solver.model())
        setting = self._terms.setting
        around = shadow(reasons(facts, point), str(setting.leaf), self._limits)
        value = Fraction(point[str(setting.leaf)])
        found = next(one for one in all_without([around], self._found) if one.has(value))
        for end in dict.fromkeys(found.near(low, self._near) for low in (True, False)):
            self._confirm(end, self._run(end))
        self._found.append(found)
        self._solver.add(self._at(0, self._terms.negation(self._terms.inside(found))))
        return found

    def _path(self, model: Any) -> tuple[list[Term], dict[str, Figure]]:
        """That the run is one and goes wrong, over what is real in it; and that at the model."""
        terms, transition = self._terms, self.transition
        name, setting = str(terms.setting.leaf), terms.setting
        facts: list[Term] = []
        point: dict[str, Figure] = {name: figure(model.eval(self._at(0, setting), True))}
        state: dict[str, Term] = {name: setting}
        for at in range(self._depth + 1 + self._late):
            part = transition.step if at else transition.start
            if at < self._depth + self._late:
                asked = [part.allowed, part.in_range, *map(terms.negation, (part.broken, part.late))]
            elif self._late:
                asked = [part.passing, part.late]
            else:
                asked = [part.allowed, part.broken]
            after = [part.after[each] for each in transition.everything]
            chosen = dict(state)
            for each, variable in variables(*asked, *after).items():
                if each in transition.everything:
                    continue
                value = figure(model.eval(self._at(at, variable), True))
                chosen[each] = terms.const(value)
                if variable.sort == "Real":
                    chosen[each] = terms.var(f"{at}:{each}", "Real")
                    point[f"{at}:{each}"] = value
            (*now,) = terms.substitute([*asked, *after], chosen)
            facts += now[: len(asked)]
            state = dict(zip(transition.everything, now[len(asked) :], strict=True))
        return facts, point

    def _run(self, value: Fraction) -> Found:
        """A run that goes wrong at a value."""
        here = self._at(0, self._terms.same(self._terms.setting, self._terms.const(value)))
        if not self._satisfiable(here, *self._goals):
            raise DisagreementError(f"a run that goes wrong around {value} cannot be found there")
        model, reactions = self._solver.model(), self._depth + 1
        steps = tuple(self._chosen(model, step) for step in range(reactions))
        end = self._waited(model, reactions) if self._late else Fraction(0)
        return settled(Found(steps, end), value)
