"""From a path of an exploration to a run of the reference.

The explorer knows of the inputs only what mattered; here every input gets a value: what was asked,
else what the next reaction asks about the past, else no change. Analog inputs get the plainest
figures of their cell. Each step is then taken on the reference, which must offer the very outcome
that the explorer claims; if it does not, that is a disagreement inside this program, raised as one.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from prioritylogic.engines.cells import Cells
from prioritylogic.engines.explore import PathStep
from prioritylogic.engines.parts import plain_value, values_of
from prioritylogic.errors import DisagreementError
from prioritylogic.model.formula import Value
from prioritylogic.model.system import Real, Seconds, System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State


def replay(reference: Reference, cells: Cells, tick: Seconds, path: Sequence[PathStep]) -> Run:
    """The path as a run.

    Raises:
        DisagreementError: the reference does not allow a step of the path.
    """
    reacting = [step for step in path if step.course is not None]
    inputs = iter(concrete_inputs(reference.system, cells, reacting))
    moments: list[Moment] = []
    time = Fraction(0)
    state: State | None = None
    for step in path:
        if step.course is None:
            assert state is not None, "a path begins with the reaction at time 0"
            wait = tick * step.wait
            if not reference.may_pass(state, wait):
                raise DisagreementError(f"no time may pass at {time} s, yet the explorer let it")
            state, time = reference.passed(state, wait), time + wait
            continue
        moment = matching(reference, state, next(inputs), step)
        moments.append(dataclasses.replace(moment, time=time))
        state = moment.after
    return Run(tuple(moments), time)


def matching(
    reference: Reference, state: State | None, inputs: tuple[Value, ...], step: PathStep
) -> Moment:
    """The reference's outcome that is the course of this step.

    Raises:
        DisagreementError: there is none.
    """
    course = step.course
    assert course is not None
    offered = (
        reference.starts(inputs) if state is None else reference.reactions(state, inputs, course.expired)
    )
    first = len(reference.system.inputs)
    for moment in offered:
        after = tuple(plain_value(value) for value in moment.after.values[first:])
        statuses = tuple(alert.status for alert in moment.after.alerts)
        claimed = tuple(alert[0] for alert in course.after.alerts)
        if (moment.taken, after, statuses) == (course.taken, course.after.values, claimed):
            return moment
    raise DisagreementError(
        f"the reference does not know the reaction that takes {sorted(course.taken) or 'no rule'}"
    )


def concrete_inputs(system: System, cells: Cells, steps: Sequence[PathStep]) -> list[tuple[Value, ...]]:
    """A value for every input in every reaction of a path, with as few changes as may be."""
    known: list[list[Any]] = [list(step.values) for step in steps]
    for earlier, step in zip(known, steps[1:], strict=False):
        for number, value in enumerate(step.previous):
            if value is not None and earlier[number] is None:
                earlier[number] = value
    found: list[tuple[Value, ...]] = []
    for index, step in enumerate(steps):
        before = found[-1] if found else None
        values: dict[int, Value] = {}
        analog: dict[int, Fraction] = {}
        for number, variable in enumerate(system.inputs):
            if isinstance(variable.domain, Real):
                analog[number] = wanted_figure(variable.domain, variable.start, before, number)
            else:
                value = known[index][number]
                if value is None:
                    later = (values[number] for values in known[index:] if values[number] is not None)
                    unset = next(later, values_of(variable.domain)[0])
                    value = before[number] if before is not None else variable.start
                    value = unset if value is None else value
                values[number] = exact_value(value)
        if analog:
            values.update(cells.point(step.cell, analog))
        found.append(tuple(values[number] for number in range(len(system.inputs))))
    return found


def wanted_figure(
    domain: Real, start: Value | None, before: tuple[Value, ...] | None, number: int
) -> Fraction:
    """What an analog input is if nothing asks otherwise: as before, else its start, else nought or
    the nearest end."""
    value = before[number] if before is not None else start
    if value is None:
        value = min(max(Fraction(0), domain.low), domain.high)
    assert isinstance(value, Fraction)
    return value


def exact_value(value: Any) -> Value:
    """A compiled value as the reference has it."""
    return Fraction(value) if isinstance(value, int) and not isinstance(value, bool) else value
