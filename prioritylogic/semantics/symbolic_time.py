"""A System's state as variables, and what time does to it: dense time, exact.

A state is written down once, as variables of a solver with what is true of them by their kind. What a
state implies anyway is not stored: a timed condition's phase needs one bit beside what is true at
rest, a `takes` clock runs exactly while its rule waits. A clock keeps running when nobody reads it;
`name.time` is the time since that state was entered, whatever waits for it. Here is also when time may
pass: in a settled state, and not beyond what is due. Reactions are in `symbolic.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from prioritylogic.model import formula as f
from prioritylogic.model.system import (
    Alert,
    Domain,
    Flag,
    Input,
    Machine,
    Memory,
    OneOf,
    Real,
    Rule,
    Seconds,
    System,
    Whole,
)
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.state import Timer
from prioritylogic.semantics.terms import Sort, Term, Terms
from prioritylogic.semantics.translate import Names, PhaseTerms, Scene, Shown, Symbol, Translator


@dataclass(frozen=True)
class AlertTerms:
    """An alert: what it shows, whether its cause held at rest, its clocks."""

    shown: Shown
    held: Term
    time: Term
    silenced: Term
    silence: Term

    def on(self, terms: Terms) -> Term:
        """Raised and not cleared."""
        return terms.all(self.shown.raised, terms.negation(self.shown.cleared))


@dataclass(frozen=True)
class StateTerms:
    """A state.

    Attributes:
        values: inputs, machines and memory.
        stays: for each machine with delays, the time since its state was entered.
        passed: for each machine, which of its delays have run out in this stay.
        counting, takes: for each `takes` rule, whether its clock runs, and its figure.
        phases, times: of timed conditions.
    """

    values: Mapping[str, Symbol]
    stays: Mapping[str, Term]
    passed: Mapping[str, Mapping[Seconds, Term]]
    counting: Mapping[str, Term]
    takes: Mapping[str, Term]
    phases: Mapping[int, PhaseTerms]
    times: Mapping[int, Term]
    alerts: Mapping[str, AlertTerms]

    @cached_property
    def rest(self) -> Scene:
        """The state at rest."""
        shown = {name: alert.shown for name, alert in self.alerts.items()}
        return Scene(self.values, self.values, self.phases, shown, shown)


class Standing(Translator):
    """The states of one System, together with the timed conditions that only a requirement reads.

    Attributes:
        variables: of a state, by name.
        named: those of each thing that has more than two values, of which exactly one is true.
        typing: what is true of every state because of what its variables are.
        bounds: what is true of every reachable state because time may not pass what is due.
        state: a state as variables.

    Raises:
        Declined: where a rule's being taken without effect would have to be guessed.
    """

    def __init__(self, system: System, terms: Terms, watched: tuple[int, ...] = ()) -> None:
        super().__init__(system, terms)
        self.watched = watched
        self.variables: dict[str, Term] = {}
        self.named: dict[str, tuple[Term, ...]] = {}
        self.typing: list[Term] = []
        self.bounds: list[Term] = []
        self._timers = tuple(
            number
            for number, timed in enumerate(system.timed)
            if not timed.observed or number in watched
        )
        self._takes = tuple(r for m in system.machines for r in m.rules if r.takes)
        self._delays = {m.name: delays_of(m) for m in system.machines}
        self._stayed = tuple(m for m in system.machines if any(r.delay for r in m.rules))
        self._refuse_guessing()
        self.state = self._variables()

    # ----------------------------------------------------------------- the state as variables

    def _variable(self, name: str, sort: Sort) -> Term:
        assert name not in self.variables, f"two things of a state are called {name}"
        self.variables[name] = self.terms.var(name, sort)
        return self.variables[name]

    def free_name(self, wish: str) -> str:
        """A name that nothing in the spec has."""
        system = self.system
        used = {variable.name for variable in system.inputs}
        used |= {variable.name for variable in system.memory}
        used |= {*system.order}  # machines and alerts
        return next(name for n in itertools.count() if (name := wish + "_" * n) not in used)

    def _clock(self, name: str) -> Term:
        clock = self._variable(name, "Real")
        self.typing.append(self.terms.below(self.terms.zero, clock, True))
        return clock

    def _stored(self, name: str, domain: Domain) -> Symbol:
        """The variables of a named value."""
        if isinstance(domain, OneOf):
            bits = [
                self._variable(f"{name} is {value}", "Bool")
                for value in (domain.values[:1] if len(domain.values) == 2 else domain.values)
                if len(domain.values) > 1
            ]
            if len(bits) > 1:
                self.named[name] = tuple(bits)
                self.typing.append(self.terms.all(self.terms.any(*bits), self.terms.at_most_one(bits)))
            return self._names(domain.values, bits)
        variable = self._variable(name, sort_of(domain))
        self.typing.append(self.inside(domain, variable))
        return variable

    def _names(self, values: tuple[str, ...], bits: Sequence[Term]) -> Names:
        t = self.terms
        if len(values) == 1:
            return {values[0]: t.true}
        if len(values) == 2:
            return {values[0]: bits[0], values[1]: t.negation(bits[0])}
        return dict(zip(values, bits, strict=True))

    def inside(self, domain: Domain, value: Symbol) -> Term:
        """Whether a value belongs to a domain."""
        t = self.terms
        match domain:
            case OneOf(values):
                assert not isinstance(value, Term)
                return t.all(*(t.negation(is_) for name, is_ in value.items() if name not in values))
            case Whole(low, high):
                assert isinstance(value, Term)
                return t.all(
                    t.is_whole(value),
                    t.below(t.const(low), value, True),
                    t.below(value, t.const(high), True),
                )
            case Real(low, high):
                assert isinstance(value, Term)
                return t.all(t.below(t.const(low), value, True), t.below(value, t.const(high), True))
        return t.true

    def _variables(self) -> StateTerms:
        t, system = self.terms, self.system
        values: dict[str, Symbol] = {}
        stored: list[Input | Memory] = [*system.inputs, *system.memory]
        for variable in stored:
            values[variable.name] = self._stored(variable.name, variable.domain)
        for machine in system.machines:
            values[machine.name] = self._stored(machine.name, OneOf(machine.states))
        stays = {machine.name: self._clock(f"{machine.name}.time") for machine in self._stayed}
        passed = {
            name: {
                time: self._variable(f"{name}.over{number}", "Bool")
                for number, time in enumerate(delays, 1)
            }
            for name, delays in self._delays.items()
        }
        alerts = {}
        for alert in system.alerts:
            name = alert.name
            shown = Shown(
                self._variable(f"{name}.raised", "Bool"), self._variable(f"{name}.cleared", "Bool")
            )
            self.typing.append(t.implies(shown.cleared, shown.raised))
            alerts[name] = AlertTerms(
                shown,
                t.false,
                t.zero if alert.repeat is None else self._clock(f"{name}.since"),
                t.false if alert.silence_for is None else self._variable(f"{name}.silenced", "Bool"),
                t.zero if alert.silence_for is None else self._clock(f"{name}.silence"),
            )
        state = StateTerms(values, stays, passed, {}, {}, {}, {}, alerts)
        phases: dict[int, PhaseTerms] = {}
        times = {}
        for number in self._timers:
            times[number] = self._clock(f"{self._timer(number)}.time")
            bit = self._variable(f"{self._timer(number)}.done", "Bool")
            phases[number] = self._phase(number, bit, replace(state, phases=phases).rest)
        state = replace(state, phases=phases, times=times)
        counting, takes = {}, {}
        for rule in self._takes:
            assert rule.takes is not None
            takes[rule.id] = self._clock(f"{rule.id}.clock")
            since = bool(rule.takes.since)
            counting[rule.id] = (
                self._variable(f"{rule.id}.counting", "Bool") if since else self.waiting(rule, state)
            )
        for alert in system.alerts:
            held = self.true(alert.raise_, state.rest)
            alerts[alert.name] = replace(alerts[alert.name], held=held)
        state = replace(state, counting=counting, takes=takes, alerts=alerts)
        self._bound(state)
        return state

    def _timer(self, number: int) -> str:
        """What a timed condition is called."""
        return self.free_name(f"timer{number}")

    def _phase(self, number: int, bit: Term, rest: Scene) -> PhaseTerms:
        """A phase from its stored bit (`for`: done; `within last`: it runs unless true at rest)."""
        t, timed = self.terms, self.system.timed[number]
        holds = self.true(timed.condition, rest)
        if timed.kind == "for":
            return PhaseTerms(t.all(holds, t.negation(bit)), t.all(holds, bit))
        return PhaseTerms(t.all(t.negation(holds), bit), holds)

    def _bound(self, state: StateTerms) -> None:
        """What no reachable state goes beyond: a clock is never past what is due."""
        t = self.terms
        for running, clock, time, strict in self.deadlines(state):
            self.bounds.append(t.implies(running, t.below(clock, t.const(time), not strict)))
        for number in self.watched:
            figure = t.const(self.system.timed[number].time)
            running = state.phases[number].running
            self.bounds.append(t.implies(running, t.below(state.times[number], figure, True)))
        for delays in self.passed_in_order(state):
            self.bounds.append(delays)

    def passed_in_order(self, state: StateTerms) -> Iterable[Term]:
        """An expired delay's time is over, and only a state that has the delay has it expired."""
        t = self.terms
        for machine in self.system.machines:
            for time, gone in state.passed[machine.name].items():
                yield t.implies(gone, t.below(t.const(time), state.stays[machine.name], True))
                yield t.implies(gone, self.waits(machine, time, state.values))

    def blank(self, inputs: Mapping[str, Symbol]) -> StateTerms:
        """What was before the first reaction: its inputs, every start, no clock running."""
        t, system = self.terms, self.system
        starts = {v.name: self.constant(v.start) for v in system.memory}
        starts |= {m.name: self.constant(m.start) for m in system.machines}
        return StateTerms(
            {**inputs, **starts},
            dict.fromkeys(self.state.stays, t.zero),
            {name: dict.fromkeys(delays, t.false) for name, delays in self._delays.items()},
            {rule.id: t.false for rule in self._takes},
            {rule.id: t.zero for rule in self._takes},
            {number: PhaseTerms(t.false, t.false) for number in self._timers},
            dict.fromkeys(self._timers, t.zero),
            {
                alert.name: AlertTerms(Shown(t.false, t.false), t.false, t.zero, t.false, t.zero)
                for alert in system.alerts
            },
        )

    # ----------------------------------------------------------------- time passes

    def waits(self, machine: Machine, time: Seconds, values: Mapping[str, Symbol]) -> Term:
        """Whether the machine is in a state that has this delay."""
        here = values[machine.name]
        assert not isinstance(here, Term)
        states = {
            s
            for r in machine.rules
            if r.delay and r.delay.time == time and not r.delay.strict
            for s in r.sources
        }
        return self.terms.any(*(is_ for state, is_ in here.items() if state in states))

    def waiting(self, rule: Rule, state: StateTerms) -> Term:
        """In one of the rule's sources with its guard true at rest."""
        return self.terms.all(self._source(rule, state.values), self.true(rule.guard, state.rest))

    def _source(self, rule: Rule, values: Mapping[str, Symbol]) -> Term:
        here = values[rule.machine]
        assert not isinstance(here, Term)
        return self.terms.any(*(is_ for state, is_ in here.items() if state in rule.sources))

    def deadlines(self, state: StateTerms) -> Iterable[tuple[Term, Term, Seconds, bool]]:
        """What time may not pass: while `running`, a clock may not go beyond a figure (strict: nor
        reach it)."""
        t = self.terms
        for machine in self.system.machines:
            for time, gone in state.passed[machine.name].items():
                running = t.all(self.waits(machine, time, state.values), t.negation(gone))
                yield running, state.stays[machine.name], time, False
        for number in self._timers:
            if number not in self.watched:
                yield (
                    state.phases[number].running,
                    state.times[number],
                    self.system.timed[number].time,
                    False,
                )
        for alert in self.system.alerts:
            now = state.alerts[alert.name]
            if alert.repeat is not None:
                yield now.on(t), now.time, alert.repeat, False
            if alert.silence_for is not None:
                yield t.all(now.on(t), now.silenced), now.silence, alert.silence_for, False
        for rule in self._takes:
            assert rule.takes is not None
            if rule.takes.high is not None and not rule.takes.since:
                counting = state.counting[rule.id]
                yield counting, state.takes[rule.id], rule.takes.high, rule.takes.high_strict

    def limits(self, state: StateTerms) -> Iterable[tuple[Term, Term, Seconds, bool]]:
        """The same, with what is owed since some rule was taken: its clock may be past its end when the
        guard comes true, so that here no bound of a state follows."""
        yield from self.deadlines(state)
        for rule in self._takes:
            assert rule.takes is not None
            if rule.takes.high is not None and rule.takes.since:
                owed = self.terms.all(state.counting[rule.id], self.waiting(rule, state))
                yield owed, state.takes[rule.id], rule.takes.high, rule.takes.high_strict

    def may_pass(self, state: StateTerms, time: Term) -> Term:
        """Whether this time, more than nothing, may pass without a reaction."""
        t = self.terms
        ahead = [
            t.implies(running, t.below(t.add(clock, time), t.const(figure), not strict))
            for running, clock, figure, strict in self.limits(state)
        ]
        return t.all(self.settled(state), *ahead)

    def passed(self, state: StateTerms, time: Term) -> StateTerms:
        """The state after this time."""
        t = self.terms

        def later(clock: Term) -> Term:
            return t.add(clock, time)

        return replace(
            state,
            stays={name: later(clock) for name, clock in state.stays.items()},
            takes={rule: later(clock) for rule, clock in state.takes.items()},
            times={number: later(clock) for number, clock in state.times.items()},
            alerts={
                name: replace(alert, time=later(alert.time), silence=later(alert.silence))
                for name, alert in state.alerts.items()
            },
        )

    def settled(self, state: StateTerms) -> Term:
        """Whether the stutter reaction would enter no state, change no value and no alert."""
        t = self.terms
        scene = replace(state.rest, known={}, taken={})
        effects: list[Term] = []
        for name in self.system.order:
            alert = next((a for a in self.system.alerts if a.name == name), None)
            if alert is not None:
                effects.append(self._stirs(alert, state, scene))
                continue
            machine = self.system.machine(name)
            scene = replace(scene, known={})
            at_once = [rule for rule in machine.rules if not rule.optional]
            enabled = {r.id: self._enabled(r, state, scene, {}) for r in at_once}
            for rule in at_once:
                takeable = self._takeable(rule, enabled, at_once)
                changes = [
                    t.negation(self.same(self.value(right, scene), state.values[written]))
                    for written, right in rule.writes
                ]
                effect = t.true if rule.target is not None else t.any(*changes)
                effects.append(t.all(takeable, effect))
                scene.taken = {**scene.taken, rule.id: takeable}
        return t.negation(t.any(*effects))

    def _enabled(
        self, rule: Rule, state: StateTerms, scene: Scene, expires: Mapping[Timer, Term]
    ) -> Term:
        """A candidate, or for an optional rule one that may be offered."""
        t = self.terms
        parts = [self._source(rule, state.values)]
        if rule.delay is not None and rule.delay.strict:
            parts.append(t.below(t.const(rule.delay.time), state.stays[rule.machine]))
        elif rule.delay is not None:
            gone = state.passed[rule.machine][rule.delay.time]
            parts.append(t.any(gone, expires.get(Timer("stay", rule.machine, rule.delay.time), t.false)))
        if rule.takes is not None:
            low = t.below(t.const(rule.takes.low), state.takes[rule.id], not rule.takes.low_strict)
            parts += [state.counting[rule.id], low]
        if t.all(*parts) is t.false:
            return t.false
        return t.all(*parts, self.true(rule.guard, scene))

    def _takeable(self, rule: Rule, enabled: Mapping[str, Term], at_once: Iterable[Rule]) -> Term:
        """Enabled, and no candidate beats it."""
        t = self.terms
        beaten = t.any(*(enabled[r.id] for r in at_once if rule.id in r.beats))
        return t.all(enabled[rule.id], t.negation(beaten))

    def _stirs(self, alert: Alert, state: StateTerms, scene: Scene) -> Term:
        """Whether an alert changes or sounds in a stutter reaction."""
        t, now = self.terms, state.alerts[alert.name]
        scene = replace(scene, known={})
        raised = self.true(alert.raise_, scene)
        begins = t.all(raised, t.negation(now.held))
        ends = t.negation(raised) if alert.clear is None else self.true(alert.clear, scene)
        silences = t.false if alert.silence_by is None else self.true(alert.silence_by, scene)
        on = now.on(t)
        return t.any(
            begins,
            t.all(on, ends),
            t.all(on, silences, t.negation(now.silenced)),
            t.all(now.shown.cleared, t.negation(raised)),
        )

    def _refuse_guessing(self) -> None:
        """A stutter may take any of several rules without effect, and `taken` may ask which."""
        formulas = [rule.guard for m in self.system.machines for rule in m.rules]
        formulas += [right for m in self.system.machines for r in m.rules for _, right in r.writes]
        for alert in self.system.alerts:
            parts = (alert.raise_, alert.clear, alert.silence_by)
            formulas += [part for part in parts if part is not None]
        asked = {
            rule
            for top in formulas
            for part in f.walk(top)
            if isinstance(part, f.Taken)
            for rule in part.rules
        }
        for machine in self.system.machines:
            idle = [r for r in machine.rules if r.target is None and not r.optional]
            tied = any(a.sources & b.sources for n, a in enumerate(idle) for b in idle[:n])
            guessed = [r for r in idle if r.id in asked]
            if guessed and (tied or machine.name in self.system.interleaved):
                raise Declined(
                    f"`taken` asks about '{guessed[0].family}', which may be taken without effect while "
                    "another rule could be"
                )


def delays_of(machine: Machine) -> tuple[Seconds, ...]:
    """Every different delay of a machine that expires, shortest first."""
    return tuple(sorted({r.delay.time for r in machine.rules if r.delay and not r.delay.strict}))


def sort_of(domain: Domain) -> Sort:
    """The sort of a value that is no name."""
    match domain:
        case Flag():
            return "Bool"
        case Whole():
            return "Int"
    return "Real"
