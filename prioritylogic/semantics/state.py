"""States, runs and views: the data of the reference semantics.

Everything is frozen, exact (Fractions of seconds) and full: nothing is left out because it cannot
matter, nothing is packed. Engines have states of their own and translate to these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from prioritylogic.model.formula import Value
from prioritylogic.model.system import Seconds

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True, order=True)
class Timer:
    """A timer that expires: the stay of machine `name` for `time`; the timed condition of this
    index; the repeat or the silence of alert `name`."""

    kind: Literal["stay", "timed", "repeat", "silence"]
    name: str = ""
    time: Seconds = ZERO
    index: int = -1


@dataclass(frozen=True, slots=True)
class Stay:
    """How long a machine has been in its state, and how many of `Machine.delays` have expired.
    `clock` stands still (0) once nothing is left to measure."""

    clock: Seconds = ZERO
    expired: int = 0


@dataclass(frozen=True, slots=True)
class Phase:
    """A timed condition's phase: idle, running from `clock`, or holding (done, or true)."""

    name: Literal["idle", "running", "holding"] = "idle"
    clock: Seconds = ZERO


@dataclass(frozen=True, slots=True)
class AlertState:
    """An alert's status and its running clocks (None: not running)."""

    status: Literal["idle", "on", "cleared"] = "idle"
    repeat: Seconds | None = None
    silence: Seconds | None = None


@dataclass(frozen=True, slots=True)
class State:
    """A state: values in the order inputs, machines, memory; the rest in the System's order.

    `takes` has one clock per rule with `takes:` (None: not running), in rule order. Observed timed
    conditions stay idle here.
    """

    values: tuple[Value, ...]
    stays: tuple[Stay, ...]
    takes: tuple[Seconds | None, ...]
    timed: tuple[Phase, ...]
    alerts: tuple[AlertState, ...]


@dataclass(frozen=True, slots=True)
class Tie:
    """Two at-once rules of one machine, or two machines' writes to one memory name (`memory`), that
    disagree in a reaction."""

    rules: tuple[str, str]
    memory: str = ""


@dataclass(frozen=True, slots=True)
class Moment:
    """One reaction: the state before it (None for the first, before which nothing was), after it,
    and what happened. `out_of_range` names memory written outside its domain: the run ends."""

    before: State | None
    after: State
    expired: frozenset[Timer] = frozenset()
    taken: frozenset[str] = frozenset()
    sounds: frozenset[str] = frozenset()
    ties: frozenset[Tie] = frozenset()
    out_of_range: str = ""
    time: Seconds = ZERO


@dataclass(frozen=True, slots=True)
class Run:
    """Reactions in time order, the first at 0; time has then passed until `end`."""

    moments: tuple[Moment, ...]
    end: Seconds


@dataclass(frozen=True, slots=True)
class View:
    """What a formula is read against: two moments, and what happens between them.

    At rest `was` is `now`, nothing expires, nothing is taken, nothing sounds.
    """

    now: Mapping[str, Value]
    was: Mapping[str, Value]
    phases: tuple[Phase, ...]
    alerts_now: Mapping[str, AlertState]
    alerts_was: Mapping[str, AlertState]
    expiring: frozenset[int] = frozenset()
    taken: frozenset[str] = frozenset()
    sounds: frozenset[str] = frozenset()
