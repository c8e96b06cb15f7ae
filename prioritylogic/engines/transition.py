"""One requirement's question about one system, as terms: the transition relation.

A step is "let time pass, then react", in one: half as many steps as two relations would need. It goes
wrong *late* (while time passes) or *broken* (in the reaction). A timed condition that only the
requirement reads changes last in its instant: so the time of a step is a few stretches, with a change
of what is due at the end of each instant in between, as in `judgement.observations`.

The requirement's observer is the one that the explorer runs (requirements/observer.py), its decisions
read off as a tree of `if ... then ... else` over facts. Whether the trigger held at rest is not stored
but read again, so that nothing has to be proved about it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias, cast

from prioritylogic.model.system import System
from prioritylogic.requirements.observer import Effect, Fact, Mode, Observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.parametric import ParametricTerms
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.symbolic import ReactionTerms, Symbolic
from prioritylogic.semantics.symbolic_time import StateTerms
from prioritylogic.semantics.terms import Term, Terms, variables
from prioritylogic.semantics.translate import PhaseTerms, Scene

MOST_CHANGES = 4  # of a requirement's own timed conditions between two reactions


NOTHING = Observer(lambda mode, _: Effect(mode), ())


class Asking(NamedTuple):
    """An observer's state: whether something is asked, and for how long."""

    pending: Term
    time: Term


class Effects(NamedTuple):
    """What an observer makes of a reaction."""

    pending: Term
    restart: Term
    broken: Term


@dataclass(frozen=True)
class Step:
    """A set of steps.

    Attributes:
        allowed: the condition on state and choices under which this is a step.
        in_range: that no memory leaves its domain, so that the run goes on.
        after: the new value of each variable, by name.
        broken: that the reaction breaks the requirement.
        passing: that the time of the step may pass.
        late: that the requirement breaks while it does.
        reaction: the reaction, for reading its choices.
    """

    allowed: Term
    in_range: Term
    after: Mapping[str, Term]
    broken: Term
    passing: Term
    late: Term
    reaction: ReactionTerms


Wrong: TypeAlias = Callable[[Symbolic, ReactionTerms], Term]


