"""Counting reachable valuations of chosen names, and the explored graph as networkx sees it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.explore import Edge, Explorer, Node
from prioritylogic.engines.limits import Limits, rare_collection
from prioritylogic.engines.part import has_strict_bounds
from prioritylogic.engines.parts import Still
from prioritylogic.engines.reacting import Course
from prioritylogic.engines.regions import Regions
from prioritylogic.engines.table import Table
from prioritylogic.errors import RequestError, did_you_mean
from prioritylogic.evidence.results import Counts, Exploration
from prioritylogic.model.system import Real, System
from prioritylogic.semantics.compile import Evaluate

if TYPE_CHECKING:
    import networkx

START = "start"  # the graph's node before the reaction at time 0


def explore(
    system: System, over: Sequence[str] = (), graph: bool = False, limits: Limits | None = None
) -> Exploration:
    """Counts the reachable states of a system, and gives their graph.

    Args:
        system: from `load`.
        over: names of machines, memory, alerts, discrete inputs, and terms and outputs that are no
            plain numbers (as they are at rest after a reaction), to count over; () for all machines,
            memory and alerts. Terms name the cells of analog inputs.
        graph: whether to build the graph.
        limits: on time, memory and states.

    Raises:
        RequestError: a name that cannot be counted over.
        LimitError: a limit was reached.
        Declined: the system cannot be explored exactly.
    """
    names = tuple(over) or default_over(system)
    inputs = {variable.name: variable for variable in system.inputs}
    shown = {output.name: output for output in (*system.terms, *system.outputs)}
    known = {*default_over(system), *inputs, *shown}
    for name in names:
        if name not in known:
            remedy = did_you_mean(name, known, "count over machines, memory, alerts, inputs or terms")
            raise RequestError(f"nothing to count over is called '{name}': {remedy}")
        if name in inputs and isinstance(inputs[name].domain, Real):
            raise RequestError(
                f"'{name}' is analog: it has no number of values to count over; "
                "a term that compares it has"
            )
        if name in shown and isinstance(shown[name].domain, Real | None):
            raise RequestError(f"'{name}' is a quantity: count over a term that compares it")
    limits = limits or Limits()
    dense = has_strict_bounds(system)
    stored = frozenset(names) & frozenset(inputs)
    read = tuple(shown[name].formula for name in names if name in shown)
    table = Table(system, read, stored=stored, limits=limits, dense=dense)
    explorer = (Regions if dense else Explorer)(table, tick_of(durations(system)), limits)
    with rare_collection():
        ended = explorer.run()
    return Exploration(
        system=system,
        counts=count(explorer, names, ended.reactions),
        rows=tuple(valuations(explorer, names).items()),
        tick=None if dense else explorer.tick,
        graph=graph_of(explorer) if graph else None,
    )


def default_over(system: System) -> tuple[str, ...]:
    """Every machine, memory name and alert."""
    return tuple(x.name for group in (system.machines, system.memory, system.alerts) for x in group)


def count(explorer: Explorer, over: tuple[str, ...], reactions: int) -> Counts:
    """The different valuations of some names among what was explored."""
    return Counts(over, len(valuations(explorer, over)), len(explorer.parents), reactions)


def valuations(explorer: Explorer, over: tuple[str, ...]) -> Counter[tuple[str, ...]]:
    """How many explored states have each valuation, first met first. The start before the reaction
    at time 0 counts as reached."""
    parts = explorer.table.parts
    found: Counter[tuple[str, ...]] = Counter()
    inputs = parts.compiler.inputs

    def value(still: Still, name: str) -> str:
        if name in parts.compiler.slots:
            return text(still.values[parts.compiler.slots[name]])
        if name in parts.compiler.alerts:
            return still.alerts[parts.compiler.alerts[name]][0]
        return text(still.inputs[inputs[name]])

    system = explorer.table.system
    terms = {output.name: output.formula for output in (*system.terms, *system.outputs)}
    read = {name: parts.compiler.function(terms[name]) for name in over if name in terms}
    if read:
        for _, valuation in _at_rest(explorer, over, read, value):
            found[valuation] += 1
        return found
    if not any(name in inputs for name in over):
        blank = parts.blank()
        found[tuple(value(blank, name) for name in over)] = 0
    for node in explorer.parents:
        still = explorer.stills[node.still]
        found[tuple(value(still, name) for name in over)] += 1
    return found


def _at_rest(
    explorer: Explorer,
    over: tuple[str, ...],
    read: Mapping[str, Evaluate],
    value: Callable[[Still, str], str],
) -> dict[tuple[Node, tuple[str, ...]], None]:
    """Each explored state with each valuation that it can have at rest. A state does not fix its analog
    inputs, so every course that leads to it is read, in every way that terms tell apart."""
    found: dict[tuple[Node, tuple[str, ...]], None] = {}
    ways: dict[int, list[tuple[str, ...]]] = {}

    def valuations_of(course: Course) -> list[tuple[str, ...]]:
        def valuation() -> tuple[str, ...]:
            return tuple(
                text(read[name](course.rest)) if name in read else value(course.after, name)
                for name in over
            )

        if id(course) not in ways:  # the table keeps its courses, so the number stays theirs
            ways[id(course)] = [said for said, _ in explorer.table.read(course, valuation)]
        return ways[id(course)]

    starts = explorer.table.starts()
    nodes: list[Node | None] = [None, *explorer.parents]
    for node in nodes:
        explorer.limits.check_time()
        row = starts
        if node is not None:
            row = explorer.table.row(node.still, explorer.work(node.still).ready(node.clocks))
        for course in row:
            if not course.out_of_range:
                edge = Edge(course.after_id, course.keeps, -1, (), False, 0, course, None)
                after = explorer.follow(node, edge)
                found.update(((after, said), None) for said in valuations_of(course))
    return found


def text(value: object) -> str:
    """A value as the spec writes it."""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def graph_of(explorer: Explorer) -> networkx.MultiDiGraph[Any]:
    """The explored graph; see `Exploration.graph`."""
    import networkx

    graph: networkx.MultiDiGraph[Any] = networkx.MultiDiGraph()
    numbers: dict[Node, int] = {node: number for number, node in enumerate(explorer.parents)}
    names = (*explorer.table.parts.compiler.slots,)
    alerts = tuple(explorer.table.parts.compiler.alerts)
    graph.add_node(START, label=START)
    passes = f"{explorer.tick} s pass" if explorer.unit == 1 else "time passes"
    for node, number in numbers.items():
        still = explorer.stills[node.still]
        shown = {name: text(value) for name, value in zip(names, still.values, strict=True)}
        shown |= {name: alert[0] for name, alert in zip(alerts, still.alerts, strict=True)}
        label = ", ".join(f"{name} {value}" for name, value in shown.items())
        clocks = " ".join(map(str, explorer.exact(node)))
        graph.add_node(number, label=label, settled=still.settled, clocks=clocks, **shown)
    for source, target, course in edges(explorer):
        ends = (START if source is None else numbers[source], numbers[target])
        if course is None:
            graph.add_edge(*ends, kind="tick", taken="", expired="", label=passes)
            continue
        taken = " ".join(sorted(course.taken))
        expired = " ".join(
            sorted(
                f"{t.name or explorer.table.system.timed[t.index].said} {t.time} s"
                for t in course.expired
            )
        )
        label = "; ".join(part for part in (taken, expired and f"expired: {expired}") if part)
        graph.add_edge(*ends, kind="reaction", taken=taken, expired=expired, label=label)
    return graph


def edges(explorer: Explorer) -> Iterator[tuple[Node | None, Node, Course | None]]:
    """Every edge of the explored graph, with a course (None: a tick)."""
    for edge in explorer.starts():
        yield None, explorer.follow(None, edge), edge.course
    for node in list(explorer.parents):
        later = explorer.later(node)
        if later is not None:
            yield node, later[0], None
        for edge in explorer.edges_of(node):
            yield node, explorer.follow(node, edge), edge.course
