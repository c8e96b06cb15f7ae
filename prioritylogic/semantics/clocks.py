"""Clocks of the reference: which run, when the next one is due, and what passing time does to them.

All figures are exact seconds. A clock that nothing depends on any more stands still, so that states
can be compared; where that is so is said beside each kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from prioritylogic.model.system import Machine, Rule, Seconds
from prioritylogic.semantics.reading import Reader
from prioritylogic.semantics.state import ZERO, AlertState, Phase, State, Stay, Timer, View

NEVER = Fraction(10**12)  # seconds; longer than any duration that a spec may name


class Clocks(Reader):
    """The clocks of one System."""

    def due(self, state: State) -> frozenset[Timer]:
        """The timers that may expire now."""
        found = set()
        values = self.named(state)
        for machine, stay in zip(self.system.machines, state.stays, strict=True):
            waiting = machine.delays(str(values[machine.name]))[stay.expired :]
            if waiting and stay.clock == waiting[0]:
                found.add(Timer("stay", machine.name, waiting[0]))
        for index, (timed, phase) in enumerate(zip(self.system.timed, state.timed, strict=True)):
            if phase == Phase("running", timed.time):
                found.add(Timer("timed", time=timed.time, index=index))
        for alert, at in zip(self.system.alerts, state.alerts, strict=True):
            if alert.repeat is not None and at.repeat == alert.repeat:
                found.add(Timer("repeat", alert.name, alert.repeat))
            if alert.silence_for is not None and at.silence == alert.silence_for:
                found.add(Timer("silence", alert.name, alert.silence_for))
        return frozenset(found)

    def capped(self, machine: Machine, here: str, stay: Stay) -> Stay:
        """Stops the clock of a stay once nothing depends on it, so that states can be compared."""
        if stay.expired < len(machine.delays(here)):
            return stay
        strict = [
            r.delay.time for r in machine.rules if r.delay and r.delay.strict and here in r.sources
        ]
        if not strict:
            return Stay(ZERO, stay.expired)
        return Stay(min(stay.clock, max(strict) + 1), stay.expired)

    def waiting(self, rule: Rule, rest: View) -> bool:
        """In one of the rule's sources with its guard true at rest."""
        return rest.now[rule.machine] in rule.sources and self.true(rule.guard, rest)

    def deadlines(self, state: State) -> Iterator[tuple[Rule, Seconds, bool]]:
        """For each waiting rule that has one: the time to its upper end, and whether that instant may
        be reached."""
        rest = self.rest_view(state)
        for rule, clock in zip(self.takes_rules, state.takes, strict=True):
            assert rule.takes is not None
            if clock is not None and rule.takes.high is not None and self.waiting(rule, rest):
                yield rule, rule.takes.high - clock, not rule.takes.high_strict

    def until_due(self, state: State) -> Seconds:
        """The time to the next expiry (a large number if none is running)."""
        values = self.named(state)
        left = [NEVER]
        for machine, stay in zip(self.system.machines, state.stays, strict=True):
            left += [
                t - stay.clock for t in machine.delays(str(values[machine.name]))[stay.expired :][:1]
            ]
        for timed, phase in zip(self.system.timed, state.timed, strict=True):
            left += [timed.time - phase.clock] if phase.name == "running" else []
        for alert, at in zip(self.system.alerts, state.alerts, strict=True):
            left += [alert.repeat - at.repeat] if alert.repeat and at.repeat is not None else []
            left += (
                [alert.silence_for - at.silence] if alert.silence_for and at.silence is not None else []
            )
        return min(left)

    def passed(self, state: State, time: Seconds) -> State:
        """The state after `time` has passed. Requires `may_pass(state, time)`."""
        values = self.named(state)
        stays = []
        for machine, stay in zip(self.system.machines, state.stays, strict=True):
            moved = Stay(stay.clock + time, stay.expired)
            stays.append(self.capped(machine, str(values[machine.name]), moved))
        takes = []
        for rule, clock in zip(self.takes_rules, state.takes, strict=True):
            assert rule.takes is not None
            top = max(rule.takes.low, rule.takes.high or ZERO) + 1  # beyond it nothing changes
            takes.append(None if clock is None else min(clock + time, top))
        return State(
            values=state.values,
            stays=tuple(stays),
            takes=tuple(takes),
            timed=tuple(
                Phase("running", phase.clock + time) if phase.name == "running" else phase
                for phase in state.timed
            ),
            alerts=tuple(
                AlertState(
                    at.status,
                    None if at.repeat is None else at.repeat + time,
                    None if at.silence is None else at.silence + time,
                )
                for at in state.alerts
            ),
        )