class Transition:
    """A system together with one observer.

    Args:
        system: the system, or a cone of it.
        observer: of the requirement; None if only `wrong` is asked.
        wrong: what else counts as broken in a reaction.
        terms: what to make it of; with a setting that is not known, that is a variable which every step
            leaves as it is.

    Attributes:
        terms: the terms that it is made of.
        everything: the variables of a state, by name.
        variables: those on which the requirement depends.
        typing, bounds: what is true of every state (reachable state).
        start, step: the reaction at time 0, and any step after it.
        waits: the stretches of time of a step.

    Raises:
        Declined: the system or the requirement cannot be put in these terms.
    """

    def __init__(
        self,
        system: System,
        observer: Observer | None,
        wrong: Wrong | None = None,
        terms: Terms | None = None,
    ) -> None:
        self.system = system
        self.observer = observer = observer or NOTHING
        self._wrong = wrong
        self.terms = t = terms or Terms()
        formulas = tuple(fact.formula for fact in observer.facts)
        self.symbolic = Symbolic(system, t, observed_timers(system, formulas))
        self.waits = tuple(t.var(f"wait {n}", "Real") for n in range(self._changes() + 1))
        everything = self.everything = dict(self.symbolic.variables)
        asked = self.symbolic.free_name("asked")
        self._names = (asked, f"{asked}.time")
        pending = time = None
        if observer.held is not None:
            pending = everything[asked] = t.var(asked, "Bool")
            if observer.figure is not None:
                time = everything[self._names[1]] = t.var(self._names[1], "Real")
        asking = Asking(pending or t.false, time or t.zero)
        self._frozen = self._setting()
        everything |= self._frozen
        self.start = self._start()
        self.step = self._step(asking)
        typing, bounds = list(self.symbolic.typing), list(self.symbolic.bounds)
        if isinstance(t, ParametricTerms):
            typing.append(t.among)
        if time is not None and pending is not None:
            typing.append(t.below(t.zero, time, True))
            bounds += self._asked_no_longer(asking)
        self.variables = self._live(everything, bounds)
        names = set(self.variables)
        self.typing = [fact for fact in typing if set(variables(fact)) <= names]
        self.bounds = [fact for fact in bounds if set(variables(fact)) <= names]

    @property
    def waiting(self) -> list[Term]:
        """The variable that says whether something is asked, if there is one."""
        return [self.everything[name] for name in self._names[:1] if name in self.variables]

    def _setting(self) -> dict[str, Term]:
        """The setting that is not known, by its name, if there is one."""
        if not isinstance(self.terms, ParametricTerms):
            return {}
        name = str(self.terms.setting.leaf)
        if name in self.everything:
            raise Declined(f"the setting '{name}' has the name of something that a proof speaks of")
        return {name: self.terms.setting}

    def _changes(self) -> int:
        """How often the requirement's own timed conditions can change between two reactions."""
        timed, counts = self.system.timed, dict[int, int]()
        for number in self.symbolic.watched:
            inner = observed_timers(self.system, [timed[number].condition])
            counts[number] = 1 + sum(counts[other] for other in inner)
        if sum(counts.values()) > MOST_CHANGES:
            raise Declined("more than a few timed conditions that only this requirement reads")
        return sum(counts.values())

    def _live(self, everything: Mapping[str, Term], bounds: Sequence[Term]) -> dict[str, Term]:
        """The variables that whether something goes wrong depends on; of a name's values all or none,
        since a fact about some says something of the others."""
        step = self.step
        named = self.symbolic.named.values()
        together = {str(one.leaf): [str(v.leaf) for v in values] for values in named for one in values}
        waiting = list(variables(step.allowed, step.in_range, step.broken, step.late, step.passing))
        found: set[str] = set()
        while waiting:
            name = waiting.pop()
            if name in everything and name not in found:
                found.add(name)
                waiting.extend(variables(step.after[name]))
                waiting.extend(together.get(name, ()))
        return {name: term for name, term in everything.items() if name in found}

    def _asked_no_longer(self, asking: Asking) -> list[Term]:
        """What is asked is not asked for longer than its figure, or the requirement is broken; a
        window that is over asks nothing."""
        t, observer = self.terms, self.observer
        assert observer.figure is not None
        paused = self._paused(asking, self.symbolic.state.rest)
        counts = t.all(asking.pending, t.negation(paused))
        within = t.below(asking.time, t.const(observer.figure), observer.kind == "over")
        return [t.implies(counts, within)]

    # ----------------------------------------------------------------- the observer

    def _paused(self, asking: Asking, rest: Scene) -> Term:
        pauses = self.observer.pauses
        if pauses is None:
            return self.terms.false
        return self.terms.all(asking.pending, self.symbolic.true(pauses.formula, rest))

    def _observe(self, asking: Asking, before: Scene | None, reaction: Scene, rest: Scene) -> Effects:
        """The observer's step as terms; `before` is the state at rest before it, if there was any."""
        t, observer, symbolic = self.terms, self.observer, self.symbolic
        held = paused = t.false
        if before is not None and observer.held is not None:
            held = symbolic.true(observer.held.formula, before)
            paused = self._paused(asking, before)
        mode = {"held": held, "pending": asking.pending, "paused": paused}

        def read(fact: Fact) -> Term:
            return symbolic.true(fact.formula, rest if fact.at_rest else reaction)

        def outcome(answers: tuple[bool, ...]) -> Effects:
            asked: list[Term] = []

            def answer(term: Term) -> bool:
                if term.op == "const":
                    return bool(term.leaf)
                asked.append(term)
                return answers[len(asked) - 1] if len(asked) <= len(answers) else True

            seen = _Mode(lambda name: answer(mode[name]))
            effect = observer.step(cast(Mode, seen), lambda fact: answer(read(fact)))
            pending = effect.mode.pending
            if len(asked) > len(answers):
                either = outcome((*answers, True)), outcome((*answers, False))
                return Effects(
                    *(t.choose(asked[len(answers)], a, b) for a, b in zip(*either, strict=True))
                )
            return Effects(t.const(pending), t.const(effect.restart), t.const(effect.broken))

        return outcome(())

    def _after(self, asking: Asking, effects: Effects) -> Asking:
        return Asking(effects.pending, self.terms.choose(effects.restart, self.terms.zero, asking.time))

    # ----------------------------------------------------------------- the steps

    def _start(self) -> Step:
        t, symbolic = self.terms, self.symbolic
        reaction = symbolic.first()
        idle = Asking(t.false, t.zero)
        effects = self._observe(idle, None, reaction.scene, symbolic.rest_after(reaction))
        among = t.among if isinstance(t, ParametricTerms) else t.true
        return Step(
            t.all(among, *reaction.allowed),
            t.all(*reaction.in_range),
            self._stored(reaction, self._after(idle, effects)),
            self._broken(effects, reaction),
            t.true,
            t.false,
            reaction,
        )

    def _broken(self, effects: Effects, reaction: ReactionTerms) -> Term:
        if self._wrong is None:
            return effects.broken
        return self.terms.any(effects.broken, self._wrong(self.symbolic, reaction))

    def _stored(self, reaction: ReactionTerms, asking: Asking) -> dict[str, Term]:
        return {**reaction.after, **dict(zip(self._names, asking, strict=True)), **self._frozen}

    def _step(self, asking: Asking) -> Step:
        t, symbolic, state = self.terms, self.symbolic, self.symbolic.state
        passing: list[Term] = []
        late: list[Term] = []
        before = t.true
        for wait in self.waits:
            passes = t.below(t.zero, wait)
            if symbolic.watched:
                state, asking, broken = self._change(state, asking, passes)
                late.append(broken)
            limits = [
                t.implies(
                    state.phases[n].running,
                    t.below(t.add(state.times[n], wait), t.const(self.system.timed[n].time), True),
                )
                for n in symbolic.watched
            ]
            may = t.all(before, symbolic.may_pass(state, wait), *limits)
            passing += [t.below(t.zero, wait, True), t.implies(passes, may)]
            asking, over = self._elapse(asking, state.rest, wait)
            late.append(t.all(passes, over))
            state = symbolic.passed(state, wait)
            before = passes
        reaction = symbolic.reaction(state)
        effects = self._observe(asking, state.rest, reaction.scene, symbolic.rest_after(reaction))
        may_pass = t.all(*passing)
        return Step(
            t.all(may_pass, *reaction.allowed),
            t.all(*reaction.in_range),
            self._stored(reaction, self._after(asking, effects)),
            self._broken(effects, reaction),
            may_pass,
            t.any(*late),
            reaction,
        )

    def _elapse(self, asking: Asking, rest: Scene, wait: Term) -> tuple[Asking, Term]:
        """The observer when time has passed, and whether it broke meanwhile."""
        t, observer = self.terms, self.observer
        if observer.figure is None:
            return asking, t.false
        time, figure = t.add(asking.time, wait), t.const(observer.figure)
        if observer.kind == "window":
            return Asking(t.all(asking.pending, t.below(time, figure)), time), t.false
        counts = t.all(asking.pending, t.negation(self._paused(asking, rest)))
        over = t.below(figure, time, observer.kind == "reached")
        return Asking(asking.pending, time), t.all(counts, over)

    def _change(
        self, state: StateTerms, asking: Asking, passes: Term
    ) -> tuple[StateTerms, Asking, Term]:
        """What is due of the requirement's own timed conditions changes, if time passes now."""
        t, symbolic = self.terms, self.symbolic
        due = {
            n: t.all(
                passes,
                state.phases[n].running,
                t.same(state.times[n], t.const(self.system.timed[n].time)),
            )
            for n in symbolic.watched
        }
        scene = replace(state.rest, expiring=due, known={})
        phases, times = dict(state.phases), dict(state.times)
        for n in symbolic.watched:
            condition = self.system.timed[n].condition
            now = symbolic.true(condition, scene)
            at_rest = symbolic.true(condition, replace(state, phases=phases).rest)
            phases[n], restart = next_phase(
                t, self.system.timed[n].kind, phases[n], due[n], now, at_rest
            )
            times[n] = t.choose(restart, t.zero, times[n])
        happens = t.any(*due.values())
        after = replace(state, phases=phases, times=times)
        effects = self._observe(asking, state.rest, scene, after.rest)
        changed = self._after(asking, effects)
        asking = Asking(
            t.choose(happens, changed.pending, asking.pending),
            t.choose(happens, changed.time, asking.time),
        )
        return replace(state, phases=phases, times=times), asking, t.all(happens, effects.broken)


class _Mode:
    """An observer's mode whose parts are asked for one by one."""

    def __init__(self, ask) -> None:  # type: ignore[no-untyped-def]
        self._ask = ask

    @property
    def held(self) -> bool:
        return bool(self._ask("held"))

    @property
    def pending(self) -> bool:
        return bool(self._ask("pending"))

    @property
    def paused(self) -> bool:
        return bool(self._ask("paused"))


def next_phase(
    terms: Terms, kind: str, phase: PhaseTerms, expires: Term, now: Term, at_rest: Term
) -> tuple[PhaseTerms, Term]:
    """A timed condition after a reaction (the table in `TimedCondition`), and whether its clock
    starts over."""
    t = terms
    active = t.any(phase.running, phase.holding)
    goes_on = t.all(phase.running, t.negation(expires))
    if kind == "for":
        restart = t.negation(t.all(now, active))
        running = t.all(at_rest, t.any(restart, goes_on))
        holding = t.all(at_rest, now, t.any(phase.holding, t.all(phase.running, expires)))
        return PhaseTerms(running, holding), restart
    restart = t.any(now, phase.holding)
    return PhaseTerms(t.all(t.negation(at_rest), t.any(restart, goes_on)), at_rest), restart
