"""The oracle on a finer grid, for strict bounds and for requirements with timed conditions of their own;
and random small systems that have them.

Why a finer grid is exact: a run with k instants (its reactions, and its end) is possible if its instants
fulfil differences `tj - ti < c` or `<= c` with whole c (in ticks); the state of the timers only decides
which. Write every `< c` as `<= c - 1/n` with n >= k. A circle of such differences has at most k of them,
and its c add up to 1 or more if one is strict (else nothing fulfilled them at all); so it still adds up to
0 or more, no circle is impossible, and there is a solution in steps of 1/n: the shortest paths. So a grid
of n parts of a tick has every run of at most n instants. What a timed condition of the requirement's own
does meanwhile happens a whole number of ticks after an instant, and needs no more.

Longer runs it may miss; so what an engine finds beyond must be replayed instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction

import oracle
from compare import Case
from oracle import Graph, TooBig, least_reactions
from phrases import Spec
from systems import Maker, figures_of, load

from prioritylogic.model.system import System
from prioritylogic.requirements.observer import observer

PARTS = 8  # of a tick
LONGEST = PARTS - 2  # reactions after the first one of the runs that are surely found
MOST = 450  # states


@contextmanager
def grid(parts: int) -> Iterator[None]:
    """The oracle steps by so many parts of a tick."""
    quarter = oracle.quarter_tick

    def step(system: System) -> Fraction:
        return quarter(system) * Fraction(4, parts)

    oracle.quarter_tick = step
    try:
        yield
    finally:
        oracle.quarter_tick = quarter


def fine_case(spec: Spec, seed: int = 0, parts: int = PARTS, most: int = MOST) -> Case | None:
    """The spec with the oracle's answers on the finer grid; None if it is refused or too big."""
    system = load(spec)
    if system is None or any(observer(requirement) is None for requirement in system.requirements):
        return None
    try:
        with grid(parts):
            graph = Graph(system, figures_of(spec), most)
    except TooBig:
        return None
    return Case(
        seed, spec, system, graph, {r.id: least_reactions(graph, r) for r in system.requirements}
    )


class Strict(Maker):
    """Small systems most of whose bounds are strict."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.unit = "s"
        self.buttons, self.signals, self.limits, self.memory = ["b"], [], [], {}
        self.alert, self.term, self.timed_left = "", False, 0
        self.machines = {"m": ["a0", "a1", "a2"][: self.pick([2, 3])]}
        if self.chance(0.3):
            self.machines["n"] = ["z0", "z1"]
        self.rules = {name: [] for name in self.machines}
        self.interleaved = False

    def rule(self, machine: str, number: int) -> Spec:
        made = super().rule(machine, number)
        if "takes" in made:
            made["takes"] = self.pick(
                [
                    f"under {self.time(2)}",
                    f"over {self.time(2)}",
                    "over 1 s to 2 s",
                    "1 s to under 2 s",
                    f"at least {self.time(2)}",
                    f"at most {self.time(2)}",
                ]
            )
        elif "after" in made and self.chance(0.6):
            made |= {"after": f"over {self.time(2)}", "may": "yes"}
        return made


class Timely(Maker):
    """Small systems, and requirements with several timed conditions of their own, wherever one may
    stand."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.unit = "s"
        self.signals, self.limits, self.memory = [], [], {}
        self.alert, self.term, self.timed_left = "", False, 0
        self.machines = {"m": ["a0", "a1", "a2"][: self.pick([2, 3])]}
        self.rules = {name: [] for name in self.machines}
        self.interleaved = False
        self.own = 0

    def ask(self, number: int) -> Spec:
        self.own = self.pick([1, 1, 2, 3])
        return super().ask(number)

    def apt(self) -> None:
        return None

    def simple(self, reader: str) -> str:
        if reader == "ask" and self.own and self.chance(0.4):
            self.own -= 1
            inner = super().simple(reader)
            if self.own and self.chance(0.3):
                self.own -= 1
                inner = f"({inner}) {self.pick(['for', 'within last'])} {self.time(2)}"
            if self.chance(0.4) and not inner.endswith(" s"):
                event = self.event(reader)
                return f"({event}) within last {self.time(2)}"
            timed = f"({inner}) {self.pick(['for', 'within last'])} {self.time(2)}"
            return f"before({timed})" if self.chance(0.2) else f"({timed})"
        return super().simple(reader)
