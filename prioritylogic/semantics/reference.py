"""The meaning of a System, executed: short, slow, obviously right.

What: the two kinds of step (a reaction; time passes), and nothing else. Everything another part of
the package claims is replayed here. It shares no code with any engine but `System` and `Formula`,
works on exact rationals, and prefers the plainest way to say a thing to the fastest.

What it does not do: search (give it every choice and it gives every outcome), observe requirements
(see `judgement.py`), or anything about text.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from prioritylogic.model.formula import Value
from prioritylogic.model.system import (
    Alert,
    Flag,
    Machine,
    OneOf,
    Real,
    Rule,
    Seconds,
    System,
    Whole,
)
from prioritylogic.semantics.clocks import Clocks
from prioritylogic.semantics.state import ZERO, AlertState, Moment, Phase, State, Stay, Tie, Timer, View


@dataclass(frozen=True, slots=True)
class Draft:
    """A reaction while its machines and alerts are evaluated one after the other."""

    now: Mapping[str, Value]
    alerts: Mapping[str, AlertState]
    taken: tuple[Rule, ...] = ()
    sounds: frozenset[str] = frozenset()
    ties: frozenset[Tie] = frozenset()
    writers: Mapping[str, tuple[tuple[str, Value], ...]] = field(default_factory=dict)  # by memory


class Reference(Clocks):
    """The steps of one System.

    >>> # reference = Reference(system)
    >>> # for moment in reference.starts(inputs): ...
    >>> # for moment in reference.reactions(moment.after, inputs, expired): ...
    """

    def __init__(self, system: System) -> None:
        super().__init__(system)
        self._machines = {machine.name: machine for machine in system.machines}

    # ----------------------------------------------------------------- choices of the environment

    def input_choices(
        self, state: State | None, analog: Mapping[str, Iterable[Fraction]] | None = None
    ) -> Iterator[tuple[Value, ...]]:
        """Every way to set the inputs; analog ones take the values given in `analog`.

        Before the first reaction (state None) inputs with a start have it.
        """
        choices: list[tuple[Value, ...]] = []
        for variable in self.system.inputs:
            if state is None and variable.start is not None:
                choices.append((variable.start,))
                continue
            match variable.domain:
                case Flag():
                    choices.append((False, True))
                case OneOf(values):
                    choices.append(values)
                case Whole(low, high):
                    choices.append(tuple(Fraction(n) for n in range(low, high + 1)))
                case Real():
                    choices.append(tuple((analog or {})[variable.name]))
        for inputs in itertools.product(*choices):
            if state is not None and self.system.one_input_at_a_time:
                changed = sum(a != b for a, b in zip(inputs, state.values, strict=False))
                if changed > 1:
                    continue
            yield inputs

    # ----------------------------------------------------------------- reactions

    def starts(self, inputs: tuple[Value, ...]) -> Iterator[Moment]:
        """Every outcome of the reaction at time 0 under these inputs."""
        empty = State(inputs, (), (), (), ())
        yield from self._react(self.blank(empty), inputs, frozenset(), first=True, offers=True)

    def reactions(
        self, state: State, inputs: tuple[Value, ...], expired: frozenset[Timer], offers: bool = True
    ) -> Iterator[Moment]:
        """Every outcome of a reaction: any optional rules may be offered (none without `offers`).

        Requires `expired` to be a subset of `due(state)`. Leaves out what an assumption excludes.
        """
        yield from self._react(state, inputs, expired, first=False, offers=offers)

    def stutters(self, state: State) -> list[Moment]:
        """The outcomes of the stutter reaction: same inputs, nothing expires, nothing is offered."""
        inputs = state.values[: len(self.system.inputs)]
        return list(self._react(state, inputs, frozenset(), first=False, offers=False, assumed=False))

    def _react(
        self,
        state: State,
        inputs: tuple[Value, ...],
        expired: frozenset[Timer],
        *,
        first: bool,
        offers: bool,
        assumed: bool = True,
    ) -> Iterator[Moment]:
        was = self.named(state)
        now = was | dict(zip(self.names, inputs, strict=False))
        # Of the interleaved machines with candidates exactly one moves; None: none has any.
        movers: tuple[str | None, ...] = (*sorted(self.system.interleaved), None)
        for mover in movers if self.system.interleaved else (None,):
            for draft in self._evaluate(
                state,
                was,
                Draft(now, self.alerts_of(state)),
                self.system.order,
                expired,
                first,
                offers,
                mover,
            ):
                moment = self._finish(state, draft, expired, first)
                if not assumed or self._allowed(moment):
                    yield moment

    def _allowed(self, moment: Moment) -> bool:
        view = self.reaction_view(moment)
        return all(self.true(a.holds, view) for a in self.system.assumptions if a.holds is not None)

    def _evaluate(
        self,
        state: State,
        was: Mapping[str, Value],
        draft: Draft,
        order: tuple[str, ...],
        expired: frozenset[Timer],
        first: bool,
        offers: bool,
        mover: str | None,
    ) -> Iterator[Draft]:
        """Evaluates the machines and alerts of `order`, one after the other, along every choice."""
        if not order:
            yield draft
            return
        view = View(
            now=draft.now,
            was=was,
            phases=state.timed,
            alerts_now=draft.alerts,
            alerts_was=self.alerts_of(state),
            expiring=frozenset(t.index for t in expired if t.kind == "timed"),
            taken=frozenset(rule.id for rule in draft.taken),
            sounds=draft.sounds,
        )
        name = order[0]
        if name in self._machines:
            nexts = self._machine_outcomes(
                self._machines[name], state, view, draft, expired, offers, mover
            )
        else:
            nexts = iter(
                [self._alert_outcome(self.system.alert(name), state, view, draft, expired, first)]
            )
        for following in nexts:
            yield from self._evaluate(state, was, following, order[1:], expired, first, offers, mover)

    # ----------------------------------------------------------------- machines

    def _machine_outcomes(
        self,
        machine: Machine,
        state: State,
        view: View,
        draft: Draft,
        expired: frozenset[Timer],
        offers: bool,
        mover: str | None,
    ) -> Iterator[Draft]:
        interleaved = machine.name in self.system.interleaved
        if interleaved and mover not in (machine.name, None):
            yield draft
            return
        enabled = [r for r in machine.rules if self._enabled(machine, r, state, view, expired)]
        at_once = [r for r in enabled if not r.optional]
        optional = [r for r in enabled if r.optional] if offers else []
        if interleaved and mover is None:
            if not at_once:
                yield draft
            return
        # An at-once rule is beaten by at-once ones only when nothing is offered, and an offered one
        # meets the fewest rivals when it is offered alone: so these are all the outcomes.
        takeable = [
            r for r in (*at_once, *optional) if not any(r.id in rival.beats for rival in at_once)
        ]
        for rule in takeable:
            ties = self._ties(machine, rule, at_once, view)
            yield from self._take(rule, view, draft, ties)
        if not at_once and not interleaved:
            yield draft

    def _enabled(
        self, machine: Machine, rule: Rule, state: State, view: View, expired: frozenset[Timer]
    ) -> bool:
        """A candidate, or for an optional rule one that may be offered."""
        here = str(view.was[machine.name])
        if here not in rule.sources:
            return False
        stay = state.stays[self.system.machines.index(machine)]
        if rule.delay is not None:
            if rule.delay.strict:
                if not stay.clock > rule.delay.time:
                    return False
            else:
                expiries = machine.delays(here)
                gone = stay.expired + (Timer("stay", machine.name, rule.delay.time) in expired)
                if expiries.index(rule.delay.time) >= gone:
                    return False
        if rule.takes is not None:
            clock = state.takes[self.takes_rules.index(rule)]
            if (
                clock is None
                or clock < rule.takes.low
                or (clock == rule.takes.low and rule.takes.low_strict)
            ):
                return False
        return self.true(rule.guard, view)

    def candidate(self, rule: Rule, moment: Moment) -> bool:
        """Whether a rule was a candidate in a recorded reaction, not the first of its run (an optional
        one: whether it would have been, if offered)."""
        assert moment.before is not None, "nothing comes about in the first reaction of a run"
        machine, view = self.system.machine(rule.machine), self.reaction_view(moment)
        return self._enabled(machine, rule, moment.before, view, moment.expired)

    def _ties(self, machine: Machine, rule: Rule, at_once: list[Rule], view: View) -> frozenset[Tie]:
        """The conflicts that taking this at-once rule settles by chance."""
        if machine.tie_either or rule.optional:
            return frozenset()
        rivals = [r for r in at_once if r != rule and not any(r.id in other.beats for other in at_once)]
        effect = (rule.target, self._written(rule, view))
        return frozenset(
            Tie((min(rule.id, r.id), max(rule.id, r.id)))
            for r in rivals
            if (r.target, self._written(r, view)) != effect
        )

    def _written(self, rule: Rule, view: View) -> dict[str, Value]:
        return {name: self.value(right, view) for name, right in rule.writes}

    def _take(self, rule: Rule, view: View, draft: Draft, ties: frozenset[Tie]) -> Iterator[Draft]:
        """The rule is taken; where another machine wrote something else, each value is tried."""
        now = dict(draft.now)
        if rule.target is not None:
            now[rule.machine] = rule.target
        writers = dict(draft.writers)
        clashes: dict[str, Value] = {}
        for name, value in self._written(rule, view).items():
            for other, written in writers.get(name, ()):
                if written != value:
                    ties |= {Tie((min(other, rule.id), max(other, rule.id)), name)}
            if writers.get(name) and now[name] != value:
                clashes[name] = value
            else:
                now[name] = value
            writers[name] = (*writers.get(name, ()), (rule.id, value))
        for kept in itertools.product(*[(now[name], value) for name, value in clashes.items()]):
            yield Draft(
                now=now | dict(zip(clashes, kept, strict=True)),
                alerts=draft.alerts,
                taken=(*draft.taken, rule),
                sounds=draft.sounds,
                ties=draft.ties | ties,
                writers=writers,
            )

    # ----------------------------------------------------------------- alerts

    def _alert_outcome(
        self,
        alert: Alert,
        state: State,
        view: View,
        draft: Draft,
        expired: frozenset[Timer],
        first: bool,
    ) -> Draft:
        was = view.alerts_was[alert.name]
        raised = self.true(alert.raise_, view)
        held = not first and self.true(alert.raise_, self.rest_view(state))
        on = AlertState("on", None if alert.repeat is None else ZERO)
        sounds = False
        if raised and not held:
            after, sounds = on, True
        elif was.status == "on" and alert.clear is not None and self.true(alert.clear, view):
            after = AlertState("cleared" if raised else "idle")
        elif was.status == "on" and alert.clear is None and not raised:
            after = AlertState()
        elif was.status == "on":
            silence = was.silence
            if Timer("silence", alert.name, alert.silence_for or ZERO) in expired:
                silence = None
            if alert.silence_by is not None and self.true(alert.silence_by, view):
                silence = ZERO
            repeat = was.repeat
            if Timer("repeat", alert.name, alert.repeat or ZERO) in expired:
                repeat, sounds = ZERO, silence is None
            after = AlertState("on", repeat, silence)
        elif was.status == "cleared" and not raised:
            after = AlertState()
        else:
            after = was
        return Draft(
            now=draft.now,
            alerts={**draft.alerts, alert.name: after},
            taken=draft.taken,
            sounds=draft.sounds | {alert.name} if sounds else draft.sounds,
            ties=draft.ties,
            writers=draft.writers,
        )

    # ----------------------------------------------------------------- the end of a reaction

    def _finish(self, before: State, draft: Draft, expired: frozenset[Timer], first: bool) -> Moment:
        """All clocks and phases, from what happened and what is true at rest."""
        system = self.system
        taken = frozenset(rule.id for rule in draft.taken)
        after = State(
            values=tuple(draft.now[name] for name in self.names),
            stays=tuple(
                self._stay_after(machine, stay, draft, expired)
                for machine, stay in zip(system.machines, before.stays, strict=True)
            ),
            takes=before.takes,
            timed=before.timed,
            alerts=tuple(draft.alerts[name] for name in self._alert_names),
        )
        moment = Moment(
            before=None if first else before,
            after=after,
            expired=expired,
            taken=taken,
            sounds=draft.sounds,
            ties=draft.ties,
            out_of_range=next(
                (m.name for m in system.memory if not inside(m.domain, draft.now[m.name])), ""
            ),
        )
        # Inner timed conditions come first: an outer one reads the inner one's new phase at rest.
        phases = list(before.timed)
        for index, timed in enumerate(system.timed):
            if not timed.observed:
                phases[index] = next_phase(
                    timed.kind,
                    before.timed[index],
                    expiring=Timer("timed", time=timed.time, index=index) in expired,
                    in_reaction=self.true(timed.condition, self.reaction_view(moment)),
                    at_rest=self.true(timed.condition, self.rest_view(after, tuple(phases))),
                )
        after = replace(after, timed=tuple(phases))
        rest = self.rest_view(after)
        takes = tuple(
            self._takes_after(rule, clock, rest, draft, first)
            for rule, clock in zip(self.takes_rules, before.takes, strict=True)
        )
        return replace(moment, after=replace(after, takes=takes))

    def _stay_after(self, machine: Machine, stay: Stay, draft: Draft, expired: frozenset[Timer]) -> Stay:
        entered = any(r.machine == machine.name and r.target is not None for r in draft.taken)
        gone = sum(t.kind == "stay" and t.name == machine.name for t in expired)
        stay = Stay() if entered else Stay(stay.clock, stay.expired + gone)
        return self.capped(machine, str(draft.now[machine.name]), stay)

    def _takes_after(
        self, rule: Rule, clock: Seconds | None, rest: View, draft: Draft, first: bool
    ) -> Seconds | None:
        assert rule.takes is not None
        if rule.takes.since:
            restarted = any(r.id in rule.takes.since or r.id == rule.id for r in draft.taken)
            return ZERO if restarted else clock
        if not self.waiting(rule, rest):
            return None
        entered = any(r.machine == rule.machine and r.target is not None for r in draft.taken)
        return ZERO if entered or rule in draft.taken or clock is None else clock

    # ----------------------------------------------------------------- time passes

    def settled(self, state: State) -> bool:
        """Whether the stutter reaction would enter no state, change no value and no alert."""
        return all(self.effectless(moment) for moment in self.stutters(state))

    def effectless(self, moment: Moment) -> bool:
        """Whether a reaction enters no state, changes no value and no alert, and sounds nothing."""
        before, after = moment.before, moment.after
        if before is None or moment.sounds or before.values != after.values:
            return False
        entered = any(self.system.rule(rule).target is not None for rule in moment.taken)
        return not entered and standing(before) == standing(after)

    def may_pass(self, state: State, time: Seconds) -> bool:
        """Whether `time` > 0 may pass from this state without a reaction.

        The caller asks about stretches; a timer that falls due inside the stretch forbids it.
        """
        if not self.settled(state) or self.due(state):
            return False
        for _, left, reach in self.deadlines(state):
            if time > left or (time == left and not reach):
                return False
        return time <= self.until_due(state)


def next_phase(
    kind: Literal["for", "within last"],
    phase: Phase,
    *,
    expiring: bool,
    in_reaction: bool,
    at_rest: bool,
) -> Phase:
    """The phase of a timed condition after a reaction (the table in `TimedCondition`)."""
    if kind == "for":
        if not at_rest:
            return Phase()
        if not in_reaction or phase.name == "idle":
            return Phase("running")
        return Phase("holding") if expiring else phase
    if at_rest:
        return Phase("holding")
    if in_reaction or phase.name == "holding":
        return Phase("running")
    return Phase() if expiring else phase


def inside(domain: object, value: Value) -> bool:
    """Whether a value belongs to a domain."""
    match domain:
        case Flag():
            return isinstance(value, bool)
        case OneOf(values):
            return value in values
        case Whole(low, high):
            return isinstance(value, Fraction) and value.denominator == 1 and low <= value <= high
        case Real(low, high):
            return isinstance(value, Fraction) and low <= value <= high
    return False


def standing(state: State) -> tuple[tuple[str, bool], ...]:
    """What an alert shows apart from its clocks: its status, and whether it is silenced."""
    return tuple((alert.status, alert.silence is not None) for alert in state.alerts)
