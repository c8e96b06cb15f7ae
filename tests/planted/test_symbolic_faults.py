"""Seeded faults in the symbolic reading and its questions: each must be noticed by what the agreement tests
do, on some small number of systems.

A fault in a step is noticed when the symbolic step refuses a step of the reference, or allows a mutated one
(`stepping.py`); a fault in a question when an engine and the oracle differ, or a run does not fail at its
end (`proving.py`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import chain, islice
from typing import Any

import pytest
from compare import case_of, cases
from finer import Timely, fine_case
from phrases import Spec
from proving import Answered, proved_differences
from richer import Richer
from systems import Maker, load
from test_faults import SILENCED, WRITTEN
from test_symbolic import loaded, step_differences

from prioritylogic.engines.transition import Asking, Effects, Transition
from prioritylogic.model import formula as f
from prioritylogic.model.system import System
from prioritylogic.semantics import symbolic_time
from prioritylogic.semantics.symbolic import ReactionTerms, Symbolic
from prioritylogic.semantics.symbolic_time import AlertTerms, Standing, StateTerms
from prioritylogic.semantics.terms import Term
from prioritylogic.semantics.translate import Translator

Patch = pytest.MonkeyPatch
Faults = dict[str, Callable[[Patch], None]]
STEP_FAULTS: Faults = {}
QUESTION_FAULTS: Faults = {}

CLASH: Spec = {
    "system": "clash",
    "inputs": {"b": "button", "c": "button"},
    "memory": {"f": {"values": "yes_no", "start": "no"}},
    "machines": {
        name: {
            "states": [f"{name}0"],
            "start": f"{name}0",
            "rules": [{"id": f"r{name}", "from": f"{name}0", "if": "pressed(b)", "set": {"f": value}}],
        }
        for name, value in {"m": "c", "n": "not c"}.items()
    },
}
STIRRED: Spec = {
    "system": "stirred",
    "inputs": {"b": "button", "s": "signal"},
    "machines": {"m": {"states": ["a0"], "start": "a0"}},
    "alerts": {"al": {"raise": "s", "clear": "s or b"}},
}
COUNTED: Spec = {
    "system": "counted",
    "inputs": {"b": "button"},
    "memory": {"k": {"values": "whole 0 to 1", "start": "0"}},
    "machines": {
        "m": {
            "states": ["a0"],
            "start": "a0",
            "rules": [{"id": "m0", "from": "a0", "if": "pressed(b)", "set": {"k": "k + 1"}}],
        }
    },
}
DELAYED: Spec = {
    "system": "delayed",
    "inputs": {"b": "button"},
    "machines": {
        "m": {
            "states": ["a0", "a1"],
            "start": "a0",
            "rules": [{"id": "m0", "from": "a0", "if": "(b) for 1 s", "may": "yes", "to": "a1"}],
        }
    },
}


def into(faults: Faults) -> Callable[[Callable[[Patch], None]], Callable[[Patch], None]]:
    """Names a fault after its function."""

    def named(plant: Callable[[Patch], None]) -> Callable[[Patch], None]:
        faults[plant.__name__.replace("_", " ")] = plant
        return plant

    return named


def after_each(patch: Patch, owner: type, name: str, change: Callable[..., Any]) -> None:
    """Lets `change(result, *arguments)` give what a method gives."""
    old = getattr(owner, name)
    patch.setattr(owner, name, lambda *given, **named: change(old(*given, **named), *given))


def finished(
    patch: Patch, change: Callable[[Symbolic, StateTerms, ReactionTerms], dict[Term, Term]]
) -> None:
    """Gives state variables another value after each reaction."""

    def changed(
        _: None, made: Symbolic, state: StateTerms, reaction: ReactionTerms, *__: object
    ) -> None:
        for variable, value in change(made, state, reaction).items():
            reaction.after[str(variable.leaf)] = value

    after_each(patch, Symbolic, "_finish", changed)


def another_system(patch: Patch, **changes: Any) -> None:
    """Lets the symbolic reading see the system otherwise."""

    def changed(_: None, made: Symbolic, *__: object) -> None:
        made.system = replace(made.system, **changes)

    after_each(patch, Symbolic, "__init__", changed)


# --------------------------------------------------------------------------- time


@into(STEP_FAULTS)
def a_due_timer_that_may_be_passed(patch: Patch) -> None:
    patch.setattr(Standing, "may_pass", lambda made, state, time: made.settled(state))


@into(STEP_FAULTS)
def a_due_timer_that_is_reached_too_soon(patch: Patch) -> None:
    old = Standing.deadlines
    patch.setattr(Standing, "deadlines", lambda made, state: [(*d[:3], True) for d in old(made, state)])


@into(STEP_FAULTS)
def an_expiry_that_is_not_stored(patch: Patch) -> None:
    def kept(made: Symbolic, state: StateTerms, _: ReactionTerms) -> dict[Term, Term]:
        return {
            variable: state.passed[machine][time]
            for machine, delays in made.state.passed.items()
            for time, variable in delays.items()
        }

    finished(patch, kept)


@into(STEP_FAULTS)
def time_that_passes_while_an_alert_stirs(patch: Patch) -> None:
    patch.setattr(Standing, "_stirs", lambda made, *_: made.terms.false)


@into(STEP_FAULTS)
def time_that_passes_in_unsettled_states(patch: Patch) -> None:
    patch.setattr(Standing, "settled", lambda made, _: made.terms.true)


@into(STEP_FAULTS)
def timers_that_expire_all_together(patch: Patch) -> None:
    old = Symbolic._choice

    def choice(made: Symbolic, reaction: ReactionTerms, name: str, sort: Any) -> Term:
        return old(made, reaction, "expires" if name.startswith("expires") else name, sort)

    patch.setattr(Symbolic, "_choice", choice)


@into(STEP_FAULTS)
def a_takes_clock_that_does_not_start_over(patch: Patch) -> None:
    finished(patch, lambda made, state, __: {made.state.takes[r]: state.takes[r] for r in state.takes})


@into(STEP_FAULTS)
def a_stay_that_does_not_start_over(patch: Patch) -> None:
    finished(patch, lambda made, state, __: {made.state.stays[m]: state.stays[m] for m in state.stays})


@into(STEP_FAULTS)
def a_timer_whose_clock_does_not_start_over(patch: Patch) -> None:
    after_each(patch, Symbolic, "_next", lambda found, made, *_: (found[0], made.terms.false))


@into(STEP_FAULTS)
def an_on_delay_that_a_break_does_not_reset(patch: Patch) -> None:
    def changed(
        found: tuple[Term, Term], made: Symbolic, number: int, state: StateTerms, *_: object
    ) -> Any:
        if state.times[number].op == "const":  # before the first reaction
            return found
        bit = made.variables[f"timer{number}.done"]
        return made.terms.any(found[0], bit), found[1]

    after_each(patch, Symbolic, "_next", changed)


# --------------------------------------------------------------------------- rules


@into(STEP_FAULTS)
def a_clash_that_keeps_only_one_value(patch: Patch) -> None:
    def changed(found: Term, made: Symbolic, _: object, name: str, *__: object) -> Term:
        return made.terms.false if name.startswith("keeps") else found

    after_each(patch, Symbolic, "_choice", changed)


@into(STEP_FAULTS)
def priorities_that_are_ignored(patch: Patch) -> None:
    patch.setattr(Standing, "_takeable", lambda made, rule, enabled, _: enabled[rule.id])


@into(STEP_FAULTS)
def assumptions_that_are_forgotten(patch: Patch) -> None:
    another_system(patch, assumptions=())


@into(STEP_FAULTS)
def inputs_that_change_together(patch: Patch) -> None:
    another_system(patch, one_input_at_a_time=False)


@into(STEP_FAULTS)
def interleaved_machines_that_move_together(patch: Patch) -> None:
    another_system(patch, interleaved=frozenset())


@into(STEP_FAULTS)
def before_that_reads_now(patch: Patch) -> None:
    old = Translator._value

    def value(made: Translator, formula: f.Formula, scene: Any) -> Any:
        return old(made, f.Read(formula.name) if isinstance(formula, f.Read) else formula, scene)

    patch.setattr(Translator, "_value", value)


@into(STEP_FAULTS)
def memory_that_is_never_out_of_range(patch: Patch) -> None:
    after_each(patch, Symbolic, "_finish", lambda _, __, ___, reaction, *____: reaction.in_range.clear())


# --------------------------------------------------------------------------- alerts


@into(STEP_FAULTS)
def a_silence_that_does_not_start_over(patch: Patch) -> None:
    def changed(
        after: AlertTerms, _: Symbolic, alert: Any, state: StateTerms, *__: object
    ) -> AlertTerms:
        return replace(after, silence=state.alerts[alert.name].silence)

    after_each(patch, Symbolic, "_alert", changed)


@into(STEP_FAULTS)
def a_repeat_that_does_not_start_over(patch: Patch) -> None:
    def changed(
        after: AlertTerms, _: Symbolic, alert: Any, state: StateTerms, *__: object
    ) -> AlertTerms:
        return replace(after, time=state.alerts[alert.name].time)

    after_each(patch, Symbolic, "_alert", changed)


@into(STEP_FAULTS)
def an_alert_that_rises_again_without_a_new_cause(patch: Patch) -> None:
    def forgotten(made: AlertTerms, **changes: Any) -> AlertTerms:
        changes.pop("held", None)
        return replace(made, **changes)

    patch.setattr(symbolic_time, "replace", lambda made, **changes: forgotten(made, **changes))


# --------------------------------------------------------------------------- questions


@into(QUESTION_FAULTS)
def an_observer_that_is_not_connected(patch: Patch) -> None:
    def changed(effects: Effects, made: Transition, *_: object) -> Effects:
        return effects._replace(broken=made.terms.false)

    after_each(patch, Transition, "_observe", changed)


@into(QUESTION_FAULTS)
def deadlines_that_pass_unnoticed(patch: Patch) -> None:
    after_each(patch, Transition, "_elapse", lambda found, made, *_: (found[0], made.terms.false))


@into(QUESTION_FAULTS)
def a_window_that_is_closed_at_its_end(patch: Patch) -> None:
    def elapsed(
        found: tuple[Asking, Term], made: Transition, asking: Asking, rest: Any, wait: Term
    ) -> Any:
        t, figure = made.terms, made.observer.figure
        if made.observer.kind != "window" or figure is None:
            return found
        time = t.add(asking.time, wait)
        return Asking(t.all(asking.pending, t.below(time, t.const(figure), True)), time), found[1]

    after_each(patch, Transition, "_elapse", elapsed)


@into(QUESTION_FAULTS)
def a_deadline_that_is_over_when_it_is_reached(patch: Patch) -> None:
    def elapsed(
        found: tuple[Asking, Term], made: Transition, asking: Asking, rest: Any, wait: Term
    ) -> Any:
        t, figure = made.terms, made.observer.figure
        if made.observer.kind != "over" or figure is None:
            return found
        late = t.below(t.const(figure), t.add(asking.time, wait), True)
        return found[0], t.all(asking.pending, t.negation(made._paused(asking, rest)), late)

    after_each(patch, Transition, "_elapse", elapsed)


@into(QUESTION_FAULTS)
def an_observer_clock_that_does_not_start_over(patch: Patch) -> None:
    def changed(effects: Effects, made: Transition, *_: object) -> Effects:
        return effects._replace(restart=made.terms.false)

    after_each(patch, Transition, "_observe", changed)


@into(QUESTION_FAULTS)
def a_trigger_that_is_not_remembered(patch: Patch) -> None:
    old = Transition._observe
    patch.setattr(Transition, "_observe", lambda made, asking, _, *rest: old(made, asking, None, *rest))


@into(QUESTION_FAULTS)
def a_pause_that_is_not_one(patch: Patch) -> None:
    patch.setattr(Transition, "_paused", lambda made, *_: made.terms.false)


@into(QUESTION_FAULTS)
def own_timers_that_never_change(patch: Patch) -> None:
    def changed(_: object, made: Transition, state: StateTerms, asking: Asking, __: Term) -> Any:
        return state, asking, made.terms.false

    after_each(patch, Transition, "_change", changed)


# --------------------------------------------------------------------------- noticing


@pytest.fixture(scope="module")
def stepped() -> list[tuple[int, Spec, System]]:
    """Systems for single steps: some made for a fault, most random."""
    special = (SILENCED, WRITTEN, CLASH, STIRRED, COUNTED, DELAYED) * 4  # four runs' worth of each
    made = [(seed, spec, load(spec)) for seed, spec in enumerate(special)]
    found = [(seed, spec, system) for seed, spec, system in made if system is not None]
    assert len(found) == len(made)
    both = chain.from_iterable(zip(loaded(Maker, 70_000), loaded(Richer, 70_000), strict=False))
    return [*found, *islice(both, 36)]


@pytest.fixture(scope="module")
def asked() -> list[Answered]:
    """Systems with the oracle's answers; the last have timed conditions of a requirement's own."""
    first = case_of(SILENCED)
    assert first is not None
    timely = (fine_case(Timely(seed).spec(), seed, 4, 150) for seed in range(200, 240))
    own = islice((case for case in timely if case is not None and case.graph.states), 12)
    return [Answered.by(case) for case in (first, *cases(71, 24), *own)]


def said_of_steps(systems: list[tuple[int, Spec, System]]) -> str:
    for seed, _, system in systems:
        for difference in step_differences(system, seed, Counter()):
            return difference
    return ""


def said_of_questions(systems: list[Answered]) -> str:
    def all_of_them() -> Iterator[str]:
        for one in systems:
            for requirement in one.system.requirements:
                yield from proved_differences(one, requirement)

    return next(all_of_them(), "")


def test_without_a_fault_nothing_is_said(
    stepped: list[tuple[int, Spec, System]], asked: list[Answered]
) -> None:
    assert said_of_steps(stepped) == ""
    assert said_of_questions(asked) == ""


@pytest.mark.parametrize("name", STEP_FAULTS)
def test_noticed_in_steps(
    name: str, stepped: list[tuple[int, Spec, System]], monkeypatch: pytest.MonkeyPatch
) -> None:
    STEP_FAULTS[name](monkeypatch)
    assert said_of_steps(stepped)


@pytest.mark.parametrize("name", QUESTION_FAULTS)
def test_noticed_in_questions(name: str, asked: list[Answered], monkeypatch: pytest.MonkeyPatch) -> None:
    QUESTION_FAULTS[name](monkeypatch)
    assert said_of_questions(asked)
