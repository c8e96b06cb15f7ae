"""Cycles as an engine: which system is asked, the second opinion, and the run that is shown.

On a requirement's cone there are only more runs (cone.py), so what holds there holds. Fair rules bind
there only if the cone has all assumptions and memory: one left out may be what keeps a rule from being
taken, as it would break an assumption or end the run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from prioritylogic.engines.cone import cone
from prioritylogic.engines.cycles import Search, asked_of, bound
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options, Part
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.retracing import Retracing
from prioritylogic.engines.simplify import Patience, inputs_of, rerun, simplify
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.results import Trace
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Recoverable, Requirement, System
from prioritylogic.semantics.lasso import Lasso
from prioritylogic.semantics.state import Run


class Cycling:
    """Decides what is asked of runs without an end. Work is counted in states.

    Args:
        system: of the check.
        requirements: by number.
        limits: on work.
        options: switches of the reductions.
        whole: the whole system as a part.
    """

    name = "cycles"

    def __init__(
        self,
        system: System,
        requirements: list[Requirement],
        limits: Limits,
        options: Options,
        whole: Part,
    ) -> None:
        self.system = system
        self._requirements = requirements
        self._limits = limits
        self._options = options
        self._whole = whole

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Looks for a run without an end; see the protocol."""
        requirement = self._requirements[number]
        system = self.system if whole else self._cone(requirement)
        everything = (system.assumptions, system.memory)
        strong = everything == (self.system.assumptions, self.system.memory)
        with self._limits.at_most(work):
            asked = asked_of(self.system, requirement, strong)
            known = system is self.system and self._whole.reads(asked.formulas)
            table = self._whole.table if known else None
            search = Search(system, asked, self._limits, self._options, table)
            if not search.broken:
                return self._unbroken(search)
            if system is not self.system:
                return Broken()
            lasso = search.lasso()
            return Broken(lasso.run, shortest=False, lasso=lasso)

    def _cone(self, requirement: Requirement) -> System:
        """The part that it depends on; the whole where runs are asked what they can still do."""
        if not self._options.cones or isinstance(requirement.form, Recoverable):
            return self.system
        return cone(self.system, asked_of(self.system, requirement).formulas)

    def _unbroken(self, search: Search) -> Unbroken:
        whole = search.system is self.system
        if search.dense or search.own:
            alone = Part(search.system, {}, {}, self._limits, self._options, False)
            part = self._whole if whole else alone
            part.explore()
            confirmed = part.confirm()
        else:
            confirmed = Retracing(search).confirm()
        states = counted(len(search.product.parents), "state")
        states += "" if whole else " of the part that it depends on"
        states += ", on region clocks" if search.dense else ""
        brief = f"exhaustive over {states}"
        none = "" if search.counts else "; there is no such run at all"
        reason = f"{brief}: no run without an end that counts breaks it{none}; {confirmed}"
        return Unbroken(reason, brief, empty=not search.counts)

    def trace(self, requirement: Requirement, lasso: Lasso) -> Trace:
        """The run, as simple as it can be, judged by the reference. One from which something is never
        reached stays as it is: no judgement of a single run says whether another one would show it.

        Raises:
            DisagreementError: the reference does not see there what is claimed.
        """
        binding = bound(self.system, requirement)

        def good(lasso: Lasso) -> bool:
            return not any(lasso.flaws(requirement, binding, replayed=True))

        if lasso.mark is None and good(lasso):
            lasso = shortened(lasso, good, self._limits)
            run = simplify(
                lasso.reference, lasso.run, lambda run: good(replace(lasso, run=run)), self._limits
            )
            lasso = shortened(replace(lasso, run=run), good, self._limits)
        for flaw in lasso.flaws(requirement, binding):
            raise DisagreementError(f"{requirement.id}: the reference does not see this: {flaw}")
        failure = lasso.broken(requirement)
        assert failure is not None
        return Trace(lasso.run, failure.moment, failure.why, lasso.loop, at=failure.time)


def shortened(lasso: Lasso, good: Callable[[Lasso], bool], limits: Limits) -> Lasso:
    """A lasso without needless reactions: each is left out, the last one first, if what is left is still
    good; where a limit is reached, the shortest so far."""
    patience = Patience(limits)
    at = len(lasso.run.moments) - 1
    while at > 0:
        moments = lasso.run.moments[:at] + lasso.run.moments[at + 1 :]
        shorter = replace(lasso, run=Run(moments, lasso.run.end), loop=lasso.loop - (at < lasso.loop))
        shows = partial(_shows, shorter, good)
        try:
            run = rerun(
                lasso.reference, shorter.run, inputs_of(lasso.reference, shorter.run), shows, patience
            )
        except LimitError:
            break
        if run is not None:
            lasso = replace(shorter, run=run)
        at -= 1
    return lasso


def _shows(lasso: Lasso, good: Callable[[Lasso], bool], run: Run) -> bool:
    return good(replace(lasso, run=run))
