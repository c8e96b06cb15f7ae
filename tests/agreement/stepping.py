"""Steps of the reference, true ones and mutated ones, put to the symbolic step: it must allow exactly
what the reference allows.

A recorded step (what was before, the time that passed, what expired, was taken and sounded, what is
after) becomes equations between the symbolic state's terms and the figures; so nothing here depends
on how the symbolic state is stored. What the reference does not keep, a clock that nothing waits for,
is left open. Z3 then says whether the symbolic step can be this one. A mutation changes one thing of
the record; the reference is asked as well whether it knows that step.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import z3
from oracle import subsets

from prioritylogic.engines.solving import Translated
from prioritylogic.engines.transition import Transition
from prioritylogic.model.formula import Value
from prioritylogic.model.system import Flag, Machine, OneOf, Real, System, Whole
from prioritylogic.requirements.observer import Effect, Observer
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import AlertState, Moment, Phase, Run, State, Stay, Timer
from prioritylogic.semantics.symbolic_time import StateTerms
from prioritylogic.semantics.terms import Term

NOTHING_ASKED = Observer(lambda mode, read: Effect(mode), ())
MARKS = 20  # of a lever: figures of a step; the limits in random specs are among them
A_BIT = Fraction(1, 7)  # no multiple of any tick


@dataclass(frozen=True)
class Record:
    """A step: `before` None for the first reaction."""

    before: State | None
    wait: Fraction
    expired: frozenset[Timer]
    taken: frozenset[str]
    sounds: frozenset[str]
    after: State

    @classmethod
    def of(cls, before: State | None, wait: Fraction, moment: Moment) -> Record:
        return cls(before, wait, moment.expired, moment.taken, moment.sounds, moment.after)


class Stepping:
    """One system's steps, both ways."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.reference = Reference(system)
        self.transition = Transition(system, NOTHING_ASKED)
        self._terms = self.transition.terms
        self._solvers = {}
        symbolic = self.transition.symbolic
        for part, first in ((self.transition.start, True), (self.transition.step, False)):
            context = z3.Context()
            solver, translated = z3.Solver(ctx=context), Translated(context)
            known = () if first else (*symbolic.typing, *symbolic.bounds)
            for fact in (part.allowed, part.in_range, *known):
                solver.add(translated.of(fact))
            self._solvers[first] = solver, translated

    # ----------------------------------------------------------------- what each says

    def known(self, record: Record) -> bool:
        """Whether the reference knows the step."""
        inputs = record.after.values[: len(self.system.inputs)]
        if record.before is None:
            offered = self.reference.starts(inputs) if self._may_start(inputs) else iter(())
        else:
            state = record.before
            if record.wait < 0 or (record.wait and not self.reference.may_pass(state, record.wait)):
                return False
            state = self.reference.passed(state, record.wait) if record.wait else state
            if not record.expired <= self.reference.due(state) or not self._may_be(inputs, state):
                return False
            offered = self.reference.reactions(state, inputs, record.expired)
        wanted = replace(record, after=self._plain(record.after))
        for moment in offered:
            made = Record.of(record.before, record.wait, moment)
            if replace(made, after=self._plain(made.after)) == wanted and not moment.out_of_range:
                return True
        return False

    def _plain(self, state: State) -> State:
        """The state without what cannot matter: how far a stay is beyond its strict delays."""
        stays = []
        for machine, stay in zip(self.system.machines, state.stays, strict=True):
            here = str(self.reference.named(state)[machine.name])
            strict = strict_delays(self.system, machine.name, here)
            free = strict and stay.expired == len(machine.delays(here))
            beyond = free and stay.clock > max(strict)
            stays.append(Stay(max(strict) + 1, stay.expired) if beyond else stay)
        return replace(state, stays=tuple(stays))

    def _may_start(self, inputs: tuple[Value, ...]) -> bool:
        return all(
            variable.start in (None, value)
            for variable, value in zip(self.system.inputs, inputs, strict=True)
        )

    def _may_be(self, inputs: tuple[Value, ...], state: State) -> bool:
        changed = sum(a != b for a, b in zip(inputs, state.values, strict=False))
        return changed <= 1 or not self.system.one_input_at_a_time

    def allowed(self, record: Record) -> bool:
        """Whether the symbolic step can be this one."""
        first = record.before is None
        transition = self.transition
        part = transition.start if first else transition.step
        facts = []
        if record.before is not None:
            facts += self._state(record.before)
            facts.append(self._is(transition.waits[0], record.wait))
        facts += self._terms.substitute(self._state(record.after), part.after)
        reaction = part.reaction
        for timer, term in reaction.expires.items():
            facts.append(self._is(term, timer in record.expired))
        timed = {timer.index for timer in record.expired if timer.kind == "timed"}
        for number, term in reaction.scene.expiring.items():
            facts.append(self._is(term, number in timed))
        for rule in (rule for machine in self.system.machines for rule in machine.rules):
            facts.append(self._is(reaction.scene.taken[rule.id], rule.id in record.taken))
        for alert in self.system.alerts:
            facts.append(self._is(reaction.scene.sounds[alert.name], alert.name in record.sounds))
        solver, translated = self._solvers[first]
        solver.push()
        solver.add(*map(translated.of, facts))
        answer = solver.check()
        solver.pop()
        assert answer != z3.unknown
        return bool(answer == z3.sat)

    # ----------------------------------------------------------------- a state as equations

    def _is(self, term: Term, value: bool | Fraction) -> Term:
        return self._terms.same(term, self._terms.const(value))

    def _state(self, state: State) -> list[Term]:
        symbols = self.transition.symbolic.state
        values = self.reference.named(state)
        return [
            *self._values(symbols, values),
            *self._stays(symbols, state, values),
            *self._takes(symbols, state),
            *self._phases(symbols, state),
            *self._alerts(symbols, state),
        ]

    def _values(self, symbols: StateTerms, values: dict[str, Value]) -> Iterator[Term]:
        for thing, value in values.items():
            symbol = symbols.values[thing]
            if isinstance(value, str):
                assert not isinstance(symbol, Term)
                yield from (self._is(holds, value == name) for name, holds in symbol.items())
            else:
                assert isinstance(symbol, Term)
                yield self._is(symbol, value)

    def _stays(self, symbols: StateTerms, state: State, values: dict[str, Value]) -> Iterator[Term]:
        t = self._terms
        for machine, stay in zip(self.system.machines, state.stays, strict=True):
            here = str(values[machine.name])
            delays = machine.delays(here)
            for number, time in enumerate(delays):
                yield self._is(symbols.passed[machine.name][time], number < stay.expired)
            strict = strict_delays(self.system, machine.name, here)
            if stay.expired < len(delays):
                yield self._is(symbols.stays[machine.name], stay.clock)
            elif strict and stay.clock > max(strict):
                yield t.below(t.const(max(strict)), symbols.stays[machine.name])
            elif strict:
                yield self._is(symbols.stays[machine.name], stay.clock)

    def _takes(self, symbols: StateTerms, state: State) -> Iterator[Term]:
        t = self._terms
        for rule, clock in zip(self.reference.takes_rules, state.takes, strict=True):
            assert rule.takes is not None
            yield self._is(symbols.counting[rule.id], clock is not None)
            top = max(rule.takes.low, rule.takes.high or Fraction(0)) + 1
            if clock is not None:
                figure = symbols.takes[rule.id]
                yield t.below(t.const(top), figure, True) if clock == top else self._is(figure, clock)

    def _phases(self, symbols: StateTerms, state: State) -> Iterator[Term]:
        for number, phase in enumerate(state.timed):
            if not self.system.timed[number].observed:
                yield self._is(symbols.phases[number].running, phase.name == "running")
                yield self._is(symbols.phases[number].holding, phase.name == "holding")
                if phase.name == "running":
                    yield self._is(symbols.times[number], phase.clock)

    def _alerts(self, symbols: StateTerms, state: State) -> Iterator[Term]:
        for alert, at in zip(self.system.alerts, state.alerts, strict=True):
            terms = symbols.alerts[alert.name]
            yield self._is(terms.shown.raised, at.status != "idle")
            yield self._is(terms.shown.cleared, at.status == "cleared")
            yield self._is(terms.silenced, at.silence is not None)
            if at.repeat is not None:
                yield self._is(terms.time, at.repeat)
            if at.silence is not None:
                yield self._is(terms.silence, at.silence)


