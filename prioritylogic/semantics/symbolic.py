"""The reactions of a System as terms; with `symbolic_time.py`, its steps.

What: the same meaning as `reference.py`, said once for all states; tests hold the two together on
random runs. Choices of the environment (new inputs, expiries, offers, ties) are free variables with a
constraint. Everything else is a function of the state and the choices, so that no solver searches for
it.

What it does not do: requirements (engines/transition.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from prioritylogic.model.system import (
    Alert,
    Domain,
    Input,
    Machine,
    Memory,
    OneOf,
    Real,
    Rule,
    Seconds,
    Whole,
)
from prioritylogic.semantics.state import Timer
from prioritylogic.semantics.symbolic_time import AlertTerms, Standing, StateTerms, sort_of
from prioritylogic.semantics.terms import Sort, Term
from prioritylogic.semantics.translate import PhaseTerms, Scene, Shown, Symbol


@dataclass
class ReactionTerms:
    """What a reaction does.

    Attributes:
        scene: what requirements read.
        choices: its free variables, by name.
        allowed: the condition under which these choices are a reaction.
        in_range: whether no memory leaves its domain.
        after: the new value of each state variable, by name.
        due: for each timer, whether it is due, and whether it then runs out.
        enabled, takeable, written: of each rule, whether it is (with nothing that beats it), and what
            it would write.
        expires: the timers that run out.
    """

    scene: Scene
    choices: dict[str, Term] = field(default_factory=dict)
    allowed: list[Term] = field(default_factory=list)
    in_range: list[Term] = field(default_factory=list)
    after: dict[str, Term] = field(default_factory=dict)
    due: list[tuple[Term, Term]] = field(default_factory=list)
    enabled: dict[str, Term] = field(default_factory=dict)
    takeable: dict[str, Term] = field(default_factory=dict)
    written: dict[str, dict[str, Symbol]] = field(default_factory=dict)
    expires: dict[Timer, Term] = field(default_factory=dict)
    writers: dict[str, list[Term]] = field(default_factory=dict)


class Symbolic(Standing):
    """The steps of one System."""

    # ----------------------------------------------------------------- reactions

    def first(self) -> ReactionTerms:
        """The reaction at time 0."""
        reaction = ReactionTerms(Scene({}, {}, {}, {}, {}))
        inputs = self._inputs(reaction, first=True)
        return self._react(self.blank(inputs), inputs, reaction)

    def reaction(self, state: StateTerms) -> ReactionTerms:
        """Any other reaction, from a state."""
        reaction = ReactionTerms(Scene({}, {}, {}, {}, {}))
        inputs = self._inputs(reaction, first=False)
        if self.system.one_input_at_a_time:
            changes = [
                self.terms.negation(self.same(inputs[v.name], state.values[v.name]))
                for v in self.system.inputs
            ]
            reaction.allowed.append(self.terms.at_most_one(changes))
        return self._react(state, inputs, reaction)

    def _choice(self, reaction: ReactionTerms, name: str, sort: Sort) -> Term:
        return reaction.choices.setdefault(name, self.terms.var(name, sort))

    def _inputs(self, reaction: ReactionTerms, first: bool) -> dict[str, Symbol]:
        t = self.terms
        inputs: dict[str, Symbol] = {}
        for variable in self.system.inputs:
            name, domain = variable.name, variable.domain
            if first and variable.start is not None:
                inputs[name] = self.constant(variable.start)
            elif isinstance(domain, OneOf):
                left, names = t.true, {}
                for value in domain.values[:-1]:
                    bit = self._choice(reaction, f"next {name} is {value}", "Bool")
                    names[value] = t.all(left, bit)
                    left = t.all(left, t.negation(bit))
                inputs[name] = {**names, domain.values[-1]: left}
            else:
                inputs[name] = self._choice(reaction, f"next {name}", sort_of(domain))
                reaction.allowed.append(self.inside(domain, inputs[name]))
        return inputs

    def _react(
        self, state: StateTerms, inputs: Mapping[str, Symbol], reaction: ReactionTerms
    ) -> ReactionTerms:
        t, system = self.terms, self.system
        scene = reaction.scene = Scene(
            now={**state.values, **inputs},
            was=state.values,
            phases=state.phases,
            alerts={name: alert.shown for name, alert in state.alerts.items()},
            alerts_was={name: alert.shown for name, alert in state.alerts.items()},
            expiring=self._expiring(state, reaction),
        )
        entered: dict[str, Term] = {}
        moved: dict[str, Term] = {}
        after_alerts: dict[str, AlertTerms] = {}
        machines = {machine.name: machine for machine in system.machines}
        for name in system.order:
            scene = reaction.scene = replace(scene, known={})
            if name in machines:
                entered[name], moved[name] = self._move(machines[name], state, reaction)
            else:
                after_alerts[name] = self._alert(system.alert(name), state, reaction)
            scene = reaction.scene
        if system.interleaved:
            movers = [moved[name] for name in system.order if name in system.interleaved]
            reaction.allowed.append(t.at_most_one(movers))
            idle = [
                t.negation(reaction.enabled[r.id])
                for name in sorted(system.interleaved)
                for r in machines[name].rules
                if not r.optional
            ]
            reaction.allowed.append(t.any(*movers, t.all(*idle)))
        scene = reaction.scene = replace(scene, known={})
        reaction.allowed += [
            self.true(a.holds, scene) for a in system.assumptions if a.holds is not None
        ]
        self._finish(state, reaction, entered, after_alerts)
        return reaction

    def _expiring(self, state: StateTerms, reaction: ReactionTerms) -> dict[int, Term]:
        """Free choices to let what is due expire."""
        t = self.terms

        def may_expire(name: str, running: Term, clock: Term, time: Seconds) -> Term:
            due = t.all(running, t.same(clock, t.const(time)))
            if due is t.false:
                return due
            gone = t.all(self._choice(reaction, name, "Bool"), due)
            reaction.due.append((due, gone))
            return gone

        for machine in self.system.machines:
            for time, gone in state.passed[machine.name].items():
                running = t.all(self.waits(machine, time, state.values), t.negation(gone))
                reaction.expires[Timer("stay", machine.name, time)] = may_expire(
                    f"expires {machine.name} {time}", running, state.stays[machine.name], time
                )
        for alert in self.system.alerts:
            now = state.alerts[alert.name]
            on, name = now.on(t), alert.name
            if alert.repeat is not None:
                reaction.expires[Timer("repeat", name, alert.repeat)] = may_expire(
                    f"expires {name} repeat", on, now.time, alert.repeat
                )
            if alert.silence_for is not None:
                silenced = t.all(on, now.silenced)
                reaction.expires[Timer("silence", name, alert.silence_for)] = may_expire(
                    f"expires {name} silence", silenced, now.silence, alert.silence_for
                )
        return {
            number: may_expire(
                f"expires timer{number}",
                state.phases[number].running,
                state.times[number],
                self.system.timed[number].time,
            )
            for number in self._timers
            if number not in self.watched
        }

    def _move(self, machine: Machine, state: StateTerms, reaction: ReactionTerms) -> tuple[Term, Term]:
        """The machine takes at most one rule: whether it enters a state, whether it takes any."""
        t, scene = self.terms, reaction.scene
        interleaved = machine.name in self.system.interleaved
        rules = machine.rules
        enabled = {r.id: self._enabled(r, state, scene, reaction.expires) for r in rules}
        reaction.enabled.update(enabled)
        at_once = [r for r in rules if not r.optional]
        takeable = {r.id: self._takeable(r, enabled, at_once) for r in rules}
        reaction.takeable.update(takeable)
        for rule in rules:
            reaction.written[rule.id] = {n: self.value(right, scene) for n, right in rule.writes}
        takes: dict[str, Term] = {}
        for rule in rules:
            can = takeable[rule.id]
            rivals = [r for r in rules if self._may_tie(rule, r, takeable)]
            free = rule.optional or interleaved or any(rivals)
            if free and can is not t.false:
                can = t.all(can, self._choice(reaction, f"takes {rule.id}", "Bool"))
                for rival in rivals:
                    if rival.id in takes:
                        reaction.allowed.append(t.negation(t.all(can, takes[rival.id])))
            takes[rule.id] = can
        moved = t.any(*takes.values())
        if not interleaved:
            reaction.allowed.append(t.implies(t.any(*(enabled[r.id] for r in at_once)), moved))
        entered = t.any(*(takes[r.id] for r in rules if r.target is not None))
        now = dict(scene.now)
        here = now[machine.name]
        for rule in rules:
            if rule.target is not None:
                here = self.choose(takes[rule.id], self.constant(rule.target), here)
        now[machine.name] = here
        for name in dict.fromkeys(name for rule in rules for name, _ in rule.writes):
            self._write(name, machine, takes, now, reaction)
        reaction.scene = replace(scene, now=now, taken={**scene.taken, **takes}, known={})
        return entered, moved

    def _may_tie(self, one: Rule, other: Rule, takeable: Mapping[str, Term]) -> bool:
        """Whether both may be takeable at once, as far as a look at them tells."""
        return (
            one is not other
            and bool(one.sources & other.sources)
            # What an at-once candidate beats is not takeable beside it.
            and not (one.id in other.beats and not other.optional)
            and not (other.id in one.beats and not one.optional)
            and self.terms.all(takeable[one.id], takeable[other.id]) is not self.terms.false
        )

    def _write(
        self,
        name: str,
        machine: Machine,
        takes: Mapping[str, Term],
        now: dict[str, Symbol],
        reaction: ReactionTerms,
    ) -> None:
        """One memory name, as this machine leaves it; where another machine wrote something else,
        either value may stay."""
        t, before = self.terms, reaction.scene.now[name]
        value = before
        writes = []
        for rule in machine.rules:
            for written, _ in rule.writes:
                if written == name:
                    value = self.choose(takes[rule.id], reaction.written[rule.id][name], value)
                    writes.append(takes[rule.id])
        earlier = t.any(*reaction.writers.get(name, ()))
        if earlier is not t.false:
            kept = self._choice(reaction, f"keeps {name} from {machine.name}", "Bool")
            value = self.choose(t.all(earlier, kept), before, value)
        reaction.writers.setdefault(name, []).append(t.any(*writes))
        now[name] = value

    def _alert(self, alert: Alert, state: StateTerms, reaction: ReactionTerms) -> AlertTerms:
        """The table in `Alert`, line by line."""
        t, scene, was = self.terms, reaction.scene, state.alerts[alert.name]
        raised = self.true(alert.raise_, scene)
        begins = t.all(raised, t.negation(was.held))
        was_on = was.on(t)
        cleared = self.true(alert.clear, scene) if alert.clear is not None else t.negation(raised)
        stays = t.all(was_on, t.negation(cleared), t.negation(begins))
        on = t.any(begins, stays)
        shut = t.false if alert.clear is None else t.all(was_on, cleared)
        is_cleared = t.all(t.negation(begins), raised, t.any(shut, was.shown.cleared))
        expires = {timer.kind: e for timer, e in reaction.expires.items() if timer.name == alert.name}
        repeats, over = expires.get("repeat", t.false), expires.get("silence", t.false)
        asked = t.false if alert.silence_by is None else self.true(alert.silence_by, scene)
        silenced = t.all(stays, t.any(asked, t.all(was.silenced, t.negation(over))))
        sounds = t.any(begins, t.all(stays, repeats, t.negation(silenced)))
        after = AlertTerms(
            Shown(t.any(on, is_cleared), is_cleared),
            t.false,
            t.choose(t.any(begins, repeats), t.zero, was.time),
            silenced,
            t.choose(asked, t.zero, was.silence),
        )
        reaction.scene = replace(
            scene,
            alerts={**scene.alerts, alert.name: after.shown},
            sounds={**scene.sounds, alert.name: sounds},
            known={},
        )
        return after

    # ----------------------------------------------------------------- the end of a reaction

    def _finish(
        self,
        state: StateTerms,
        reaction: ReactionTerms,
        entered: Mapping[str, Term],
        alerts: Mapping[str, AlertTerms],
    ) -> None:
        """The state variables after the reaction."""
        t, system, scene, after = self.terms, self.system, reaction.scene, reaction.after
        stored: list[Input | Memory] = [*system.inputs, *system.memory]
        for variable in stored:
            self._store(variable.name, variable.domain, scene.now[variable.name], after)
        for memory in system.memory:
            reaction.in_range.append(self.inside(memory.domain, scene.now[memory.name]))
        for machine in system.machines:
            name, enters = machine.name, entered[machine.name]
            self._store(name, OneOf(machine.states), scene.now[name], after)
            if name in state.stays:
                after[f"{name}.time"] = t.choose(enters, t.zero, state.stays[name])
            for number, (time, gone) in enumerate(state.passed[name].items(), 1):
                gone = t.any(gone, reaction.expires[Timer("stay", name, time)])
                after[f"{name}.over{number}"] = t.all(t.negation(enters), gone)
        for rule in self._takes:
            assert rule.takes is not None
            if rule.takes.since:
                restarts = t.any(
                    *(scene.taken[r] for r in {**dict.fromkeys(rule.takes.since), rule.id: None})
                )
                after[f"{rule.id}.counting"] = t.any(restarts, state.counting[rule.id])
            else:
                begins = t.negation(state.counting[rule.id])
                restarts = t.any(begins, entered[rule.machine], scene.taken[rule.id])
            after[f"{rule.id}.clock"] = t.choose(restarts, t.zero, state.takes[rule.id])
        for number in self._timers:
            bit, restart = self._next(number, state, scene)
            after[f"{self._timer(number)}.done"] = bit
            after[f"{self._timer(number)}.time"] = t.choose(restart, t.zero, state.times[number])
        for alert in system.alerts:
            now = alerts[alert.name]
            after[f"{alert.name}.raised"], after[f"{alert.name}.cleared"] = now.shown
            if alert.repeat is not None:
                after[f"{alert.name}.since"] = now.time
            if alert.silence_for is not None:
                after[f"{alert.name}.silenced"] = now.silenced
                after[f"{alert.name}.silence"] = now.silence

    def rest_after(self, reaction: ReactionTerms) -> Scene:
        """What holds at rest after a reaction."""
        scene = reaction.scene
        phases: dict[int, PhaseTerms] = {}
        rest = Scene(scene.now, scene.now, phases, scene.alerts, scene.alerts)
        for number in self._timers:
            phases[number] = self._phase(number, reaction.after[f"{self._timer(number)}.done"], rest)
        return rest

    def _store(self, name: str, domain: Domain, value: Symbol, after: dict[str, Term]) -> None:
        if isinstance(domain, OneOf):
            assert not isinstance(value, Term)
            for each in domain.values:
                if f"{name} is {each}" in self.variables:
                    after[f"{name} is {each}"] = value.get(each, self.terms.false)
            return
        assert isinstance(value, Term)
        match domain:
            case Whole():
                value = self.terms.whole(value)
            case Real():
                value = self.terms.real(value)
        after[name] = value

    def _next(self, number: int, state: StateTerms, scene: Scene) -> tuple[Term, Term]:
        """A timed condition's stored bit after a reaction, and whether its clock starts over."""
        t, timed, phase = self.terms, self.system.timed[number], state.phases[number]
        now = self.true(timed.condition, scene)
        expires = scene.expiring.get(number, t.false)
        active = t.any(phase.running, phase.holding)
        if timed.kind == "for":
            done = t.all(now, active, t.any(phase.holding, expires))
            return done, t.negation(t.all(now, active))
        restarts = t.any(now, phase.holding)
        return t.any(restarts, t.all(phase.running, t.negation(expires))), restarts
