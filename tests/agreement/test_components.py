"""Components of explored graphs, by two general-purpose libraries, and what they say of `recoverable`.

From every reachable state a run gets to C exactly if each component that is never left has a state with C.
networkx and scipy find the components of the exported graph, and must find the same; the verdicts of
`recoverable` are held against them. Systems with clocks are left out: there a run must let time go on.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import count

import networkx
import numpy
from boolean import Plain
from phrases import Spec
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from systems import load

import prioritylogic
from prioritylogic.engines.counting import START

SYSTEMS = 25


def asked(seed: int) -> tuple[Spec, str, list[str]]:
    """A random spec that asks of each state of one machine whether it can be got to from everywhere."""
    spec = Plain(seed).spec()
    name, machine = next(iter(spec["machines"].items()))
    states = [str(state) for state in machine["states"]]
    spec["requirements"] = [
        {"id": f"R{n}", "recoverable": f"{name} is {state}"} for n, state in enumerate(states)
    ]
    return spec, name, states


def components(graph: networkx.MultiDiGraph) -> list[frozenset[object]]:
    """The strong components, by scipy; networkx finds the same."""
    nodes = list(graph)
    numbers = {node: number for number, node in enumerate(nodes)}
    ends = [(numbers[a], numbers[b]) for a, b in graph.edges()]
    rows, columns = zip(*ends, strict=True) if ends else ((), ())
    matrix = csr_array((numpy.ones(len(ends)), (rows, columns)), shape=(len(nodes),) * 2)
    _, labels = connected_components(matrix, directed=True, connection="strong")
    found = defaultdict(set)
    for node, label in zip(nodes, labels, strict=True):
        found[label].add(node)
    sets = {frozenset(nodes) for nodes in found.values()}
    assert sets == set(map(frozenset, networkx.strongly_connected_components(graph)))
    return list(sets)


def test_what_is_recoverable_is_in_every_component_that_is_never_left() -> None:
    seen: Counter[str] = Counter()
    seeds = count(70_000)
    for _ in range(SYSTEMS):
        while (system := load((made := asked(next(seeds)))[0])) is None:
            continue
        _, name, states = made
        graph = prioritylogic.explore(system, graph=True).graph
        last = [
            each
            for each in components(graph)
            if START not in each and all(b in each for a in each for b in graph.successors(a))
        ]
        for answer, state in zip(prioritylogic.check(system).requirements, states, strict=True):
            there = all(any(graph.nodes[node][name] == state for node in each) for each in last)
            assert answer.verdict == ("holds" if there else "fails"), (name, state)
            seen[answer.verdict] += 1
    assert min(seen["holds"], seen["fails"]) >= 10
