"""The cone of influence: the part of a system that one requirement depends on.

What: `cone(system, formulas)` is the system with only those machines, memory, inputs, timed
conditions, alerts and assumptions that the formulas read, directly or through rules.

Soundness: leaving a part out only adds runs. The part that stays never reads what went, so each run
of the whole is a run of the cone once the reactions in which the cone merely stutters are dropped
(in a settled state they are no steps, in an unsettled one they are reactions of the cone as well);
and where the whole let time pass, the cone is settled, owes nothing and has nothing due. So what the
cone never does, the whole never does: `holds` on the cone is `holds`. A failure found on the cone is
not believed; it is looked for again on the whole.

Assumptions tie what they read together, and so does interleaving; both are kept whole.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import System


def names_read(system: System, formulas: Iterable[Formula]) -> set[str]:
    """The inputs, machines, memory names and alerts that formulas read."""
    found: set[str] = set()
    for formula in formulas:
        for part in f.walk(formula):
            match part:
                case f.Read(name, _) | f.AlertRead(name, _, _):
                    found.add(name)
                case f.Taken(rules):
                    found |= {system.rule(rule).machine for rule in rules}
                case f.TimedRead(timer, _, _):
                    found |= names_read(system, [system.timed[timer].condition])
    return found


def names_in(system: System) -> set[str]:
    """The inputs, machines, memory names and alerts that there are."""
    named = {each.name for each in system.inputs} | {each.name for each in system.machines}
    return named | {each.name for each in system.memory} | {each.name for each in system.alerts}


def influences(system: System) -> list[tuple[set[str], set[str]]]:
    """Pairs (what, on what): any of the first depends on all of the second."""
    pairs: list[tuple[set[str], set[str]]] = []
    for machine in system.machines:
        written: set[str] = set()
        read: list[Formula] = []
        extra: set[str] = set()
        for rule in machine.rules:
            written |= {name for name, _ in rule.writes}
            read += [rule.guard, *(right for _, right in rule.writes)]
            if rule.takes:
                extra |= {system.rule(since).machine for since in rule.takes.since}
        own = {machine.name, *written}
        pairs.append((own, own | names_read(system, read) | extra))
    for alert in system.alerts:
        parts = (alert.raise_, alert.clear, alert.silence_by)
        pairs.append(({alert.name}, names_read(system, [p for p in parts if p is not None])))
    for assumption in system.assumptions:
        if assumption.holds is not None:
            tied = names_read(system, [assumption.holds])
            pairs.append((tied, tied))
    if system.interleaved:
        pairs.append((set(system.interleaved), set(system.interleaved)))
    return pairs


def timers_read(system: System, kept: set[str], formulas: Iterable[Formula]) -> set[int]:
    """The timed conditions that these formulas and the rules and alerts of kept names read."""
    read = list(formulas)
    for machine in system.machines:
        if machine.name in kept:
            read += [rule.guard for rule in machine.rules]
            read += [right for rule in machine.rules for _, right in rule.writes]
    for alert in system.alerts:
        if alert.name in kept:
            read += [p for p in (alert.raise_, alert.clear, alert.silence_by) if p is not None]
    found: set[int] = set()
    while read:
        for part in f.walk(read.pop()):
            if isinstance(part, f.TimedRead) and part.timer not in found:
                found.add(part.timer)
                read.append(system.timed[part.timer].condition)
    return found


def cone(
    system: System, formulas: Iterable[Formula], pairs: list[tuple[set[str], set[str]]] | None = None
) -> System:
    """The part of the system that these formulas depend on; the system itself if that is all.
    `pairs`: its `influences`, if they are at hand."""
    formulas = tuple(formulas)
    kept = names_read(system, formulas)
    pairs = influences(system) if pairs is None else pairs
    grown = True
    while grown:
        grown = False
        for what, on in pairs:
            if not what.isdisjoint(kept) and not on <= kept:
                kept |= on
                grown = True
    everything = {x.name for group in (system.inputs, system.machines) for x in group}
    everything |= {x.name for x in system.memory} | {x.name for x in system.alerts}
    if kept >= everything:
        return system
    assumptions = tuple(
        a for a in system.assumptions if a.holds is None or names_read(system, [a.holds]) <= kept
    )
    timers = timers_read(
        system, kept, [*formulas, *(a.holds for a in assumptions if a.holds is not None)]
    )
    return dataclasses.replace(
        system,
        inputs=tuple(x for x in system.inputs if x.name in kept),
        memory=tuple(x for x in system.memory if x.name in kept),
        machines=tuple(x for x in system.machines if x.name in kept),
        timed=tuple(
            # Indices stay; one that nothing kept reads is left idle by being observed.
            timed if index in timers else dataclasses.replace(timed, observed=True)
            for index, timed in enumerate(system.timed)
        ),
        alerts=tuple(x for x in system.alerts if x.name in kept),
        order=tuple(name for name in system.order if name in kept),
        outputs=(),
        terms=(),
        cases=(),
        assumptions=assumptions,
        requirements=(),
        stories=(),
        interleaved=system.interleaved & kept,
        remarks=(),
        waived=(),
    )
