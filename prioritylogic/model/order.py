"""The pass that puts machines and alerts in the order in which a reaction evaluates them.

Each comes after what it reads `now`: another machine's state, memory that another machine writes, an
alert, or whether a rule is taken. `before(...)` and names that stand still are no reason to wait. The
order of the spec is kept wherever it may be. A circle has no order and is a fault.
"""

from __future__ import annotations

import heapq
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from prioritylogic.model.draft import Draft
from prioritylogic.model.formula import AlertRead, Formula, Read, Taken, walk
from prioritylogic.model.lower import Lowering


def put_in_order(draft: Draft, _: Lowering) -> None:
    """Fill the order, or note the circle."""
    needs = _needs(draft)
    place = {name: at for at, name in enumerate(needs)}
    graph = {name: sorted(reads, key=place.__getitem__) for name, reads in needs.items()}
    sorter = TopologicalSorter(graph)
    try:
        sorter.prepare()
    except CycleError as error:
        _complain(draft, needs, list(reversed(error.args[1])))
        return
    order: list[str] = []
    waiting: list[int] = []
    names = list(needs)
    while sorter.is_active():
        for name in sorter.get_ready():
            heapq.heappush(waiting, place[name])
        name = names[heapq.heappop(waiting)]
        order.append(name)
        sorter.done(name)
    draft.order = tuple(order)


def _needs(draft: Draft) -> dict[str, dict[str, Formula]]:
    """For each machine and alert: what it must come after, and the part that reads it."""
    writers: dict[str, list[str]] = {}
    for machine in draft.drafts.values():
        for name in sorted(machine.writes):
            writers.setdefault(name, []).append(machine.name)
    formulas: dict[str, list[Formula]] = {}
    for m in draft.machines:
        formulas[m.name] = [f for r in m.rules for f in (r.guard, *(value for _, value in r.writes))]
    for alert in draft.alerts:
        parts = (alert.raise_, alert.clear, alert.silence_by)
        formulas[alert.name] = [part for part in parts if part is not None]
    needs: dict[str, dict[str, Formula]] = {}
    for name, read in formulas.items():
        needs[name] = {}
        for part in (part for formula in read for part in walk(formula)):
            for source in _sources(draft, part, writers):
                if source in formulas:
                    needs[name].setdefault(source, part)
    return needs


def _sources(draft: Draft, part: Formula, writers: dict[str, list[str]]) -> list[str]:
    match part:
        case Read(name, False):
            return [name] if name in draft.drafts else writers.get(name, [])
        case AlertRead(alert, _, False):
            return [alert]
        case Taken(rules):
            return list(dict.fromkeys(draft.rule_ids[rule].machine for rule in rules))
    return []


def _complain(draft: Draft, needs: dict[str, dict[str, Formula]], circle: list[str]) -> None:
    links = [(a, b, needs[a][b]) for a, b in pairwise(circle)]
    steps = ", ".join(f"'{a}' reads {_shown(part)}" for a, b, part in links)
    first = {name: at for at, name in enumerate(needs)}
    reader, _, part = min(links, key=lambda link: (isinstance(link[2], Taken), first[link[0]]))
    spans = {m.name: m.span for m in draft.machines} | {a.name: a.span for a in draft.alerts}
    where = _shown(part).strip("'")
    remedy = f"where '{reader}' reads it, write 'before({where})', its value before the reaction"
    if isinstance(part, Taken) or (isinstance(part, AlertRead) and part.what == "sounds"):
        remedy = f"in '{reader}', read with `before(...)` what that leaves behind"
    draft.add(
        "circular-order",
        f"no order of evaluation: in one reaction {steps}",
        spans[reader],
        remedy,
    )


def _shown(part: Formula) -> str:
    match part:
        case Read(name):
            return f"'{name}'"
        case AlertRead(alert, what):
            return f"'{alert}.{what}'"
        case Taken(rules):
            return f"'taken({rules[0].partition('[')[0]})'"
    return "it"
