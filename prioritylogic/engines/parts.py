"""A System made ready for exploration: every formula compiled, every rule in its place.

`Parts` is built once and only read afterwards. A state without its clock figures is a `Still`; what
a reaction needs to know of the figures is `Ready`, one bit for each timer that is due and each
`takes` rule that is past its lower end.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, NamedTuple, TypeAlias

from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Flag, Machine, OneOf, Rule, System, Whole
from prioritylogic.semantics.compile import Compiler, Declined, Evaluate, plain
from prioritylogic.semantics.state import Timer

Ready: TypeAlias = int
MOST_VALUES = 1_000  # of one discrete input
PhaseName: TypeAlias = Literal["idle", "running", "holding"]
Status: TypeAlias = Literal["idle", "on", "cleared"]


class Still(NamedTuple):
    """A state without its clock figures.

    `values`: machines, then memory. `expired`: how many delays of each machine's stay. `waiting`: for
    each `takes` rule, whether it is in a source with its guard true at rest. `counting`: whether its
    clock runs. `phases`: of timed conditions. `alerts`: status, whether the cause held at rest,
    whether silenced. `inputs`: remembered ones (None: unknown, or not remembered). `latches`: the
    truth at rest of analog comparisons that may be read later.
    """

    values: tuple[Any, ...]
    expired: tuple[int, ...]
    waiting: tuple[bool, ...]
    counting: tuple[bool, ...]
    phases: tuple[PhaseName, ...]
    alerts: tuple[tuple[Status, bool, bool], ...]
    inputs: tuple[Any, ...]
    latches: tuple[bool, ...]
    settled: bool


@dataclass(frozen=True, slots=True)
class CompiledRule:
    """A rule ready to run. `needs`: how many delays of the stay must have expired, by state."""

    rule: Rule
    guard: Evaluate
    writes: tuple[tuple[int, Evaluate], ...]
    needs: dict[str, int]
    takes: int | None
    over: int | None  # its number among the rules with a strict delay


class Clocks:
    """The places of all clocks: stays, `takes` rules, timed conditions, repeats, silences."""

    def __init__(self, system: System, takes: tuple[Rule, ...]) -> None:
        self.stay = 0
        self.takes = len(system.machines)
        self.timed = self.takes + len(takes)
        self.repeat = self.timed + len(system.timed)
        self.silence = self.repeat + len(system.alerts)
        self.count = self.silence + len(system.alerts)


class Parts:
    """The compiled parts of one System.

    Args:
        system: what is explored.
        facts: further formulas that will be read of its reactions (requirements' conditions), so
            that what they remember is stored.
        dense: whether clocks will be exact; else strict bounds are refused.

    Raises:
        Declined: what exploration cannot read exactly.
    """

    def __init__(self, system: System, facts: tuple[Formula, ...] = (), dense: bool = False) -> None:
        self.system = system
        self._dense = dense
        self.over_rules = tuple(
            r for m in system.machines for r in m.rules if r.delay and r.delay.strict
        )
        self.compiler = Compiler(system)
        self.takes_rules = tuple(r for m in system.machines for r in m.rules if r.takes)
        self.clocks = Clocks(system, self.takes_rules)
        self._compile(facts)
        self.timers: tuple[Timer, ...] = tuple(self._all_timers())
        self._due: dict[Ready, tuple[Timer, ...]] = {0: ()}
        self._timer_bits = {timer: 1 << number for number, timer in enumerate(self.timers)}

    def _compile(self, facts: tuple[Formula, ...]) -> None:
        system, function = self.system, self.compiler.function
        self.rules: dict[tuple[str, str], tuple[list[CompiledRule], list[CompiledRule]]] = {}
        for machine in system.machines:
            compiled = {
                rule.id: self._compiled_rule(machine, rule) for rule in beaters_first(machine.rules)
            }
            for state in machine.states:
                here = [rule for rule in compiled.values() if state in rule.rule.sources]
                at_once = [rule for rule in here if not rule.rule.optional]
                self.rules[machine.name, state] = (at_once, [r for r in here if r.rule.optional])
        self.assumed = [function(a.holds) for a in system.assumptions if a.holds is not None]
        self.conditions = [
            None if t.observed else (function(t.condition), plain(t.condition)) for t in system.timed
        ]
        self.raises = [(function(a.raise_), plain(a.raise_)) for a in system.alerts]
        self.clears = [None if a.clear is None else function(a.clear) for a in system.alerts]
        self.silencers = [
            None if a.silence_by is None else function(a.silence_by) for a in system.alerts
        ]
        for fact in facts:
            function(fact)
        latches = self.compiler.latches
        prepared: list[Evaluate] = []
        while len(prepared) < len(latches):  # a latch's own condition may need another one
            prepared.append(function(latches[len(prepared)]))
        self.latches = tuple(prepared)
        self.allowed = [self._range_check(m.domain) for m in system.memory]
        machines = {machine.name: machine for machine in system.machines}
        self.order = [machines.get(name) or self.compiler.alerts[name] for name in system.order]
        self.movers = (*sorted(system.interleaved), None) if system.interleaved else (None,)
        self.delays = {
            (number, state): machine.delays(state)
            for number, machine in enumerate(system.machines)
            for state in machine.states
        }
        self.machine_numbers = {m.name: n for n, m in enumerate(system.machines)}
        self.over = {
            (number, state): tuple(
                (rule.delay.time, n)
                for n, rule in enumerate(self.over_rules)
                if rule.machine == machine.name and state in rule.sources and rule.delay
            )
            for number, machine in enumerate(system.machines)
            for state in machine.states
        }

    def _compiled_rule(self, machine: Machine, rule: Rule) -> CompiledRule:
        needs = {}
        if rule.delay is not None:
            if rule.delay.strict and not self._dense:
                raise Declined(f"rule {rule.id} waits for `over` a time, a strict bound")
            if not rule.delay.strict:
                needs = {s: machine.delays(s).index(rule.delay.time) + 1 for s in rule.sources}
        strict = rule.takes is not None and (rule.takes.low_strict or rule.takes.high_strict)
        if strict and not self._dense:
            raise Declined(f"rule {rule.id} takes `over` or `under` a time, a strict bound")
        return CompiledRule(
            rule,
            self.compiler.function(rule.guard),
            tuple((self.compiler.slots[n], self.compiler.function(right)) for n, right in rule.writes),
            needs,
            self.takes_rules.index(rule) if rule.takes else None,
            self.over_rules.index(rule) if rule in self.over_rules else None,
        )

    def _all_timers(self) -> list[Timer]:
        system = self.system
        found = []
        for machine in system.machines:
            times = {time for state in machine.states for time in machine.delays(state)}
            found += [Timer("stay", machine.name, time) for time in sorted(times)]
        for index, timed in enumerate(system.timed):
            if not timed.observed:
                found.append(Timer("timed", time=timed.time, index=index))
        for alert in system.alerts:
            found += [Timer("repeat", alert.name, alert.repeat)] if alert.repeat else []
            found += [Timer("silence", alert.name, alert.silence_for)] if alert.silence_for else []
        return found

    @staticmethod
    def _range_check(domain: object) -> Callable[[Any], bool]:
        match domain:
            case Whole(low, high):
                return lambda value: low <= value <= high and value == int(value)
            case OneOf(values):
                return lambda value: value in values
        return lambda value: True

    def blank(self) -> Still:
        """What was before the reaction at time 0."""
        system = self.system
        return Still(
            values=(
                *(m.start for m in system.machines),
                *(plain_value(m.start) for m in system.memory),
            ),
            expired=tuple(0 for _ in system.machines),
            waiting=tuple(False for _ in self.takes_rules),
            counting=tuple(False for _ in self.takes_rules),
            phases=tuple("idle" for _ in system.timed),
            alerts=tuple(("idle", False, False) for _ in system.alerts),
            inputs=tuple(None for _ in system.inputs),
            latches=(),
            settled=False,
        )

    def bit(self, timer: Timer) -> Ready:
        """The bit of a timer."""
        return self._timer_bits[timer]

    def timers_in(self, ready: Ready) -> tuple[Timer, ...]:
        """The timers that are due."""
        known = self._due.get(ready)
        if known is None:
            known = tuple(timer for timer in self.timers if ready & self._timer_bits[timer])
            self._due[ready] = known
        return known

    def offer_bit(self, takes: int) -> Ready:
        """The bit of a `takes` rule, by its number."""
        return 1 << (len(self.timers) + takes)

    def over_bit(self, over: int) -> Ready:
        """The bit of a rule with a strict delay, by its number."""
        return 1 << (len(self.timers) + len(self.takes_rules) + over)


def values_of(domain: object) -> tuple[Any, ...]:
    """The values of a discrete domain, in a fixed order; none for an analog one."""
    match domain:
        case Flag():
            return (False, True)
        case OneOf(values):
            return values
        case Whole(low, high):
            if high - low > MOST_VALUES:
                raise Declined(f"an input has more than {MOST_VALUES} values to try one by one")
            return tuple(range(low, high + 1))
    return ()


def plain_value(value: Any) -> Any:
    """A value as compiled formulas have it: whole numbers as ints."""
    return int(value) if isinstance(value, Fraction) and value.denominator == 1 else value


def beaters_first(rules: tuple[Rule, ...]) -> list[Rule]:
    """The rules with each before those it beats, else in their order."""
    waiting, ordered = list(rules), []
    while waiting:
        free = next(r for r in waiting if not any(r.id in other.beats for other in waiting))
        waiting.remove(free)
        ordered.append(free)
    return ordered