def strict_delays(system: System, machine: str, here: str) -> list[Fraction]:
    """The delays of a state that say `over`."""
    rules = system.machine(machine).rules
    return [r.delay.time for r in rules if r.delay and r.delay.strict and here in r.sources]


# --------------------------------------------------------------------------- true steps, mutated steps


def some_inputs(system: System, state: State | None, dice: random.Random) -> tuple[Value, ...]:
    """Inputs that may follow a state (None: at the start), any of them changed or none."""
    place = dice.randrange(len(system.inputs) or 1)
    likely = dice.choice([0.0, 0.3, 0.6, 1.0])
    inputs: list[Value] = []
    for number, variable in enumerate(system.inputs):
        if state is None and variable.start is not None:
            inputs.append(variable.start)
            continue
        if state is not None:
            still = number != place if system.one_input_at_a_time else dice.random() >= likely
            if still:
                inputs.append(state.values[number])
                continue
        match variable.domain:
            case Flag():
                inputs.append(dice.random() < 0.5)
            case OneOf(values):
                inputs.append(dice.choice(values))
            case Whole(low, high):
                inputs.append(Fraction(dice.randint(low, high)))
            case Real(low, high):
                inputs.append(low + (high - low) * Fraction(dice.randint(0, MARKS), MARKS))
    return tuple(inputs)


