"""Plain enumeration of textbook programs: the other half of each comparison.

It shares nothing with the package under test: a program is a function from a configuration to the
configurations one step later, written from the published listing and not from our spec of it, and
`reach` is breadth-first search and nothing else. A configuration is a tuple of what the published
count ranges over, so the number of different tuples is the number to compare.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator

Configuration = tuple[object, ...]
Program = Callable[[Configuration], Iterator[Configuration]]


def reach(program: Program, start: Configuration) -> dict[Configuration, int]:
    """Every reachable configuration, with the least number of steps to it."""
    steps, waiting = {start: 0}, deque([start])
    while waiting:
        old = waiting.popleft()
        for new in program(old):
            if new not in steps:
                steps[new] = steps[old] + 1
                waiting.append(new)
    return steps


def stuck(program: Program, start: Configuration) -> list[Configuration]:
    """The reachable configurations without a next one."""
    return [c for c in reach(program, start) if not list(program(c))]
