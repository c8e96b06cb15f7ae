"""A reachable graph as GraphML and DOT text.

GraphML is the exchange format of the graph-drawing community (graphml.graphdrawing.org); DOT is read
by Graphviz and by many editors, and needs no layout program to be written. Both texts list nodes and
edges in the graph's own order, so the same exploration gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

from prioritylogic.render.dot import quoted

if TYPE_CHECKING:
    import networkx as nx


def graphml(graph: nx.MultiDiGraph[Any]) -> str:
    """The graph as GraphML; what GraphML has no type for is written as text."""
    import networkx as nx

    plain: nx.MultiDiGraph[Any] = nx.MultiDiGraph()
    names = _names(graph)
    for node, data in graph.nodes(data=True):
        plain.add_node(names[node], **_scalars(data))
    for tail, head, data in graph.edges(data=True):
        plain.add_edge(names[tail], names[head], **_scalars(data))
    out = io.BytesIO()
    nx.write_graphml_xml(plain, out, prettyprint=True)
    return out.getvalue().decode("utf-8")


def dot(graph: nx.MultiDiGraph[Any], name: str = "reachable") -> str:
    """The graph as DOT, one line per node and edge.

    >>> import networkx as nx
    >>> lamp = nx.MultiDiGraph([("dark", "lit", {"label": "press"})])
    >>> print(dot(lamp, "lamp"))
    digraph "lamp" {
      node [shape=box, style=rounded];
      n0 [label="dark"];
      n1 [label="lit"];
      n0 -> n1 [label="press"];
    }
    <BLANKLINE>
    """
    names = _names(graph)
    lines = [f"digraph {quoted(name)} {{", "  node [shape=box, style=rounded];"]
    for node, data in graph.nodes(data=True):
        more = ", penwidth=2" if data.get("start") else ""
        lines.append(f"  {names[node]} [label={quoted(_label(node, data))}{more}];")
    for tail, head, data in graph.edges(data=True):
        label = _label("", data)
        lines.append(
            f"  {names[tail]} -> {names[head]}" + (f" [label={quoted(label)}];" if label else ";")
        )
    return "\n".join([*lines, "}"]) + "\n"


def _names(graph: nx.MultiDiGraph[Any]) -> dict[Hashable, str]:
    return {node: f"n{index}" for index, node in enumerate(graph.nodes)}


def _label(node: Hashable, data: Mapping[str, Any]) -> str:
    """The label an edge or node was given, else the node itself, else what is known about it."""
    if "label" in data:
        return str(data["label"])
    if node != "":
        return ", ".join(map(str, node)) if isinstance(node, tuple) else str(node)
    return "\n".join(f"{key}: {value}" for key, value in sorted(data.items()))


def _scalars(data: Mapping[str, Any]) -> dict[str, bool | int | float | str]:
    kept = {}
    for key, value in data.items():
        kept[key] = value if isinstance(value, bool | int | float | str) else str(value)
    return kept
