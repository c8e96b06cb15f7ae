"""Lost events: a press that a rule reads and could have answered, in a reaction in which its machine
takes another rule, so that nothing ever answers it.

One rule for each machine and reaction makes this possible. A press (or release, or change) of a button
is lost in a reaction if some at-once rule that reads it was a candidate and is not taken, while no rule
taken reads that button. To *read* an event is to be able to become true by it: `not pressed(x)` reads
none. What remembers it (`pressed(x) within last T`) loses nothing. A rule that was merely offered does
not lose: whether it is offered is somebody's choice.

This file says what is lost in a recorded reaction, by the reference's own account of candidates.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Flag, Rule, RuleId, System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment

Verb: TypeAlias = Literal["press", "release", "change"]


@dataclass(frozen=True, slots=True)
class Contest:
    """An event that a rule may lose.

    Attributes:
        rule: the one that reads it.
        name, verb: the button, and what happens to it.
        rivals: rules that may be taken instead.
        answering: rules that read that button, too.
        matters: that without it the guard would not be true, where the text does not say so.
    """

    rule: Rule
    name: str
    verb: Verb
    rivals: frozenset[RuleId]
    answering: frozenset[RuleId]
    matters: Formula = f.TRUE

    @property
    def subject(self) -> str:
        """What findings are told apart by: all members of a family are one."""
        return f"{self.rule.family}:{self.name.partition('[')[0]}"

    @property
    def event(self) -> Formula:
        """That it happens."""
        now, was = f.Read(self.name), f.Read(self.name, True)
        match self.verb:
            case "press":
                return f.conjunction(now, f.negation(was), self.matters)
            case "release":
                return f.conjunction(f.negation(now), was, self.matters)
            case "change":
                return f.negation(f.Same(now, was))


def contests(system: System) -> list[Contest]:
    """Every event that some rule may lose, in the order of the rules."""
    buttons = {variable.name for variable in system.inputs if variable.domain == Flag("button")}
    rules = [rule for machine in system.machines for rule in machine.rules]
    named = {rule.id: _names(rule) for rule in rules}
    found = []
    for rule in rules:
        if rule.optional:
            continue
        rivals = frozenset(
            other.id for other in rules if other is not rule and _rivals(system, rule, other)
        )
        events: dict[tuple[str, Verb], Formula] = dict.fromkeys(_events(rule.guard, True), f.TRUE)
        for name in dict.fromkeys(_past(rule.guard)):
            for verb in ("press", "release"):  # as in `begins(a and b)`, or where presses are counted
                if (name, "change") not in events:
                    events.setdefault((name, verb), _needed(rule.guard, name))
        for (name, verb), matters in events.items():
            answering = frozenset(number for number, names in named.items() if name in names)
            if name in buttons and not rivals <= answering:
                found.append(Contest(rule, name, verb, rivals, answering, matters))
    return found


def _past(formula: Formula) -> Iterator[str]:
    """The names whose value before is read; what timed conditions read is remembered."""
    match formula:
        case f.Read(name, True):
            yield name
        case f.TimedRead():
            pass
        case _:
            for part in f.children(formula):
                yield from _past(part)


def _needed(formula: Formula, name: str) -> Formula:
    """That a formula would be false had a name been all the while as it is, or as it was."""
    now, was = f.Read(name), f.Read(name, True)
    as_it_is = f.replace(formula, lambda part: now if part == was else None)
    as_it_was = f.replace(formula, lambda part: was if part == now else None)
    return f.conjunction(f.negation(as_it_is), f.negation(as_it_was))


def lost(reference: Reference, moment: Moment, asked: list[Contest]) -> Iterator[Contest]:
    """What is lost in a recorded reaction."""
    if moment.before is None:
        return
    view = reference.reaction_view(moment)
    for contest in asked:
        if (
            contest.rule.id not in moment.taken
            and moment.taken.isdisjoint(contest.answering)
            and reference.candidate(contest.rule, moment)
            and reference.true(contest.event, view)
        ):
            yield contest


def _rivals(system: System, rule: Rule, other: Rule) -> bool:
    """Whether the other may be taken while this one is a candidate."""
    if rule.machine == other.machine:
        return bool(rule.sources & other.sources)
    return {rule.machine, other.machine} <= system.interleaved


def _names(rule: Rule) -> frozenset[str]:
    """Every name that a rule reads."""
    formulas = (rule.guard, *(right for _, right in rule.writes))
    return frozenset(
        part.name for formula in formulas for part in f.walk(formula) if isinstance(part, f.Read)
    )


def _events(formula: Formula, truer: bool) -> Iterator[tuple[str, Verb]]:
    """The changes of yes/no names that can make a formula true (`truer`; else false) at once."""
    match formula:
        case f.Not(f.Same(f.Read(name, False), f.Read(_, True))) if truer:
            yield name, "change"
        case f.Not(operand):
            yield from _events(operand, not truer)
        case f.All(parts) | f.Some(parts):
            if truer is isinstance(formula, f.All):
                yield from _edges(parts, truer)
            for part in parts:
                yield from _events(part, truer)
        case f.Choose(condition, then, other):
            yield from _events(condition, True)
            yield from _events(condition, False)
            yield from _events(then, truer)
            yield from _events(other, truer)
        case _:
            pass


def _edges(parts: tuple[Formula, ...], truer: bool) -> Iterator[tuple[str, Verb]]:
    """The presses and releases among joined parts (each of them turned, unless `truer`)."""
    joined = [part if truer else f.negation(part) for part in parts]
    for part in joined:
        match part:
            case f.Read(name, False) if f.Not(f.Read(name, True)) in joined:
                yield name, "press"
            case f.Not(f.Read(name, False)) if f.Read(name, True) in joined:
                yield name, "release"
            case _:
                pass
