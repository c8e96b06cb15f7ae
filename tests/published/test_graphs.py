"""The exported graph, asked by general-purpose graph libraries.

Sources: networkx (reachability, shortest paths, components) and scipy.sparse.csgraph (components,
shortest paths), both from the package registry. Their answers about the graph must be the explorer's
own: what it calls reachable, how long its shortest paths are, and how long the shortest run to a
failure is.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import networkx
import numpy
import pytest
from places import LESSONS, file_of
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

import prioritylogic
from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.counting import START, graph_of
from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.table import Table

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SPECS = [
    ROOT / "specs" / "ferry_helm.yaml",
    ROOT / "specs" / "drafts" / "ferry_helm_tie.yaml",
    *sorted((HERE / "specs").glob("*.yaml")),
    *map(file_of, LESSONS),
]
REACTION = 1_000_000  # one reaction weighs more than any number of ticks here


def explored(path: Path) -> Explorer:
    system = prioritylogic.load(path)
    explorer = Explorer(Table(system), tick_of(durations(system)), Limits())
    explorer.run()
    return explorer


@pytest.fixture(params=SPECS, ids=lambda path: path.stem)
def explorer(request: pytest.FixtureRequest) -> Explorer:
    return explored(request.param)


def weight(edge: dict[str, str]) -> int:
    return REACTION if edge["kind"] == "reaction" else 1


def matrix(graph: networkx.MultiDiGraph) -> tuple[list[object], csr_array]:
    """The graph as scipy wants it: the lightest edge between two nodes."""
    nodes = list(graph)
    numbers = {node: number for number, node in enumerate(nodes)}
    lightest: dict[tuple[int, int], int] = {}
    for a, b, edge in graph.edges(data=True):
        ends = (numbers[a], numbers[b])
        lightest[ends] = min(lightest.get(ends, 2 * REACTION), weight(edge))
    rows, columns = zip(*lightest, strict=True)
    shape = (len(nodes), len(nodes))
    return nodes, csr_array((numpy.array(list(lightest.values())), (rows, columns)), shape=shape)


def test_everything_exported_is_reachable(explorer: Explorer) -> None:
    graph = graph_of(explorer)
    assert networkx.descendants(graph, START) == set(graph) - {START}
    assert len(graph) == len(explorer.parents) + 1


def test_shortest_paths_are_as_short_as_two_libraries_find_them(explorer: Explorer) -> None:
    graph = graph_of(explorer)
    nodes, weights = matrix(graph)
    by_scipy = dijkstra(weights, indices=nodes.index(START))
    by_networkx = networkx.single_source_dijkstra_path_length(
        graph, START, weight=lambda a, b, edges: min(map(weight, edges.values()))
    )
    for number, node in enumerate(explorer.parents):
        steps = explorer.path(node)
        reactions = sum(step.course is not None for step in steps)
        length = reactions * REACTION + len(steps) - reactions
        assert length == by_networkx[number] == by_scipy[nodes.index(number)]


def test_strong_components_agree_between_the_libraries(explorer: Explorer) -> None:
    graph = graph_of(explorer)
    _, weights = matrix(graph)
    count, _ = connected_components(weights, directed=True, connection="strong")
    assert count == networkx.number_strongly_connected_components(graph)


@pytest.mark.parametrize("name", ["hyman", "ben_ari_second"])
def test_the_shortest_run_into_a_forbidden_state_is_the_shortest_path_there(name: str) -> None:
    """The published wrong programs: the graph's shortest path to a state with both processes in
    their critical sections has as many reactions as the counterexample."""
    path = next(p for p in SPECS if p.stem.startswith(name))
    result = prioritylogic.check(prioritylogic.load(path))
    failed = next(a for a in result.requirements if a.verdict == "fails")
    assert failed.trace is not None
    graph = graph_of(explored(path))
    last = failed.trace.run.moments[-1].after
    system = result.system
    names = [m.name for m in system.machines]
    first = len(system.inputs)
    wanted = dict(zip(names, last.values[first : first + len(names)], strict=True))
    targets = [
        n for n, data in graph.nodes(data=True) if all(data.get(k) == v for k, v in wanted.items())
    ]
    lengths = networkx.single_source_dijkstra_path_length(
        graph, START, weight=lambda a, b, edges: min(map(weight, edges.values()))
    )
    reactions = min(lengths[target] for target in targets) // REACTION
    assert reactions == failed.trace.steps + 1  # the reaction at time 0 is an edge too
    assert failed.trace.run.end == Fraction(0)