def steps(
    reference: Reference, dice: random.Random, length: int
) -> Iterator[tuple[State | None, Fraction, Moment]]:
    """A random run: before each reaction the state and the time that passes, which may be any figure,
    not only one on a grid."""
    offered = list(reference.starts(some_inputs(reference.system, None, dice)))
    before, wait = None, Fraction(0)
    for _ in range(length):
        if not offered:
            return
        moment = dice.choice(offered)
        yield before, wait, moment
        if moment.out_of_range:
            return
        before, wait = moment.after, Fraction(0)
        state = before
        if dice.random() < 0.6:
            left = min(reference.until_due(state), Fraction(5))
            ends = [left, *(end for _, end, _ in reference.deadlines(state)), left / dice.randint(2, 5)]
            longest = dice.choice(ends)
            if longest > 0 and reference.may_pass(state, longest):
                state, wait = reference.passed(state, longest), longest
        inputs = some_inputs(reference.system, state, dice)
        due = list(subsets(reference.due(state)))
        expired = dice.choice(due[1:] or due) if dice.random() < 0.8 else frozenset[Timer]()
        offered = list(reference.reactions(state, inputs, expired))


def records(reference: Reference, dice: random.Random, length: int) -> Iterator[Record]:
    """The steps of a random run, as long as nothing is out of range."""
    for before, wait, moment in steps(reference, dice, length):
        if not moment.out_of_range:
            yield Record.of(before, wait, moment)


def random_run(reference: Reference, dice: random.Random, length: int) -> Run | None:
    """A random run that ends with its last reaction."""
    time, moments = Fraction(0), list[Moment]()
    for _, wait, moment in steps(reference, dice, length):
        time += wait
        moments.append(replace(moment, time=time))
    return Run(tuple(moments), time) if moments else None


def loosened(system: System) -> System:
    """The system without what only forbids: priorities, assumptions, how inputs and machines take turns.
    Its states are the system's."""

    def tame(machine: Machine) -> Machine:
        return replace(machine, rules=tuple(replace(rule, beats=frozenset()) for rule in machine.rules))

    return replace(
        system,
        machines=tuple(map(tame, system.machines)),
        assumptions=(),
        interleaved=frozenset(),
        one_input_at_a_time=False,
    )


def strayed(loose: Reference, record: Record, dice: random.Random) -> Record | None:
    """Another step from where a record starts, of a loosened system, or one that ends out of range."""
    state = record.before
    if state is not None and record.wait:
        state = loose.passed(state, record.wait)
    offered: list[Moment] = []
    for _ in range(3):
        inputs = some_inputs(loose.system, record.before, dice)
        offered += (
            loose.starts(inputs) if state is None else loose.reactions(state, inputs, record.expired)
        )
    offered = [moment for moment in offered if moment.out_of_range] or offered
    return Record.of(record.before, record.wait, dice.choice(offered)) if offered else None


