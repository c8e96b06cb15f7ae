"""`recoverable`: from every state that can be reached, some run gets to the condition.

Decided on the explored whole: backwards from the reactions in which the condition is true, over every
reaction and every passing of time, until nothing is added; what is left over cannot get there. A cone
will not do: it has runs that the whole has not, so neither answer would carry over. Nor will whole
ticks: two clocks that are half a tick apart never meet, but on ticks they may. So it is always asked on
region clocks.
"""

from __future__ import annotations

from collections import defaultdict

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.explore import Node
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options, has_strict_bounds
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.recheck import Recheck
from prioritylogic.engines.regions import Regions
from prioritylogic.engines.replay import replay
from prioritylogic.engines.table import Table
from prioritylogic.evidence.words import counted
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import System
from prioritylogic.semantics.compile import Declined, Evaluate
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference


def recoverable(system: System, condition: Formula, limits: Limits, options: Options) -> Found:
    """Whether some run gets to the condition from everywhere; a shortest run to where none does.

    Raises:
        Declined: the system or the condition cannot be explored exactly.
        LimitError: it takes more states, time or memory than there is.
    """
    if observed_timers(system, [condition]):
        raise Declined("its condition is timed, and no rule, alert or output reads that")
    table = Table(
        system,
        (condition,),
        options.project,
        options.lazily,
        limits=limits,
        dense=has_strict_bounds(system),
    )
    explorer = Regions(table, tick_of(durations(system)), limits)
    explorer.run()
    lost = _lost(explorer, table.parts.compiler.function(condition))
    reference = Reference(system)
    if lost is not None:
        path = explorer.path(lost)
        return Broken(replay(reference, table.cells, explorer.tick, path))
    confirmed = Recheck(explorer, reference).confirm()
    states = counted(len(explorer.parents), "state")
    states = f"exhaustive over {states}, on region clocks, as `recoverable` needs"
    return Unbroken(f"{states}; {confirmed}", states)


def _lost(explorer: Regions, condition: Evaluate) -> Node | None:
    """The first node from which no run gets to the condition."""
    before: dict[Node, list[Node]] = defaultdict(list)
    there: list[Node] = []
    rows: dict[tuple[int, int], bool] = {}
    for node in explorer.parents:
        explorer.limits.check_time()
        later = explorer.later(node)
        if later is not None:
            before[later[0]].append(node)
        for edge in explorer.edges_of(node):
            before[explorer.follow(node, edge)].append(node)
        key = (node.still, explorer.work(node.still).ready(node.clocks))
        if key not in rows:
            rows[key] = _gets_there(explorer, *key, condition)
        if rows[key]:
            there.append(node)
    found = set(there)
    while there:
        for node in before[there.pop()]:
            if node not in found:
                found.add(node)
                there.append(node)
    return next((node for node in explorer.parents if node not in found), None)


def _gets_there(explorer: Regions, still: int, ready: int, condition: Evaluate) -> bool:
    """Whether in some reaction of a row the condition is true."""
    table = explorer.table
    return any(
        true
        for course in table.row(still, ready)
        for true, _ in table.read(course, lambda: bool(condition(course.reaction)))  # noqa: B023
    )
