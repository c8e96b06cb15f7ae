"""One requirement for all values of a setting in a cell, where the spec reads the same (ranges.py).

The setting is a variable that no step changes. An invariant proves the requirement for all its values
at once, and cvc5 proves the invariant again from what is written down of it. Where there is none, some
run goes wrong for some value; bounded search gives the intervals for which runs go wrong in the same way
(failing.py). They are taken out, and what is left is asked about again, until nothing is left or the
work is done. Work is counted in solver steps, so the answer is the same everywhere.
"""

from __future__ import annotations

from typing import NamedTuple

from prioritylogic.engines.cone import cone
from prioritylogic.engines.deciding import MUCH, SOME, undecided_reason
from prioritylogic.engines.failing import MOST_REACTIONS, Confirm, Failing
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.proving import proved_again
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.ranges import Ground
from prioritylogic.evidence.results import Verdict
from prioritylogic.evidence.words import counted
from prioritylogic.model.intervals import Interval, all_without
from prioritylogic.model.ranged import Ranged
from prioritylogic.model.system import Possible, Requirement, System
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.parametric import ParametricTerms

MOST_ROUNDS = 40  # of looking for runs


class Known(NamedTuple):
    """A verdict for some values."""

    verdict: Verdict
    ground: Ground


class Cellwise:
    """One requirement of a system that is read with the setting unknown.

    Args:
        setting: which.
        system: with figures that are lines over the setting.
        requirement: of that system.
        bound: an assumed answer that the requirement names, or "".
        confirm: takes a run at a value on the reference.
        limits: on time and memory.
        among: values that the cell is part of. Making this is part of reading: it narrows the cell.

    Raises:
        Declined: the provers cannot read it.
    """

    def __init__(
        self,
        setting: Ranged,
        system: System,
        requirement: Requirement,
        bound: str,
        confirm: Confirm,
        limits: Limits,
        among: Interval,
    ) -> None:
        watching = observer(requirement)
        assert watching is not None
        self._setting = setting
        self._requirement = requirement
        self._bound = bound
        self._confirm = confirm
        self._limits = limits
        self._observer = watching
        part = cone(system, [fact.formula for fact in watching.facts])
        self._systems = (part,) if part is system else (part, system)
        for each in self._systems:
            self._transition(each, among)
        self._stops: dict[str, None] = {}
        self._final: LimitError | None = None

    def _transition(self, system: System, among: Interval) -> Transition:
        setting = self._setting
        terms = ParametricTerms(setting.name, setting.unit, setting.factor, among)
        return Transition(system, self._observer, terms=terms)

    def answered(self, cell: Interval) -> list[Known]:
        """The verdicts for all values of a cell.

        Raises:
            DisagreementError: what is proved is refuted, or a run that is found is none.
        """
        possible = isinstance(self._requirement.form, Possible)
        found: list[Known] = []
        whole = self._transition(self._systems[-1], cell)
        failing = Failing(whole, SOME, self._limits, self._confirm, self._setting.grain)
        left, work = [cell], SOME
        for _ in range(MOST_ROUNDS):
            proved = {values: self._proved(values, work) for values in left}
            found += [
                Known("fails" if possible else "holds", ground) for ground in proved.values() if ground
            ]
            left = [values for values, ground in proved.items() if ground is None]
            if not left:
                break
            runs = self._runs(failing, left)
            found += [self._broken(values, possible) for values in runs]
            rest = all_without(left, runs)
            if any(all_without(runs, left)):
                raise DisagreementError(
                    f"{self._requirement.id}: a run goes wrong where it is proved that none does"
                )
            if not runs and work == MUCH:
                break
            left, work = rest, work if runs else MUCH
        reason = "; ".join([*self._stops, "a narrower range or a smaller spec would help"])
        if self._final is not None:
            reason = undecided_reason(self._final)
        return found + [Known("undecided", Ground(values, "none", reason)) for values in left]

    def _stop(self, engine: str, stop: LimitError) -> None:
        """Notes what stopped an engine."""
        self._stops[f"{engine}: {stop}"] = None
        self._final = stop if stop.final else self._final

    def _broken(self, values: Interval, possible: bool) -> Known:
        way = "one way to get there" if possible else "one way to break it"
        if self._bound:
            why = f"there is {way}, but whether {self._bound} holds in such a run is not asked here"
            return Known("undecided", Ground(values, "none", why))
        reason = f"{way} for all values, with other lengths of time; replayed at both ends"
        return Known("holds" if possible else "fails", Ground(values, "bounded search", reason))

    def _proved(self, values: Interval, work: int) -> Ground | None:
        """A proof for all of these values, if there is one."""
        for system in self._systems:
            transition = self._transition(system, values)
            try:
                facts = invariant(transition, work, self._limits)
                if facts is None:
                    continue
                texts, left = proved_again(transition, facts, self._limits)
            except LimitError as stop:
                self._stop("reachability", stop)
                continue
            proof = f"an inductive invariant of {counted(len(texts), 'fact')}"
            second = "cvc5 did not finish the second opinion" if left else "cvc5 proves the same"
            reason = f"{proof if texts else 'no step from any state breaks it'}; {second}"
            return Ground(values, "reachability", reason, texts)
        return None

    def _runs(self, failing: Failing, among: list[Interval]) -> list[Interval]:
        """Values for which runs go wrong."""
        try:
            runs = failing.intervals(among)
        except LimitError as stop:
            self._stop("bounded search", stop)
            return []
        if not runs:
            self._stops[f"bounded search: no run of up to {MOST_REACTIONS} reactions breaks it"] = None
        return runs
