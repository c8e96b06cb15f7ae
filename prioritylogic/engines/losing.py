"""Lost events, looked for on what was explored; semantics/losing.py says what they are.

Only courses in which another rule of the machine is taken are looked at, and only there it is asked
whether the loser's guard is true and the event happens.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.parts import CompiledRule
from prioritylogic.engines.questions import Finding, courses, path_to
from prioritylogic.engines.reacting import Course
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import System
from prioritylogic.semantics.compile import Evaluate
from prioritylogic.semantics.losing import Contest, contests


def event_facts(system: System) -> tuple[Formula, ...]:
    """The formulas of the events that may be lost."""
    return tuple(contest.event for contest in contests(system))


def lost_events(explorer: Explorer) -> Iterator[Finding]:
    """A press that a rule could have answered, while its machine takes one that does not read it."""
    parts = explorer.table.parts
    asked = [(c, parts.compiler.function(c.event)) for c in contests(explorer.table.system)]
    told: set[str] = set()
    for node, course in courses(explorer):
        for contest, event in asked if not course.first else ():
            rule = _loser(explorer, contest, course) if contest.subject not in told else None
            if rule is None:
                continue
            for happens, oracle in explorer.table.read(course, partial(_happens, rule, event, course)):
                if happens:
                    told.add(contest.subject)
                    finding = told_lost(contest, course.taken)
                    yield replace(finding, path=path_to(explorer, node, course, oracle))
                    break


def _loser(explorer: Explorer, contest: Contest, course: Course) -> CompiledRule | None:
    """The rule, if it may have been a candidate, and another one was taken that answers nothing."""
    rule, taken = contest.rule, course.taken
    if rule.id in taken or taken.isdisjoint(contest.rivals) or taken & contest.answering:
        return None
    parts = explorer.table.parts
    number = parts.machine_numbers[rule.machine]
    here = course.before.values[number]
    compiled = next((r for r in parts.rules[rule.machine, here][0] if r.rule is rule), None)
    if compiled is None:
        return None
    expired = course.before.expired[number]
    expired += sum(timer.kind == "stay" and timer.name == rule.machine for timer in course.expired)
    return compiled if not compiled.needs or expired >= compiled.needs[here] else None


def _happens(rule: CompiledRule, event: Evaluate, course: Course) -> bool:
    return bool(event(course.reaction)) and bool(rule.guard(course.reaction))


def told_lost(contest: Contest, taken: frozenset[str]) -> Finding:
    """What is said of an event that is lost."""
    rule = contest.rule
    winners = " and ".join(sorted(taken & contest.rivals))
    message = (
        f"a {contest.verb} of {contest.name} can be lost: {rule.id} reads it and could be taken, but "
        f"{winners} is taken in that reaction, and no rule taken reads {contest.name}"
    )
    return Finding("lost-event", contest.subject, "warning", message, rule.span)