def mutated(system: System, record: Record, dice: random.Random) -> Record | None:
    """The record with one thing changed; None if there is nothing of the kind that was drawn."""
    kind = dice.choice(["value", "value", "clock", "wait", "expired", "taken", "sounds", "alert", "bit"])
    after = record.after
    if kind == "value":
        domains = [v.domain for v in system.inputs] + [OneOf(m.states) for m in system.machines]
        domains += [v.domain for v in system.memory]
        place = dice.randrange(len(domains))
        value = other_value(domains[place], after.values[place], dice)
        if value is None:
            return None
        values = (*after.values[:place], value, *after.values[place + 1 :])
        return replace(record, after=replace(after, values=values))
    if kind == "wait":
        if record.before is None:
            return None
        return replace(record, wait=record.wait + dice.choice([A_BIT, -A_BIT, Fraction(1), Fraction(3)]))
    if kind == "expired":
        timers = [
            *(Timer("stay", m.name, t) for m in system.machines for s in m.states for t in m.delays(s)),
            *(
                Timer("timed", time=t.time, index=n)
                for n, t in enumerate(system.timed)
                if not t.observed
            ),
            *(Timer("repeat", a.name, a.repeat) for a in system.alerts if a.repeat),
            *(Timer("silence", a.name, a.silence_for) for a in system.alerts if a.silence_for),
        ]
        if not timers or record.before is None:
            return None
        return replace(record, expired=record.expired ^ {dice.choice(timers)})
    if kind == "taken":
        rules = [rule.id for machine in system.machines for rule in machine.rules]
        return replace(record, taken=record.taken ^ {dice.choice(rules)}) if rules else None
    if not system.alerts and kind in ("alert", "sounds"):
        return None
    if kind == "sounds":
        return replace(record, sounds=record.sounds ^ {dice.choice(system.alerts).name})
    changed = state_mutant(system, after, kind, dice)
    return None if changed is None else replace(record, after=changed)


def other_value(domain: object, value: Value, dice: random.Random) -> Value | None:
    """Another value of the same domain."""
    match domain:
        case Flag():
            return not value
        case OneOf(values):
            return dice.choice([v for v in values if v != value] or [None])
        case Whole(low, high):
            return dice.choice([Fraction(n) for n in range(low, high + 1) if n != value] or [None])
        case Real(low, high):
            assert isinstance(value, Fraction)
            return dice.choice([low, high, (low + high) / 2, (value + high) / 2])
    return None


def state_mutant(system: System, state: State, kind: str, dice: random.Random) -> State | None:
    """A state with one clock (of those that count), one bit of a timer or one alert changed."""
    off = dice.choice([A_BIT, Fraction(1), Fraction(1, 2)])
    reference = Reference(system)
    values = reference.named(state)
    made: list[State] = []
    for n, stay in enumerate(state.stays):
        machine = system.machines[n]
        delays = machine.delays(str(values[machine.name]))
        changed = []
        if kind == "clock" and stay.expired < len(delays):
            changed = [Stay(stay.clock + off, stay.expired)]
        if kind == "bit" and delays:
            changed = [Stay(stay.clock, e) for e in range(len(delays)) if e != stay.expired]
        for other in changed:
            made.append(replace(state, stays=(*state.stays[:n], other, *state.stays[n + 1 :])))
    for n, takes in enumerate(state.takes):
        rule = reference.takes_rules[n].takes
        assert rule is not None
        top = max(rule.low, rule.high or Fraction(0)) + 1
        clocks: list[Fraction | None] = []
        if kind == "clock" and takes is not None and takes + off < top:
            clocks = [takes + off]
        if kind == "bit":
            clocks = [Fraction(0) if takes is None else None]
        for clock in clocks:
            made.append(replace(state, takes=(*state.takes[:n], clock, *state.takes[n + 1 :])))
    for n, phase in enumerate(state.timed):
        phases: list[Phase] = []
        if kind == "clock" and phase.name == "running":
            phases = [Phase("running", phase.clock + off)]
        if kind == "bit" and not system.timed[n].observed:
            phases = [p for p in (Phase(), Phase("running"), Phase("holding")) if p.name != phase.name]
        for one in phases:
            made.append(replace(state, timed=(*state.timed[:n], one, *state.timed[n + 1 :])))
    for n, at in enumerate(state.alerts):
        alert = system.alerts[n]
        ats: list[AlertState] = []
        if kind == "clock" and at.repeat is not None:
            ats.append(replace(at, repeat=at.repeat + off))
        if kind == "clock" and at.silence is not None:
            ats.append(replace(at, silence=at.silence + off))
        if kind == "alert":
            running = None if alert.repeat is None else Fraction(0)
            every = [AlertState(), AlertState("on", running), AlertState("cleared")]
            ats += [other for other in every if other.status != at.status]
            if at.status == "on" and alert.silence_for:
                ats.append(replace(at, silence=Fraction(0) if at.silence is None else None))
        for moved in ats:
            made.append(replace(state, alerts=(*state.alerts[:n], moved, *state.alerts[n + 1 :])))
    return dice.choice(made) if made else None
