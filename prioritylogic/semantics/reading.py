"""Reading formulas: the value of each kind of formula, one line each.

A formula is read against a `View`: in a reaction (two moments and what happens between them) or at
rest (both moments the same, no event). This page and `reference.py` are the whole meaning.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula, Value
from prioritylogic.model.system import System
from prioritylogic.semantics.state import ZERO, AlertState, Moment, Phase, State, Stay, View


class Reader:
    """Reads the formulas of one System."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.names = (
            *(variable.name for variable in system.inputs),
            *(machine.name for machine in system.machines),
            *(variable.name for variable in system.memory),
        )
        self.takes_rules = tuple(r for m in system.machines for r in m.rules if r.takes)
        self._alert_names = tuple(alert.name for alert in system.alerts)

    def value(self, formula: Formula, view: View) -> Value:
        """The value of a formula in a view."""
        match formula:  # the commonest first
            case f.Read(name, before):
                return view.was[name] if before else view.now[name]
            case f.Const(value):
                return value
            case f.All(parts):
                return all(self.true(part, view) for part in parts)
            case f.Not(operand):
                return not self.true(operand, view)
            case f.Same(left, right):
                return self.value(left, view) == self.value(right, view)
            case f.Some(parts):
                return any(self.true(part, view) for part in parts)
            case f.Choose(condition, then, other):
                return self.value(then if self.true(condition, view) else other, view)
            case f.Less(left, right, or_equal):
                a, b = self.number(left, view), self.number(right, view)
                return a <= b if or_equal else a < b
            case f.Taken(rules):
                return not view.taken.isdisjoint(rules)
            case f.TimedRead(timer, operand, before):
                return self._timed(timer, operand, before, view)
            case f.AlertRead(alert, "sounds", _):
                return alert in view.sounds
            case f.AlertRead(alert, what, before):
                status = (view.alerts_was if before else view.alerts_now)[alert].status
                return status == "cleared" if what == "cleared" else status != "idle"
            case f.Sum(parts):
                return sum((self.number(part, view) for part in parts), ZERO)
            case f.Product(left, right):
                return self.number(left, view) * self.number(right, view)
            case f.Least(parts):
                return min(self.number(part, view) for part in parts)
            case f.Greatest(parts):
                return max(self.number(part, view) for part in parts)

    def _timed(self, timer: int, operand: Formula, before: bool, view: View) -> bool:
        """`X for T` and `X within last T`, as a reader in a reaction sees them, or before it."""
        phase = view.phases[timer].name
        expires = timer in view.expiring
        if self.system.timed[timer].kind == "for":
            if before:
                return phase == "holding"
            return (phase == "holding" or expires) and self.true(operand, view)
        if before:
            return phase != "idle"
        return (phase == "running" and not expires) or phase == "holding" or self.true(operand, view)

    def true(self, formula: Formula, view: View) -> bool:
        """The truth of a condition or event in a view."""
        value = self.value(formula, view)
        assert isinstance(value, bool), formula
        return value

    def number(self, formula: Formula, view: View) -> Fraction:
        """The value of a quantity in a view (a truth value never stands for a number)."""
        value = self.value(formula, view)
        assert isinstance(value, Fraction), formula
        return value

    def named(self, state: State) -> dict[str, Value]:
        """The values of a state by name."""
        return dict(zip(self.names, state.values, strict=True))

    def alerts_of(self, state: State) -> dict[str, AlertState]:
        """The alerts of a state by name."""
        return dict(zip(self._alert_names, state.alerts, strict=True))

    def rest_view(self, state: State, phases: tuple[Phase, ...] | None = None) -> View:
        """A state at rest; `phases` may add those of observed timed conditions."""
        values, alerts = self.named(state), self.alerts_of(state)
        return View(values, values, state.timed if phases is None else phases, alerts, alerts)

    def reaction_view(self, moment: Moment, phases: tuple[Phase, ...] | None = None) -> View:
        """A whole reaction, as requirements read it; `phases` are those before it."""
        before = moment.before or self.blank(moment.after)
        return View(
            now=self.named(moment.after),
            was=self.named(before),
            phases=before.timed if phases is None else phases,
            alerts_now=self.alerts_of(moment.after),
            alerts_was=self.alerts_of(before),
            expiring=frozenset(t.index for t in moment.expired if t.kind == "timed"),
            taken=moment.taken,
            sounds=moment.sounds,
        )

    def blank(self, like: State) -> State:
        """What was before the first reaction: its inputs, every start, no clock running."""
        system = self.system
        inputs = like.values[: len(system.inputs)]
        starts = (*(m.start for m in system.machines), *(m.start for m in system.memory))
        return State(
            values=inputs + starts,
            stays=tuple(Stay() for _ in system.machines),
            takes=tuple(None for _ in self.takes_rules),
            timed=tuple(Phase() for _ in system.timed),
            alerts=tuple(AlertState() for _ in system.alerts),
        )


def observed_timers(system: System, formulas: Iterable[Formula]) -> tuple[int, ...]:
    """The timed conditions among these formulas that only requirements and stories read."""
    found: set[int] = set()
    waiting = list(formulas)
    while waiting:
        for part in f.walk(waiting.pop()):
            if isinstance(part, f.TimedRead) and part.timer not in found:
                if system.timed[part.timer].observed:
                    found.add(part.timer)
                    waiting.append(system.timed[part.timer].condition)
    return tuple(sorted(found))
