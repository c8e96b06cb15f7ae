"""What may be found in a reaction of a system, as terms: ties, clashes, values out of range, assumptions
that are not true at rest, tables of cases with gaps or overlaps, lost events. And what is missing if no
reaction shows it: a rule that is taken, a state that is reached.

The same as the explorer looks for in `questions.py`, whose words it uses. One suspicion stands for all
members of a family.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from prioritylogic.engines.losing import told_lost
from prioritylogic.engines.questions import (
    Finding,
    is_open,
    told_assumption,
    told_cases,
    told_range,
    told_tie,
)
from prioritylogic.engines.transition import Wrong
from prioritylogic.model import formula as f
from prioritylogic.model.system import Assumption, Cases, Rule, RuleId, System
from prioritylogic.semantics.compile import plain
from prioritylogic.semantics.losing import Contest, contests, lost
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment
from prioritylogic.semantics.symbolic import ReactionTerms, Symbolic
from prioritylogic.semantics.terms import Term


@dataclass(frozen=True)
class Suspicion:
    """Something that may be found: what it is, as a term of a reaction, and what is said of a reaction
    that shows it (None: it does not)."""

    kind: str
    wrong: Wrong
    told: Callable[[Moment], Finding | None]


def suspicions(system: System, reference: Reference) -> Iterator[Suspicion]:
    """Everything that may be found in a reaction."""
    yield from _conflicts(system)
    yield from _clashes(system)
    for memory in system.memory:
        yield _range(system, memory.name)
    for assumption in system.assumptions:
        if assumption.holds is not None and not plain(assumption.holds):
            yield _at_rest(assumption)
    for cases in filter(is_open, system.cases):
        yield from _cases(cases, reference)
    yield from _lost_events(system, reference)


def _told_ties(system: System, kind: str, subject: str) -> Callable[[Moment], Finding | None]:
    def told(moment: Moment) -> Finding | None:
        findings = (
            told_tie(system, tie) for tie in sorted(moment.ties, key=lambda t: (t.rules, t.memory))
        )
        return next((f for f in findings if (f.kind, f.subject) == (kind, subject)), None)

    return told


def _conflicts(system: System) -> Iterator[Suspicion]:
    """One for each pair of families of at-once rules that may tie."""
    pairs: dict[str, list[tuple[Rule, Rule]]] = {}
    for machine in system.machines:
        at_once = [rule for rule in machine.rules if not rule.optional]
        for one, other in combinations(at_once if not machine.tie_either else (), 2):
            if one.sources & other.sources:
                pairs.setdefault("+".join(sorted((one.family, other.family))), []).append((one, other))
    for subject, rules in pairs.items():

        def tie(symbolic: Symbolic, reaction: ReactionTerms, rules=rules) -> Term:  # type: ignore[no-untyped-def]
            t = symbolic.terms
            return t.any(
                *(
                    t.all(
                        reaction.takeable[one.id],
                        reaction.takeable[other.id],
                        t.any(reaction.scene.taken[one.id], reaction.scene.taken[other.id]),
                        _differ(symbolic, reaction, one, other),
                    )
                    for one, other in rules
                )
            )

        yield Suspicion("rule-conflict", tie, _told_ties(system, "rule-conflict", subject))


def _differ(symbolic: Symbolic, reaction: ReactionTerms, one: Rule, other: Rule) -> Term:
    """Whether two rules would do different things."""
    t = symbolic.terms
    here, there = reaction.written[one.id], reaction.written[other.id]
    if one.target != other.target or set(here) != set(there):
        return t.true
    return t.any(*(t.negation(symbolic.same(here[name], there[name])) for name in here))


def _clashes(system: System) -> Iterator[Suspicion]:
    """One for each memory name and pair of families of different machines that may clash on it."""
    writers: dict[str, list[Rule]] = {}
    for machine in system.machines:
        for rule in machine.rules:
            for name, _ in rule.writes:
                writers.setdefault(name, []).append(rule)
    pairs: dict[str, list[tuple[str, Rule, Rule]]] = {}
    for name, rules in writers.items():
        for one, other in combinations(rules, 2):
            if one.machine != other.machine:
                subject = f"{name}:{'+'.join(sorted((one.family, other.family)))}"
                pairs.setdefault(subject, []).append((name, one, other))
    for subject, found in pairs.items():

        def clash(symbolic: Symbolic, reaction: ReactionTerms, found=found) -> Term:  # type: ignore[no-untyped-def]
            t, taken = symbolic.terms, reaction.scene.taken
            return t.any(
                *(
                    t.all(
                        taken[one.id],
                        taken[other.id],
                        t.negation(
                            symbolic.same(
                                reaction.written[one.id][name], reaction.written[other.id][name]
                            )
                        ),
                    )
                    for name, one, other in found
                )
            )

        yield Suspicion("write-clash", clash, _told_ties(system, "write-clash", subject))


def _range(system: System, name: str) -> Suspicion:
    def outside(symbolic: Symbolic, reaction: ReactionTerms) -> Term:
        inside = symbolic.inside(system.domain(name), reaction.scene.now[name])
        return symbolic.terms.negation(inside)

    def told(moment: Moment) -> Finding | None:
        return told_range(system, name, moment.taken) if moment.out_of_range else None

    return Suspicion("value-out-of-range", outside, told)


def _at_rest(assumption: Assumption) -> Suspicion:
    holds = assumption.holds
    assert holds is not None

    def false_at_rest(symbolic: Symbolic, reaction: ReactionTerms) -> Term:
        return symbolic.terms.negation(symbolic.true(holds, symbolic.rest_after(reaction)))

    return Suspicion("assumption-not-at-rest", false_at_rest, lambda _: told_assumption(assumption))


def _cases(cases: Cases, reference: Reference) -> Iterator[Suspicion]:
    def told(moment: Moment) -> Finding | None:
        view = reference.reaction_view(moment)
        true = [n for n, when in enumerate(cases.whens) if reference.true(when, view)]
        values = [reference.value(value, view) for value in cases.values]
        if not true:
            return told_cases(cases, ()) if len(values) == len(cases.whens) else None
        other = next((n for n in true[1:] if values[n] != values[true[0]]), None)
        return None if other is None else told_cases(cases, (true[0], other))

    def whens(symbolic: Symbolic, reaction: ReactionTerms) -> list[Term]:
        return [symbolic.true(when, reaction.scene) for when in cases.whens]

    def gap(symbolic: Symbolic, reaction: ReactionTerms) -> Term:
        return symbolic.terms.negation(symbolic.terms.any(*whens(symbolic, reaction)))

    def overlap(symbolic: Symbolic, reaction: ReactionTerms) -> Term:
        t, true, parts = symbolic.terms, whens(symbolic, reaction), []
        values = [symbolic.value(value, reaction.scene) for value in cases.values]
        for one, other in combinations(range(len(true)), 2):
            first = t.all(true[one], *(t.negation(earlier) for earlier in true[:one]))
            parts.append(
                t.all(first, true[other], t.negation(symbolic.same(values[one], values[other])))
            )
        return t.any(*parts)

    if len(cases.values) == len(cases.whens):
        yield Suspicion("cases-gap", gap, told)
    yield Suspicion("cases-overlap", overlap, told)


def _lost_events(system: System, reference: Reference) -> Iterator[Suspicion]:
    """One for each family of rules and buttons of which an event may be lost."""
    subjects: dict[str, list[Contest]] = {}
    for contest in contests(system):
        subjects.setdefault(contest.subject, []).append(contest)
    for asked in subjects.values():

        def loses(symbolic: Symbolic, reaction: ReactionTerms, asked=asked) -> Term:  # type: ignore[no-untyped-def]
            t, taken = symbolic.terms, reaction.scene.taken
            return t.any(
                *(
                    t.all(
                        reaction.enabled[contest.rule.id],
                        symbolic.true(contest.event, reaction.scene),
                        *(t.negation(taken[rule]) for rule in sorted(contest.answering)),
                        t.negation(taken[contest.rule.id]),
                    )
                    for contest in asked
                )
            )

        def told(moment: Moment, asked=asked) -> Finding | None:  # type: ignore[no-untyped-def]
            found = next(lost(reference, moment, asked), None)
            return None if found is None else told_lost(found, moment.taken)

        yield Suspicion("lost-event", loses, told)


def takes(rules: Iterable[RuleId]) -> Wrong:
    """That one of these rules is taken."""
    wanted = tuple(rules)
    return lambda symbolic, reaction: symbolic.terms.any(*(reaction.scene.taken[r] for r in wanted))


def reaches(states: Iterable[tuple[str, str]]) -> Wrong:
    """That some machine is in one of these states of it."""
    formulas = [f.Same(f.Read(machine), f.Const(state)) for machine, state in states]

    def reached(symbolic: Symbolic, reaction: ReactionTerms) -> Term:
        return symbolic.terms.any(*(symbolic.true(part, reaction.scene) for part in formulas))

    return reached


def any_of(asked: list[Suspicion]) -> Wrong:
    """That any of them is found."""
    return either(*(suspicion.wrong for suspicion in asked))


def either(*wrongs: Wrong) -> Wrong:
    """That one of several things comes about."""
    return lambda symbolic, reaction: symbolic.terms.any(*(w(symbolic, reaction) for w in wrongs))
