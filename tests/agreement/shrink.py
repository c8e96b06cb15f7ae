"""Makes a failing spec smaller while it still fails.

Greedy: try every spec with one part less (a requirement, a rule, a key, an input, half of an
expression), keep the first that still fails, begin again. What is refused or too big for the oracle
does not fail, so nothing need be known here about which parts may go.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from typing import Any

from phrases import Spec

KEPT = {"id", "system", "states", "start", "values", "machines", "inputs", "from"}
PROSE = {"id", "system", "start", "values", "from", "to", "beats", "since", "takes", "otherwise"}


def shrunk(spec: Spec, fails: Callable[[Spec], bool], tries: int = 1_500) -> Spec:
    """A spec that still fails and of which no single part can be left out (or `tries` are used up)."""
    while True:
        for smaller in smaller_specs(spec):
            tries -= 1
            if tries < 0:
                return spec
            if fails(smaller):
                spec = smaller
                break
        else:
            return spec


def smaller_specs(spec: Spec) -> Iterator[Spec]:
    """Every spec with one part less, the largest parts first."""
    for path in sorted(_paths(spec), key=len):
        *way, last = path
        smaller = copy.deepcopy(spec)
        holder: Any = smaller
        for step in way:
            holder = holder[step]
        value = holder[last]
        if not (isinstance(holder, dict) and last in KEPT):
            del holder[last]
            if holder or not way:
                yield smaller
        if isinstance(value, str) and last not in PROSE:
            for less in _less(value):
                simpler = copy.deepcopy(spec)
                holder = simpler
                for step in way:
                    holder = holder[step]
                holder[last] = less
                yield simpler


def _paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    inner = dict(enumerate(value)) if isinstance(value, list) else value
    for key, part in inner.items() if isinstance(inner, dict) else ():
        yield (*path, key)
        yield from _paths(part, (*path, key))


def _less(text: str) -> Iterator[str]:
    """Parts of an expression that may stand alone."""
    for match in re.finditer(r" (?:and|or) ", text):
        for part in (text[: match.start()], text[match.end() :]):
            if part.count("(") == part.count(")"):
                yield part
    if text.startswith("(") and text.endswith(")"):
        yield text[1:-1]
    if text.startswith("not "):
        yield text[4:]
    if match := re.fullmatch(r"\((.*)\) (?:for|within last) \w+ \w+", text):
        yield match[1]
