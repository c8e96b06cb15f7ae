"""Rules that no run ever takes, and states that no run ever reaches.

Both are read off what was explored, and only from an exploration that is complete: what is missing then
is missing from every run. All members of a family are told as one; else each by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.questions import Finding, courses
from prioritylogic.model.system import Machine, Rule, RuleId, System

State = tuple[str, str]  # of a machine


def unused(explorer: Explorer) -> Iterator[Finding]:
    """Rules never taken and states never reached. Requires a complete exploration."""
    system = explorer.table.system
    taken: set[RuleId] = set()
    reached = starts(system)
    for _, course in courses(explorer):
        taken |= course.taken
        reached.update(zip((m.name for m in system.machines), course.after.values, strict=False))
    yield from never_taken(system, taken, reached)
    yield from never_reached(system, reached)


def starts(system: System) -> set[State]:
    """The states in which the machines start; they count as reached."""
    return {(machine.name, machine.start) for machine in system.machines}


def never_taken(system: System, taken: set[RuleId], reached: set[State]) -> Iterator[Finding]:
    """What is said of rules that are not among those taken."""
    rules = [rule for machine in system.machines for rule in machine.rules]
    for family in dict.fromkeys(rule.family for rule in rules):
        members = [rule for rule in rules if rule.family == family]
        idle = [rule for rule in members if rule.id not in taken]
        told = [(family, idle)] if len(idle) == len(members) else [(rule.id, [rule]) for rule in idle]
        for subject, named in told:
            if named:
                message = f"no run ever takes {subject}: {_why(named, reached)}"
                yield Finding("rule-never-taken", subject, "warning", message, named[0].span)


def _why(rules: list[Rule], reached: set[State]) -> str:
    """Why no run takes any of these, as far as it is plain."""
    places = [(rule.machine, source) for rule in rules for source in sorted(rule.sources)]
    if any(place in reached for place in places):
        return "whenever it could be, its condition is false, or another rule is taken"
    machine, source = places[0]
    return (
        f"{machine} is never {source}" if len(places) == 1 else "none of the states it leaves is reached"
    )


def never_reached(system: System, reached: set[State]) -> Iterator[Finding]:
    """What is said of states that are not among those reached."""
    families: dict[State, list[tuple[Machine, str]]] = {}
    for machine in system.machines:
        for name in machine.states:
            families.setdefault((_base(machine.name), _base(name)), []).append((machine, name))
    for (owner, base), members in families.items():
        missing = [(machine, name) for machine, name in members if (machine.name, name) not in reached]
        told: Iterable[tuple[str, str, tuple[Machine, str]]] = (
            (machine.name, name, (machine, name)) for machine, name in missing
        )
        if missing and len(missing) == len(members):
            told = [(owner, base, missing[0])]
        for whose, state, (machine, name) in told:
            span = dict(zip(machine.states, machine.places, strict=False)).get(name, machine.span)
            message = f"no run ever reaches the state {state} of {whose}"
            yield Finding("state-never-reached", f"{whose}.{state}", "warning", message, span)


def _base(name: str) -> str:
    return name.partition("[")[0]
