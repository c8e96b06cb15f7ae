"""Induction as an engine: an argument of one step, or of a few states in a row.

For a system without clocks it is k-induction with distinct states (unwinding.py), which for finite state
always ends. With clocks no k is ever enough, since delays can be cut smaller and smaller; there it is
one step from facts of simple shapes (templates.py), which are written down and proved again as those of
reachability are. Either way nothing is taken from the solver but numbers and facts.
"""

from __future__ import annotations

from prioritylogic.engines.bounded import Found as FoundRun
from prioritylogic.engines.bounded import rerun
from prioritylogic.engines.obligations import discharged
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.proving import Asking, proof, proved_again
from prioritylogic.engines.templates import clauses
from prioritylogic.engines.transition import Transition
from prioritylogic.engines.unwinding import Unwinding
from prioritylogic.evidence.words import counted
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.reference import Reference


class Inducting(Asking):
    """Proves by induction. Work is counted in Z3's resource units: of states in a row for each
    question, of template clauses for all together."""

    name = "induction"

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Looks for an argument; see the protocol."""
        transition = self.transition(number, whole)
        try:
            unwinding = Unwinding(transition)
        except Declined:
            facts = clauses(transition, work, self.limits)
            if facts is None:
                return Broken()
            texts, left = proved_again(transition, facts, self.limits)
            return proof(transition, self.system, texts, left)
        return self._unwound(unwinding, transition, work)

    def _unwound(self, unwinding: Unwinding, transition: Transition, work: int) -> Found:
        whole = transition.system is self.system
        found = unwinding.decided(work, self.limits)
        if isinstance(found, FoundRun):
            return Broken(rerun(Reference(self.system), found) if whole else None)
        part = "" if whole else " of the part that it depends on"
        states = "state" if found.k == 1 else "different state"
        reason = f"induction from {counted(found.k, states)} in a row{part}"
        unfinished = [o.name for o in unwinding.obligations(found.k) if not discharged(o, self.limits)]
        if unfinished:
            second = f"no second opinion, since cvc5 did not finish ({' and '.join(unfinished)})"
            return Unbroken(f"{reason}; {second}", reason)
        return Unbroken(f"{reason}; cvc5 proves the same", f"{reason}, and cvc5 proves it")
