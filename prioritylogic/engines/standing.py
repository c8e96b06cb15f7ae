"""The questions that every spec is asked, put to the provers: for specs that exploring cannot read
exactly, or whose ticks are too many.

Most of them ask whether some reaction of a kind can be reached, so they are decided as requirements
are: an invariant that cvc5 proves again, or a shortest run on the reference. Two ask whether a state
can be left, and are only proved where the answer is plain:

* no *endless loop* where no chain of a few stutter reactions stays unsettled, from any state at all;
* no *stuck time* where nothing is assumed, memory stays in range, and from any state at all a few
  *calm* reactions (unchanged inputs, everything due expires, everything owed is taken) lead to one
  from which time can pass. Then something is always possible, too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import z3

from prioritylogic.engines.bounded import Unrolled, rerun
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.proving import MOST_REACTIONS, proved_again
from prioritylogic.engines.questions import Finding
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.solving import Translated, asked
from prioritylogic.engines.suspicions import Suspicion, any_of, either, reaches, suspicions, takes
from prioritylogic.engines.transition import Transition, Wrong
from prioritylogic.engines.unused import never_reached, never_taken, starts
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.model.system import RuleId, System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.symbolic import ReactionTerms, Symbolic
from prioritylogic.semantics.symbolic_time import StateTerms
from prioritylogic.semantics.terms import Term

WORK = 30_000_000  # Z3's resource units, for one question
MOST_CALM = 8  # reactions
MOST_LOOKED = 12  # reactions, for a rule that is taken and a state that is reached


@dataclass(frozen=True)
class Answered:
    """The answer to one question: why nothing (else) of the kind is there, or None if that is open."""

    reason: str | None
    found: tuple[Finding, ...] = ()
    stopped: LimitError | None = None


class Standing:
    """The standing questions of one system.

    Raises:
        Declined: the system cannot be put in terms.
    """

    def __init__(self, system: System, limits: Limits) -> None:
        self.system = system
        self._limits = limits
        self._reference = Reference(system)

    def answer(self, kinds: tuple[str, ...]) -> Answered:
        """The answer about findings of these kinds."""
        try:
            self._limits.check()
            return self._answer(kinds)
        except LimitError as stop:
            return Answered(None, (), stop)

    def _answer(self, kinds: tuple[str, ...]) -> Answered:
        if "endless-loop" in kinds:
            return self._proved(self._always_settles(), "no chain of stutter reactions goes on for long")
        if "stuck-time" in kinds:
            return self._proved(self._time_goes_on(), "a few calm reactions always let time pass")
        if "rule-never-taken" in kinds:
            return self._unused()
        found = [s for s in suspicions(self.system, self._reference) if s.kind in kinds]
        return self._decided(found)

    def _proved(self, holds: bool | LimitError, reason: str) -> Answered:
        if isinstance(holds, LimitError):
            return Answered(None, (), holds)
        return Answered(reason if holds else None)

    # ----------------------------------------------------------------- reachable reactions

    def _decided(self, asked: list[Suspicion]) -> Answered:
        """All at once first: most specs have nothing to find."""
        if not asked:
            return Answered("there is nothing of which it could be found")
        together = any_of(asked)
        reason = self._excluded(together)
        if reason is not None:
            return Answered(reason)
        found = []
        for suspicion in asked:
            if (finding := self._found(suspicion)) is not None:
                found.append(finding)
            elif self._excluded(suspicion.wrong) is None:
                raise LimitError("a reaction that shows it was looked for in vain")
        return Answered("each is proved, or shown by a run", tuple(found))

    def _excluded(self, wrong: Wrong) -> str | None:
        """Why no such reaction can be reached; None if some can."""
        transition = Transition(self.system, None, wrong)
        facts = invariant(transition, WORK, self._limits)
        if facts is None:
            return None
        _, left = proved_again(transition, facts, self._limits)
        second = "cvc5 did not finish" if left else "cvc5 proves the same"
        return f"an inductive invariant excludes it; {second}"

    def _found(self, suspicion: Suspicion) -> Finding | None:
        """The shortest run to such a reaction."""
        transition = Transition(self.system, None, suspicion.wrong)
        found = Unrolled(transition, WORK, self._limits).first(MOST_REACTIONS)
        if found is None:
            return None
        run = rerun(self._reference, found)
        finding = suspicion.told(run.moments[-1])
        if finding is None:
            raise DisagreementError(f"the reference does not see the {suspicion.kind} at the run's end")
        return replace(finding, run=run)

    # ----------------------------------------------------------------- what never happens

    def _unused(self) -> Answered:
        """Rules never taken and states never reached. Runs are looked for that show as many as may be;
        of what is left it must be proved that no run does."""
        system = self.system
        rules = [rule.id for machine in system.machines for rule in machine.rules]
        states = [(machine.name, state) for machine in system.machines for state in machine.states]
        taken: set[RuleId] = set()
        reached = starts(system)
        while True:
            idle = [rule for rule in rules if rule not in taken]
            missing = [state for state in states if state not in reached]
            wrong = either(takes(idle), reaches(missing))
            transition = Transition(system, None, wrong)
            found = (
                Unrolled(transition, WORK, self._limits).first(MOST_LOOKED) if idle or missing else None
            )
            if found is None:
                break
            for moment in rerun(self._reference, found).moments:
                named = self._reference.named(moment.after)
                taken |= moment.taken
                reached |= {(machine.name, str(named[machine.name])) for machine in system.machines}
        reason = "each is taken and reached in some run"
        if idle or missing:
            proof = self._excluded(wrong)
            if proof is None:
                raise LimitError("a run that takes a rule or reaches a state was looked for in vain")
            reason = proof
        return Answered(reason, (*never_taken(system, taken, reached), *never_reached(system, reached)))

    # ----------------------------------------------------------------- ways on

    def _always_settles(self) -> bool | LimitError:
        """Whether no chain of a few stutters stays unsettled."""
        return self._short(
            lambda symbolic, reaction: _unchanged(symbolic, reaction, expire=False),
            lambda symbolic, state: symbolic.terms.negation(symbolic.settled(state)),
        )

    def _time_goes_on(self) -> bool | LimitError:
        """Whether a few calm reactions always lead to where time can pass."""
        if any(assumption.holds is not None for assumption in self.system.assumptions):
            return False
        ranges = [s for s in suspicions(self.system, self._reference) if s.kind == "value-out-of-range"]
        try:
            if ranges and self._excluded(any_of(ranges)) is None:
                return False
        except LimitError as stop:
            return stop
        return self._short(
            lambda symbolic, reaction: _unchanged(symbolic, reaction, expire=True),
            lambda symbolic, state: symbolic.terms.negation(_free(symbolic, state)),
        )

    def _short(
        self,
        calm: Callable[[Symbolic, ReactionTerms], Term],
        stays: Callable[[Symbolic, StateTerms], Term],
    ) -> bool | LimitError:
        """Whether every chain of such reactions, from any state, soon leaves the states that stay."""
        transition = Transition(self.system, None)
        symbolic, t = transition.symbolic, transition.terms
        reaction = symbolic.reaction(symbolic.state)
        allowed = t.all(*reaction.allowed, *reaction.in_range, calm(symbolic, reaction))
        staying = stays(symbolic, symbolic.state)
        known = t.all(*symbolic.typing, *symbolic.bounds, staying)
        context = z3.Context()
        translated, solver = Translated(context), z3.Solver(ctx=context)
        solver.set("rlimit", WORK)
        solver.set("ctrl_c", False)
        try:
            for step in range(MOST_CALM):
                solver.add(translated.of(known, f"{step}:"))
                answer = asked(context, self._limits, solver.check)
                if answer != z3.sat:
                    return bool(answer == z3.unsat)
                solver.add(translated.of(allowed, f"{step}:"))
                for name, variable in symbolic.variables.items():
                    after = translated.of(reaction.after[name], f"{step}:")
                    solver.add(translated.of(variable, f"{step + 1}:") == after)
        except LimitError as stop:
            return stop
        return False


def _unchanged(symbolic: Symbolic, reaction: ReactionTerms, expire: bool) -> Term:
    """The inputs stay; nothing expires and nothing is offered, or (`expire`) everything that is due
    expires and everything that is owed is taken, unless another rule is."""
    t, system, state = symbolic.terms, symbolic.system, symbolic.state
    parts = [
        symbolic.same(reaction.scene.now[variable.name], state.values[variable.name])
        for variable in system.inputs
    ]
    parts += [t.implies(due, gone) if expire else t.negation(gone) for due, gone in reaction.due]
    for machine in system.machines:
        taken = [reaction.scene.taken[rule.id] for rule in machine.rules]
        for rule in machine.rules:
            owed = rule.takes is not None and rule.takes.high is not None
            if rule.optional and not (expire and owed):
                parts.append(t.negation(reaction.scene.taken[rule.id]))
            elif rule.optional and machine.name not in system.interleaved:  # else it may have to wait
                parts.append(t.implies(reaction.takeable[rule.id], t.any(*taken)))
    return t.all(*parts)


def _free(symbolic: Symbolic, state: StateTerms) -> Term:
    """Whether some time may pass: it is settled, and each figure that time may not pass lies ahead."""
    t = symbolic.terms
    ahead = [
        t.implies(running, t.below(clock, t.const(figure)))
        for running, clock, figure, _ in symbolic.limits(state)
    ]
    return t.all(symbolic.settled(state), *ahead)
