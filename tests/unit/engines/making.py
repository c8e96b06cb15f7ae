"""Tables, explorations and parts of small specs, for the tests of engines."""

from __future__ import annotations

from fractions import Fraction

from prioritylogic import load
from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import durations_of
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Watch
from prioritylogic.model.system import System
from prioritylogic.requirements.observer import observer

DOOR = """
system: door
inputs: {go: button, stop: button}
machines:
  m:
    states: [a, b, c]
    start: a
    rules:
      - {id: open, from: a, if: pressed(go), to: b}
      - {id: lock, from: b, after: 2 s, to: c}
      - {id: back, from: c, if: pressed(stop), to: a}
"""


def spec(requirement: str = "", text: str = DOOR) -> System:
    """The system of a text, with one requirement R."""
    return load(text + (f"requirements:\n  - {{id: R, {requirement}}}\n" if requirement else ""))


def explorer_of(system: System, limits: Limits | None = None, watched: bool = False) -> Explorer:
    """An exploration that has not begun, with the first requirement's observer if it is `watched`."""
    if not watched:
        return Explorer(Table(system), tick_of(durations(system)), limits or Limits())
    (requirement, *_) = system.requirements
    watching = observer(requirement)
    assert watching is not None
    table = Table(system, tuple(fact.formula for fact in watching.facts))
    tick: Fraction = tick_of([*durations(system), *durations_of(system, requirement, watching)])
    return Explorer(table, tick, limits or Limits(), Watch(table, requirement, watching, tick))
