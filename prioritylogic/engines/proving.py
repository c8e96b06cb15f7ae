"""The two engines that ask Z3: an inductive invariant, and a shortest run.

Both see dense time and analog figures as they are. What the first finds is written down in the spec's
words, thinned, read back, and proved again by cvc5 from what was read; what the second finds is run on
the reference.
"""

from __future__ import annotations

from collections.abc import Mapping

from prioritylogic.engines.bounded import Unrolled, rerun
from prioritylogic.engines.cone import cone, influences
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.merging import merged
from prioritylogic.engines.obligations import discharged, obligations
from prioritylogic.engines.part import Options
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.thinning import thinned
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Requirement, System
from prioritylogic.requirements.observer import Observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.terms import Term

MOST_REACTIONS = 60  # of a run that is looked for


def proved_again(
    transition: Transition, facts: list[Term], limits: Limits
) -> tuple[tuple[str, ...], list[str]]:
    """An invariant as it is written down, and the obligations that cvc5 did not finish.

    Raises:
        DisagreementError: cvc5 refutes one.
    """
    lemmas = Lemmas(transition)
    needed = merged(transition, thinned(transition, facts, limits))
    texts = tuple(lemmas.written(fact) for fact in needed)
    read = [lemmas.read(text) for text in texts]
    left: list[str] = [o.name for o in obligations(transition, read) if not discharged(o, limits)]
    return texts, left


def proof(transition: Transition, whole: System, texts: tuple[str, ...], left: list[str]) -> Unbroken:
    """What is said of an invariant, as it is written down, with the obligations that are left."""
    part = "" if transition.system is whole else " of the part that it depends on"
    found, brief = f"no step from any state{part} breaks it", "no step from any state breaks it"
    if texts:
        found = f"an inductive invariant of {counted(len(texts), 'fact')}"
        found += part.replace("of", "about", 1)
        brief = "it has an inductive invariant"
    if left:
        second = f"no second opinion, since cvc5 did not finish ({' and '.join(left)})"
    else:
        second = "cvc5 proves the same" + (" from the facts as they are written" if texts else "")
        brief += ", and cvc5 proves it"
    return Unbroken(f"{found}; {second}", brief, texts)


class Asking:
    """What engines that prove have in common: the questions as terms."""

    def __init__(
        self,
        system: System,
        requirements: list[Requirement],
        observers: Mapping[int, Observer],
        limits: Limits,
        options: Options,
    ) -> None:
        self.system = system
        self.requirements = requirements
        self.limits = limits
        self._observers = observers
        self._cones = options.cones
        self._influences = influences(system)

    def transition(self, number: int, whole: bool) -> Transition:
        """One question about the whole system, or the requirement's cone."""
        observer = self._observers[number]
        formulas = [fact.formula for fact in observer.facts]
        part = self.system
        if self._cones and not whole:
            part = cone(self.system, formulas, self._influences)
        return Transition(part, observer)


class Reaching(Asking):
    """Proves by an inductive invariant. Work is counted in Z3's resource units."""

    name = "reachability"

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Looks for an invariant; see the protocol."""
        transition = self.transition(number, whole)
        facts = invariant(transition, work, self.limits)
        if facts is None:
            return Broken()
        texts, left = proved_again(transition, facts, self.limits)
        return proof(transition, self.system, texts, left)


class Bounded(Asking):
    """Looks for the shortest run that breaks it. Work is counted in Z3's resource units, for each
    question asked of it."""

    name = "bounded search"

    def __init__(self, *args: object) -> None:
        super().__init__(*args)  # type: ignore[arg-type]
        self._reference = Reference(self.system)

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Unrolls; see the protocol."""
        if not whole:
            raise Declined("a run of a part is no run of the whole")
        found = Unrolled(self.transition(number, True), work, self.limits).first(MOST_REACTIONS)
        if found is None:
            raise LimitError(f"no run of up to {MOST_REACTIONS} reactions breaks it")
        return Broken(rerun(self._reference, found))
