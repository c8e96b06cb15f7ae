"""Proof obligations: what must be true for a fact to be an inductive invariant that is enough.

    starts true       the reaction at time 0 breaks nothing, and leaves a state that has the facts
    stays true        from a state with the facts, a step that goes well leaves a state with the facts
    is enough         from a state with the facts, no step goes wrong

Each is a script in SMT-LIB that asks for a counterexample; all three must be unsatisfiable. The facts
of a state's kind and of its clocks (`Transition.typing`, `bounds`) are among what is proved, so they
are taken on trust nowhere. The scripts are answered by cvc5, which had no part in finding the facts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from prioritylogic.engines.limits import Limits
from prioritylogic.engines.transition import Step, Transition
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.semantics.smtlib import script
from prioritylogic.semantics.terms import Term

Name = Literal["starts true", "stays true", "is enough"]
WORK = 500_000  # cvc5's own units, for one script; most take a few thousand


@dataclass(frozen=True, slots=True)
class Obligation:
    """One script; it must be unsatisfiable."""

    name: Name
    text: str


def obligations(transition: Transition, facts: list[Term]) -> tuple[Obligation, ...]:
    """The three obligations of these facts."""
    t, start, step = transition.terms, transition.start, transition.step
    invariant = t.all(*transition.typing, *transition.bounds, *facts)

    def leaves(part: Step) -> Term:
        """That the state after it has not all of the facts."""
        (after,) = t.substitute([invariant], {n: part.after[n] for n in transition.everything})
        return t.negation(after)

    starts = [start.allowed, start.in_range, t.negation(start.broken)]
    stays = [invariant, step.allowed, step.in_range, t.negation(step.broken), t.negation(step.late)]
    wrong = t.any(
        t.all(start.allowed, start.broken),
        t.all(invariant, step.passing, step.late),
        t.all(invariant, step.allowed, step.broken),
    )
    return (
        Obligation("starts true", script([*starts, leaves(start)])),
        Obligation("stays true", script([*stays, leaves(step)])),
        Obligation("is enough", script([wrong])),
    )


def discharged(obligation: Obligation, limits: Limits) -> bool | None:
    """Whether cvc5 proves it; None if it did not finish within its work.

    Raises:
        DisagreementError: cvc5 has a counterexample.
        LimitError: the time is over.
    """
    import cvc5

    stopped: list[BaseException] = []

    class Watch(cvc5.Plugin):  # type: ignore[misc]
        """Runs now and then while cvc5 searches, which else hears of nothing until it is done."""

        def check(self) -> list[object]:
            try:
                limits.check()
            except LimitError as stop:
                stopped.append(stop)
                raise
            return []

        def getName(self) -> str:  # noqa: N802 - cvc5's name
            return "limits"

        def notifySatClause(self, clause: object) -> None:  # noqa: N802
            """Of no interest."""

        def notifyTheoryLemma(self, lemma: object) -> None:  # noqa: N802
            """Of no interest."""

    limits.check()
    manager = cvc5.TermManager()
    solver, watch = cvc5.Solver(manager), Watch(manager)
    solver.addPlugin(watch)
    solver.setOption("rlimit-per", str(WORK))
    parser = cvc5.InputParser(solver)
    parser.setStringInput(cvc5.InputLanguage.SMT_LIB_2_6, obligation.text, obligation.name)
    said = ""
    try:
        symbols = parser.getSymbolManager()
        while not (command := parser.nextCommand()).isNull():
            said += command.invoke(solver, symbols)
    except RuntimeError as error:
        said = str(error)
    if stopped:
        raise stopped[0]
    if "KeyboardInterrupt" in said:  # an exception in a plugin comes out as text
        raise KeyboardInterrupt
    limits.check()
    match said.strip().partition(" ")[0]:
        case "unsat":
            return True
        case "unknown":
            return None
        case "sat":
            wrong = f"refutes an invariant: it is not so that it {obligation.name}"
        case _:
            wrong = f"cannot read what it is asked: {said.strip()[:200]}"
    raise DisagreementError(f"the second solver {wrong}")
