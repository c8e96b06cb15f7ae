"""Seeded faults: each is a mistake that an engine could have, and each must be noticed.

A fault is put into the running engine, and a small fixed set of systems is checked until either the
engine's own second opinion raises a disagreement or the oracle says otherwise (`tests/agreement`).
A check that would not notice these proves nothing by its silence. Faults in observers are asked of
the direct judgement instead, because the oracle uses the observers too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import oracle
import pytest
from compare import Case, case_of, cases, checked_differences, count_differences, judged_differences
from phrases import Spec

from prioritylogic.engines import cone, part, reacting
from prioritylogic.engines.clockwork import Clockwork
from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.parts import Parts
from prioritylogic.engines.reacting import Course, Reacting
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Watch
from prioritylogic.model import formula as f
from prioritylogic.requirements.observer import Effect, Mode, Observer
from prioritylogic.semantics.compile import Compiler
from prioritylogic.semantics.linear import Below

Patch = pytest.MonkeyPatch
FAULTS: dict[str, Callable[[Patch], None]] = {}

SILENCED: Spec = {  # rare among random ones
    "system": "silenced",
    "inputs": {"b": "button", "s": "signal"},
    "machines": {"m": {"states": ["a0"], "start": "a0"}},
    "alerts": {"al": {"raise": "s", "repeat": "1 s", "silence": {"by": "pressed(b)", "for": "2 s"}}},
    "requirements": [
        {"id": "R1", "while": "al.raised", "expect": "al.sounds", "every": "1 s"},
        {
            "id": "R2",
            "while": "al.raised",
            "expect": "al.sounds",
            "every": "1 s",
            "unless": "pressed(b)",
        },
        {"id": "R3", "after": "pressed(b)", "keep": "not al.sounds", "for": "2 s", "unless": "not s"},
    ],
}


def fault(plant: Callable[[Patch], None]) -> Callable[[Patch], None]:
    """Names a fault after its function."""
    FAULTS[plant.__name__.replace("_", " ")] = plant
    return plant


def after_each(patch: Patch, owner: type, name: str, change: Callable[..., Any]) -> None:
    """Lets `change(result, *arguments)` give what a method gives."""
    old = getattr(owner, name)
    patch.setattr(owner, name, lambda *given, **named: change(old(*given, **named), *given))


WRITTEN: Spec = {
    "system": "written",
    "inputs": {"b": "button", "c": "button"},
    "memory": {"f": {"values": "yes_no", "start": "no"}},
    "machines": {
        "m": {
            "states": ["a0"],
            "start": "a0",
            "rules": [{"id": "m0", "from": "a0", "if": "pressed(b)", "set": {"f": "not f"}}],
        },
        "n": {
            "states": ["z0", "z1"],
            "start": "z0",
            "rules": [{"id": "n0", "from": "z0", "if": "pressed(c)", "to": "z1"}],
        },
    },
    "requirements": [{"id": "R1", "never": "f and b"}],
}


@pytest.fixture(scope="module")
def systems() -> list[Case]:
    made = [case_of(SILENCED), case_of(WRITTEN), *cases(70, 60)]
    assert None not in made
    return [case for case in made if case is not None]


# --------------------------------------------------------------------------- requirements and time


@fault
def an_observer_that_is_not_connected(patch: Patch) -> None:
    after_each(patch, Watch, "outcomes", lambda found, *_: [o._replace(broken=False) for o in found])


@fault
def deadlines_pass_unnoticed(patch: Patch) -> None:
    after_each(patch, Watch, "later", lambda found, *_: (*found[:2], False))


@fault
def an_observer_clock_that_does_not_start_over(patch: Patch) -> None:
    after_each(
        patch, Watch, "outcomes", lambda found, *_: [o._replace(keeps=(1, *o.keeps[1:])) for o in found]
    )


@fault
def timers_that_expire_all_together(patch: Patch) -> None:
    def change(courses: list[Course], table: Table, still: object, ready: int) -> list[Course]:
        due = frozenset(table.parts.timers_in(ready))
        return [course for course in courses if course.expired in (frozenset(), due)]

    after_each(patch, Table, "row", change)


@fault
def timers_that_win_over_every_press(patch: Patch) -> None:
    def change(courses: list[Course], table: Table, still: object, ready: int) -> list[Course]:
        due = frozenset(table.parts.timers_in(ready))
        return [course for course in courses if course.expired == due]

    after_each(patch, Table, "row", change)


@fault
def time_that_passes_a_due_timer(patch: Patch) -> None:
    def blocked(work: Clockwork, clocks: tuple[int, ...]) -> bool:
        return not work.settled or any(clocks[place] >= high for place, high in work.owed)

    patch.setattr(Clockwork, "blocked", blocked)


@fault
def time_that_passes_in_unsettled_states(patch: Patch) -> None:
    old = Clockwork.blocked
    patch.setattr(Clockwork, "blocked", lambda work, clocks: old(work._replace(settled=True), clocks))


@fault
def time_that_passes_what_is_owed(patch: Patch) -> None:
    old = Clockwork.blocked
    patch.setattr(Clockwork, "blocked", lambda work, clocks: old(work._replace(owed=()), clocks))


@fault
def lower_ends_that_are_not_waited_for(patch: Patch) -> None:
    old = Clockwork.ready

    def ready(work: Clockwork, clocks: tuple[int, ...]) -> int:
        return old(work._replace(offers=tuple((place, 0, bit) for place, _, bit in work.offers)), clocks)

    patch.setattr(Clockwork, "ready", ready)


# --------------------------------------------------------------------------- rules


@fault
def ties_that_the_first_rule_wins_silently(patch: Patch) -> None:
    def change(courses: list[Course], *_: object) -> list[Course]:
        left = [c for c in courses if all(t.memory or min(t.rules) in c.taken for t in c.ties)]
        for course in left:
            course.ties = frozenset()
        return left

    after_each(patch, Table, "row", change)


@fault
def ties_that_are_not_told(patch: Patch) -> None:
    patch.setattr(Reacting, "_note_ties", lambda *_: None)


@fault
def priorities_that_are_ignored(patch: Patch) -> None:
    patch.setattr(reacting, "beaten", lambda *_: False)


@fault
def offers_that_are_never_taken(patch: Patch) -> None:
    after_each(patch, Reacting, "__init__", lambda _, made, *__: setattr(made, "offers", False))


@fault
def assumptions_that_are_forgotten(patch: Patch) -> None:
    after_each(patch, Parts, "_compile", lambda _, parts, *__: setattr(parts, "assumed", []))


@fault
def a_stay_that_does_not_start_over(patch: Patch) -> None:
    def change(_: None, made: Reacting, values: tuple[Any, ...], keeps: list[int]) -> None:
        for machine in made.entered:
            keeps[made.parts.machine_numbers[machine]] = 1

    after_each(patch, Reacting, "_stays", change)


@fault
def a_takes_clock_that_does_not_start_over(patch: Patch) -> None:
    def change(found: Any, made: Reacting, rest: object, keeps: list[int]) -> Any:
        for number, counts in enumerate(made.before.counting):
            keeps[made.parts.clocks.takes + number] = int(counts)
        return found

    after_each(patch, Reacting, "_waiting", change)


# --------------------------------------------------------------------------- what is remembered


@fault
def inputs_that_are_not_remembered(patch: Patch) -> None:
    after_each(patch, Table, "remember", lambda found, *_: (None,) * len(found))


@fault
def a_lever_whose_past_is_stale(patch: Patch) -> None:
    def change(course: Course | None, made: Reacting) -> Course | None:
        if course is not None and not made.first:
            course.after = course.after._replace(latches=made.before.latches)
        return course

    after_each(patch, Reacting, "course", change)


@fault
def a_lever_that_is_never_at_its_limit(patch: Patch) -> None:
    patch.setattr(Below, "negated", lambda bound: replace_bound(bound))


def replace_bound(bound: Below) -> Below:
    """The opposite comparison with the wrong strictness."""
    terms = tuple((number, -factor) for number, factor in bound.terms)
    return Below(terms, -bound.limit, bound.or_equal)


@fault
def on_delays_that_a_break_does_not_reset(patch: Patch) -> None:
    def change(phases: tuple[str, ...], made: Reacting, rest: Any, keeps: list[int]) -> tuple[str, ...]:
        kinds = [timed.kind for timed in made.parts.system.timed]
        before = made.before.phases
        return tuple(
            old if kind == "for" and new == "idle" else new
            for kind, old, new in zip(kinds, before, phases, strict=True)
        )

    after_each(patch, Reacting, "_phases", change)


@fault
def an_alert_whose_repeat_does_not_start_over(patch: Patch) -> None:
    after_each(patch, Reacting, "_alert", lambda _, made, number: made.restarted.discard(number))


@fault
def an_alert_that_cannot_be_silenced(patch: Patch) -> None:
    def change(_: None, made: Reacting, number: int) -> None:
        made.silenced[number] = False

    after_each(patch, Reacting, "_alert", change)


@fault
def an_alert_that_rises_again_without_a_new_cause(patch: Patch) -> None:
    after_each(
        patch,
        Reacting,
        "_alerts",
        lambda found, *_: tuple((status, False, silenced) for status, _, silenced in found),
    )


@fault
def a_cone_that_forgets_who_writes_memory(patch: Patch) -> None:
    old = cone.influences

    def influences(system: Any) -> list[tuple[set[str], set[str]]]:
        memory = {variable.name for variable in system.memory}
        return [(what - memory, on) for what, on in old(system)]

    for module in (cone, part):
        patch.setattr(module, "influences", influences)


# --------------------------------------------------------------------------- off by one


@fault
def a_timer_that_is_due_a_tick_early(patch: Patch) -> None:
    def early(work: Clockwork, *_: object) -> Clockwork:
        return work._replace(due=tuple((place, max(time - 1, 0), bit) for place, time, bit in work.due))

    after_each(patch, Explorer, "clockwork", early)


@fault
def a_deadline_that_is_a_tick_too_late(patch: Patch) -> None:
    old = Watch.__init__

    def later(watch: Watch, *given: Any, **named: Any) -> None:
        old(watch, *given, **named)
        watch.figure += 1

    patch.setattr(Watch, "__init__", later)


@fault
def saturated_clocks_that_run_on(patch: Patch) -> None:
    def on(work: Clockwork, *_: object) -> Clockwork:
        return work._replace(running=tuple((place, None) for place, _ in work.running))

    after_each(patch, Explorer, "clockwork", on)


@fault
def a_disjunct_that_is_dropped(patch: Patch) -> None:
    def fewer(part: f.Formula) -> f.Formula | None:
        return f.Some(part.parts[:-1]) if isinstance(part, f.Some) and len(part.parts) > 1 else None

    old = Compiler.function
    patch.setattr(Compiler, "function", lambda own, formula: old(own, f.replace(formula, fewer)))


@fault
def a_projection_without_its_settled_bit(patch: Patch) -> None:
    patch.setattr(Reacting, "_settled", lambda *_: True)


# --------------------------------------------------------------------------- noticing


def noticed(systems: list[Case]) -> str:
    """What is first said against the engine, or ""."""
    for case in systems:
        for difference in (*checked_differences(case), *count_differences(case)):
            return difference
    return ""


def test_without_a_fault_nothing_is_said(systems: list[Case]) -> None:
    assert noticed(systems) == ""


def test_there_are_enough_faults() -> None:
    assert len(FAULTS) + len(OBSERVER_FAULTS) >= 30  # and as many again in the provers and regions


@pytest.mark.parametrize("name", FAULTS)
def test_noticed(name: str, systems: list[Case], monkeypatch: pytest.MonkeyPatch) -> None:
    FAULTS[name](monkeypatch)
    said = noticed(systems)
    assert said
    assert not said.startswith("check raises") or "Disagreement" in said, (
        said
    )  # noticed, not stumbled over


# --------------------------------------------------------------------------- observers

OBSERVER_FAULTS: dict[str, Callable[[Effect], Effect]] = {
    "never broken in a reaction": lambda effect: effect._replace(broken=False),
    "the clock never starts over": lambda effect: effect._replace(restart=False),
    "the clock always starts over": lambda effect: effect._replace(restart=effect.mode.pending),
    "what held before is forgotten": lambda effect: effect._replace(
        mode=effect.mode._replace(held=False)
    ),
    "pauses are forgotten": lambda effect: effect._replace(mode=effect.mode._replace(paused=False)),
    "nothing is ever pending": lambda effect: effect._replace(mode=Mode(effect.mode.held)),
}


@pytest.mark.parametrize("name", OBSERVER_FAULTS)
def test_judged_otherwise(name: str, systems: list[Case], monkeypatch: pytest.MonkeyPatch) -> None:
    true, change = oracle.observer, OBSERVER_FAULTS[name]

    def observer(requirement: Any) -> Observer:
        watching = true(requirement)
        assert watching is not None
        step = watching.step
        return replace(watching, step=lambda mode, read: change(step(mode, read)))

    monkeypatch.setattr(oracle, "observer", observer)
    assert any(judged_differences(case, 12) for case in systems)
