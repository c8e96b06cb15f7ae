"""Clocks as small integers: whole ticks, or what regions make of them.

Why ticks are exact: for a fixed sequence of reactions, closed bounds only say that a difference of
two instants is equal to, at least, or at most a duration. Rounding all instants of a dense run by one
threshold keeps every such statement when all durations are multiples of the tick, and one strict
comparison at the deciding instant survives with a threshold chosen for it (Henzinger, Manna, Pnueli
1992, "What good are digital clocks?"). Strict bounds in the system, and questions that compare
strictly at two instants or in both directions, are not kept; there regions are used (regions.py), whose
figures count in a `unit` of their own.

`Clockwork` is what a still part makes of the clocks: which run, which are due, what is owed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple, TypeAlias

from prioritylogic.engines.parts import Parts, Ready, Still
from prioritylogic.model.system import Seconds, System
from prioritylogic.semantics.state import Timer

Tick: TypeAlias = int


def durations(system: System) -> list[Seconds]:
    """Every duration that the system itself measures."""
    found: list[Seconds | None] = []
    for machine in system.machines:
        for rule in machine.rules:
            found += [rule.delay.time] if rule.delay else []
            found += [rule.takes.low, rule.takes.high] if rule.takes else []
    found += [timed.time for timed in system.timed if not timed.observed]
    for alert in system.alerts:
        found += [alert.repeat, alert.silence_for]
    return [time for time in found if time]


def tick_of(times: Iterable[Seconds]) -> Seconds:
    """The greatest common divisor of the durations, 1 s if there are none."""
    tick = Fraction(0)
    for time in times:
        # gcd(a/b, c/d) = gcd(a d, c b) / (b d)
        numerator = math.gcd(tick.numerator * time.denominator, time.numerator * tick.denominator)
        tick = Fraction(numerator, tick.denominator * time.denominator)
    return tick or Fraction(1)


class Clockwork(NamedTuple):
    """What one still part makes of the clocks (places as in `Clocks`, figures in ticks)."""

    due: tuple[tuple[int, Tick, Ready], ...]
    offers: tuple[tuple[int, Tick, Ready], ...]
    owed: tuple[tuple[int, Tick], ...]
    running: tuple[tuple[int, Tick | None], ...]  # with the figure at which it may stand still
    settled: bool
    barred: tuple[tuple[int, Tick], ...] = ()  # figures that must not even be reached

    def ready(self, clocks: tuple[Tick, ...]) -> Ready:
        """Which timers are due and which `takes` rules may be offered."""
        ready = 0
        for place, time, bit in self.due:
            if clocks[place] == time:
                ready |= bit
        for place, low, bit in self.offers:
            if clocks[place] >= low:
                ready |= bit
        return ready

    def blocked(self, clocks: tuple[Tick, ...]) -> bool:
        """Whether no time may pass."""
        return (
            not self.settled
            or any(clocks[place] == time for place, time, _ in self.due)
            or any(clocks[place] >= high for place, high in self.owed)
        )

    def later(self, clocks: tuple[Tick, ...]) -> tuple[Tick, ...]:
        """The clocks one tick later."""
        if not self.running:
            return clocks
        moved = list(clocks)
        for place, top in self.running:
            if top is None or moved[place] < top:
                moved[place] += 1
        return tuple(moved)


def clockwork(parts: Parts, still: Still, tick: Seconds, unit: int = 1) -> Clockwork:
    """The clockwork of a still part; figures count in `unit` for each tick."""
    system, places = parts.system, parts.clocks

    def ticks(time: Seconds) -> Tick:
        count = time / tick
        assert count.denominator == 1, "the tick divides every duration"
        return count.numerator * unit

    due: list[tuple[int, Tick, Ready]] = []
    offers: list[tuple[int, Tick, Ready]] = []
    owed: list[tuple[int, Tick]] = []
    barred: list[tuple[int, Tick]] = []
    running: list[tuple[int, Tick | None]] = []

    def runs(place: int, time: Seconds, timer: Timer) -> None:
        due.append((place, ticks(time), parts.bit(timer)))
        running.append((place, None))

    for number, machine in enumerate(system.machines):
        here, place = (number, still.values[number]), places.stay + number
        left = parts.delays[here][still.expired[number] :]
        if left:
            runs(place, left[0], Timer("stay", machine.name, left[0]))
        elif parts.over[here]:
            running.append((place, ticks(max(time for time, _ in parts.over[here]))))
        for time, over in parts.over[here]:
            offers.append((place, ticks(time) + 1, parts.over_bit(over)))
    for number, rule in enumerate(parts.takes_rules):
        takes = rule.takes
        assert takes is not None
        if still.counting[number]:
            place = places.takes + number
            running.append((place, ticks(max(takes.low, takes.high or Fraction(0)))))
            if still.values[parts.machine_numbers[rule.machine]] in rule.sources:
                offers.append((place, ticks(takes.low) + takes.low_strict, parts.offer_bit(number)))
            if still.waiting[number] and takes.high is not None:
                (barred if takes.high_strict else owed).append((place, ticks(takes.high)))
    for index, timed in enumerate(system.timed):
        if still.phases[index] == "running":
            runs(places.timed + index, timed.time, Timer("timed", time=timed.time, index=index))
    for number, alert in enumerate(system.alerts):
        status, _, silenced = still.alerts[number]
        if status == "on" and alert.repeat is not None:
            runs(places.repeat + number, alert.repeat, Timer("repeat", alert.name, alert.repeat))
        if silenced and alert.silence_for is not None:
            timer = Timer("silence", alert.name, alert.silence_for)
            runs(places.silence + number, alert.silence_for, timer)
    return Clockwork(
        tuple(due), tuple(offers), tuple(owed), tuple(running), still.settled, tuple(barred)
    )
