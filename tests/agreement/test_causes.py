"""Every cause that is named is needed, and names its line: on failing runs of random systems, by another
way of following a timetable than that of engines/causes.py, on the reference alone.

Here all runs are followed side by side, instant by instant, and a rule is taken away in the text.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import pytest
from compare import Case, cases
from systems import load

from prioritylogic.engines.causes import Deed, causes, deeds
from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.evidence.explanation import Cause
from prioritylogic.model.system import Possible, Requirement
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State

SYSTEMS, MANY = 30, 20_000


@dataclass(frozen=True)
class Here:
    moments: tuple[Moment, ...]
    state: State | None
    now: Fraction
    over: bool = False


class TooManyError(Exception):
    """More runs than anyone wants to follow."""


def shown(reference: Reference, requirement: Requirement, run: Run) -> bool:
    judgement = Judgement(reference, requirement, run)
    if isinstance(requirement.form, Possible):
        return judgement.reached() is not None
    return any(True for _ in judgement.failures())


def runs(reference: Reference, old: Run, done: set[Deed]) -> Iterator[Run]:
    """All runs that follow these deeds."""
    front = [Here((), None, Fraction(0))]
    for step, moment in enumerate(old.moments):
        front = [later for here in waited(reference, front, moment.time) for later in acted(
            reference, here, moment, {deed for deed in done if deed.step == step}
        )]  # fmt: skip
        if len(front) > MANY:
            raise TooManyError
    for here in waited(reference, front, old.end):
        yield Run(here.moments, here.now)


def optional(reference: Reference, moment: Moment) -> set[str]:
    return {rule for rule in moment.taken if reference.system.rule(rule).optional}


def acted(reference: Reference, here: Here, old: Moment, now: set[Deed]) -> list[Here]:
    """What can come of a reaction of the timetable."""
    names = [variable.name for variable in reference.system.inputs]
    if here.over:
        return [here]
    if here.state is None:
        outcomes = list(reference.starts(old.after.values[: len(names)]))
    else:
        values = dict(zip(names, here.state.values, strict=False))
        values |= {deed.name: deed.value for deed in now if deed.value is not None}
        expired = old.expired & reference.due(here.state)
        outcomes = list(reference.reactions(here.state, tuple(values.values()), expired))
    offers = {deed.name for deed in now if deed.value is None}
    allowed = [moment for moment in outcomes if optional(reference, moment) <= offers]
    return [grown(here, moment) for moment in allowed] or [replace(here, over=True)]


def grown(here: Here, moment: Moment) -> Here:
    timed = replace(moment, time=here.now)
    return Here((*here.moments, timed), moment.after, here.now, bool(moment.out_of_range))


def waited(reference: Reference, front: list[Here], goal: Fraction) -> list[Here]:
    """Time passes to an instant, with whatever that brings about."""
    there: list[Here] = []
    tries = 0
    while front:
        tries += 1
        here = front.pop()
        if here.over or here.state is None or here.now >= goal:
            there.append(here)
            continue
        if tries > MANY or len(here.moments) > 60:
            raise TooManyError
        state, left = here.state, goal - here.now
        soon = min(left, reference.until_due(state))
        limits = list(reference.deadlines(state))
        owed = {rule.id for rule, rest, reach in limits if rest <= (0 if reach else soon)}
        due = reference.due(state)
        if due or owed or not reference.settled(state):
            inputs = state.values[: len(reference.system.inputs)]
            following = [
                moment
                for moment in reference.reactions(state, inputs, due)
                if optional(reference, moment) <= owed and (due or not owed or owed & moment.taken)
            ]
            front += [grown(here, moment) for moment in following] or [replace(here, over=True)]
            continue
        soon = min([soon, *(rest for _, rest, _ in limits)])
        if not reference.may_pass(state, soon):
            there.append(replace(here, over=True))
            continue
        front.append(Here(here.moments, reference.passed(state, soon), here.now + soon))
    return there


def any_shown(reference: Reference, requirement: Requirement, old: Run, done: set[Deed]) -> bool:
    return any(shown(reference, requirement, run) for run in runs(reference, old, done))


def without_rule(case: Case, rule: str) -> Reference | None:
    """The system with the rule there, but never possible, by its text."""
    spec = copy.deepcopy(case.spec)
    button = next(iter(spec["inputs"]))
    for machine in spec["machines"].values():
        for each in machine["rules"]:
            if each["id"] == rule:
                each["if"] = f"{button} and not {button}"
    system = load(spec)
    return None if system is None else Reference(system)


def looked_at(case: Case, seen: Counter[str]) -> None:
    result = check(case.system, (), Limits())
    lines = case.system.text.splitlines()
    reference = Reference(case.system)
    for requirement, answer in zip(case.system.requirements, result.requirements, strict=True):
        if answer.trace is None or answer.trace.loop is not None:
            continue
        run = answer.trace.run
        found = causes(case.system, requirement, run, Limits())
        if found is None or not found.settled:
            seen["open"] += 1
            continue
        assert shown(reference, requirement, found.run), case.system.text
        try:
            told_causes(case, requirement, run, found.causes, seen)
        except TooManyError:
            seen["many"] += 1
        for cause in found.causes:
            assert cause.name in lines[cause.span.line - 1], (cause, lines[cause.span.line - 1])
        seen["runs"] += 1


def told_causes(
    case: Case, requirement: Requirement, run: Run, told: tuple[Cause, ...], seen: Counter[str]
) -> None:
    """Together they are enough to show it, and none can be left out."""
    reference = Reference(case.system)
    left, kept = set(deeds(reference, run)), set[Deed]()
    for cause in told:
        if cause.kind != "rule":
            same = {d for d in left if (d.name, d.value) == (cause.name, cause.value)}
            at_hand = [d for d in same if run.moments[d.step].time == cause.time]
            kept |= {min(at_hand or same, key=lambda deed: deed.step)}
            left -= kept
    assert any_shown(reference, requirement, run, kept), (told, case.system.text)
    for deed in kept:
        assert not any_shown(reference, requirement, run, kept - {deed}), (deed, case.system.text)
        seen["deeds"] += 1
    for cause in told:
        if cause.kind == "rule":
            other = without_rule(case, cause.name)
            if other is not None:
                asked = next(r for r in other.system.requirements if r.id == requirement.id)
                assert not any_shown(other, asked, run, kept), (cause, case.system.text)
                seen["rules"] += 1


@pytest.mark.parametrize("stretch", [301, 302])
def test_each_cause_is_needed(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in cases(stretch, SYSTEMS):
        looked_at(case, seen)
    assert seen["runs"] > 40 and seen["deeds"] > 50 and seen["rules"] > 20
    assert seen["open"] + seen["many"] < seen["runs"] / 10
