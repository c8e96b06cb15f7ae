"""What an explanation says of a proof, held against cvc5 on random systems: the facts named are enough for
each step of the argument, and a fact is at stake in no other steps than it says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from compare import Case, cases

import prioritylogic
from prioritylogic.engines.cone import cone, influences
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.obligations import Obligation, discharged
from prioritylogic.engines.transition import Transition
from prioritylogic.evidence.explanation import Proof
from prioritylogic.model.system import Requirement
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.smtlib import script
from prioritylogic.semantics.terms import Term

SYSTEMS = 12


def transition_of(case: Case, requirement: Requirement) -> Transition:
    watching = observer(requirement)
    assert watching is not None
    formulas = [fact.formula for fact in watching.facts]
    return Transition(cone(case.system, formulas, influences(case.system)), watching)


def impossible(transition: Transition, proof: Proof) -> Iterator[tuple[str, list[Term]]]:
    """What the explanation says can never be."""
    t, step, start = transition.terms, transition.step, transition.start
    lemmas = Lemmas(transition)
    facts = [lemmas.read(fact.text) for fact in proof.facts]
    known = [*transition.typing, *transition.bounds]
    well = [step.allowed, step.in_range, t.negation(step.broken), t.negation(step.late)]
    taken = step.reaction.scene.taken

    def after(fact: Term, part_after: dict[str, Term]) -> Term:
        (moved,) = t.substitute([fact], part_after)
        return moved

    later = {name: step.after[name] for name in transition.variables}
    first = {name: start.after[name] for name in transition.variables}
    for number, (fact, told) in enumerate(zip(facts, proof.facts, strict=True)):
        given = [facts[n - 1] for n in told.needs] + [fact]
        yield "stays", [*known, *given, *well, t.negation(after(fact, later))]
        if told.starts:
            part = lemmas.read(told.starts)
            begins = [start.allowed, start.in_range, t.negation(start.broken)]
            yield "starts", [*begins, t.negation(after(part, first))]
        parts = fact.args if fact.op == "or" else (fact,)
        kept = t.any(*(t.all(part, after(part, later)) for part in parts))
        unsaid = [t.negation(taken[rule]) for rule in told.risks]
        unsaid += [t.any(*taken.values())] if told.at_rest else []
        yield "at stake", [*known, *facts, *well, *unsaid, t.negation(kept)]
        assert number + 1 not in told.needs
    wrong = t.any(t.all(step.passing, step.late), t.all(step.allowed, step.broken))
    yield "enough", [*known, *(facts[n - 1] for n in proof.enough), wrong]


@pytest.mark.parametrize("stretch", [311])
def test_what_is_said_of_a_proof_is_so(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in cases(stretch, SYSTEMS):
        asked = [requirement.id for requirement in case.system.requirements]
        result = prioritylogic.check(case.system, explain=asked)
        for requirement, answer in zip(case.system.requirements, result.requirements, strict=True):
            proof = answer.explanation
            if not isinstance(proof, Proof) or not proof.facts:
                continue
            transition = transition_of(case, requirement)
            for name, terms in impossible(transition, proof):
                claim = Obligation("is enough", script(terms))
                assert discharged(claim, Limits()), (name, answer, case.system.text)
                seen[name] += 1
            if proof.blocking is not None:
                assert proof.blocking.excluded, (answer, case.system.text)
                seen["blocking"] += 1
    assert min(seen[name] for name in ("stays", "starts", "at stake", "enough", "blocking")) >= 8, seen
