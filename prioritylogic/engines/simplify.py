"""The simplest run of a given length that shows the same thing.

"Simpler" is one sort key: fewest input changes; then changes as late as they can be (fewer in the
first reaction, then in the second, and so on). The search is greedy and always in the same order:
drop one change after the other, then put each one reaction later, until nothing helps. A candidate
is a run of the reference under the changed inputs with the same expiries at the same times, and it
must show what the run showed, in the same reaction; so whatever comes out is replayed and judged by
construction.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterable, Iterator
from typing import TypeAlias

from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError
from prioritylogic.model.formula import Value
from prioritylogic.model.system import Seconds
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State

Inputs: TypeAlias = tuple[tuple[Value, ...], ...]  # of each reaction
MOST_TRIES = 60  # candidate runs
MOST_BRANCHES = 40  # reactions tried for one candidate
MOST_OFFERED = 20_000  # outcomes that the reference works out, in all


class Patience:
    """How much is left of what may be done for the sake of simplicity.

    Raises:
        LimitError: nothing is.
    """

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._left = MOST_OFFERED

    def counted(self, offered: Iterable[Moment]) -> Iterator[Moment]:
        """The outcomes, while there is patience for them."""
        for moment in offered:
            self._left -= 1
            if self._left < 0:
                raise LimitError("simplifying has taken long enough")
            self._limits.check_time()
            yield moment


def simplify(
    reference: Reference, run: Run, shows: Callable[[Run], bool], limits: Limits | None = None
) -> Run:
    """A simplest run that still shows it (the run itself if none is found); where a limit is reached,
    the simplest so far.

    Args:
        reference: of the run's system.
        run: a run for which `shows` is true.
        shows: whether a run of the same length shows the same thing at its end.
        limits: on time.
    """
    patience = Patience(limits or Limits())
    tries = 0
    better = True
    while better and tries < MOST_TRIES:
        better = False
        for inputs in simpler(reference, inputs_of(reference, run)):
            tries += 1
            try:
                found = rerun(reference, run, inputs, shows, patience)
            except LimitError:
                return run
            if found is not None:
                run, better = found, True
                break
            if tries >= MOST_TRIES:
                break
    return run


def inputs_of(reference: Reference, run: Run) -> Inputs:
    """The inputs in each reaction of a run."""
    count = len(reference.system.inputs)
    return tuple(moment.after.values[:count] for moment in run.moments)


def key(inputs: Inputs) -> tuple[int, tuple[int, ...]]:
    """The sort key: how many changes, then how many in each reaction from the first on."""
    changes = tuple(
        sum(a != b for a, b in zip(before, after, strict=True))
        for before, after in itertools.pairwise(inputs)
    )
    return sum(changes), changes


def simpler(reference: Reference, inputs: Inputs) -> Iterator[Inputs]:
    """Inputs with one change dropped, or put off by one reaction; each simpler by the key."""
    one_at_a_time = reference.system.one_input_at_a_time
    changes = [
        (step, number)
        for step in range(len(inputs) - 1, 0, -1)
        for number in range(len(inputs[step]))
        if inputs[step][number] != inputs[step - 1][number]
    ]
    for step, number in changes:
        dropped = [list(values) for values in inputs]
        before, after = inputs[step - 1][number], inputs[step][number]
        for later in range(step, len(inputs)):
            if inputs[later][number] != after:
                break
            dropped[later][number] = before
        yield tuple(map(tuple, dropped))
    for step, number in changes:
        if step + 1 < len(inputs) and not one_at_a_time:
            put_off = [list(values) for values in inputs]
            put_off[step][number] = inputs[step - 1][number]
            candidate = tuple(map(tuple, put_off))
            if key(candidate) < key(inputs):
                yield candidate


def rerun(
    reference: Reference,
    run: Run,
    inputs: Inputs,
    shows: Callable[[Run], bool],
    patience: Patience,
) -> Run | None:
    """A run with these inputs and the expiries and times of `run` that shows it, or None."""
    left = MOST_BRANCHES

    def follow(done: tuple[Moment, ...]) -> Run | None:
        nonlocal left
        step = len(done)
        if step == len(run.moments):
            candidate = Run(done, run.end)
            return candidate if passes(reference, done[-1].after, run) and shows(candidate) else None
        old = run.moments[step]
        state = arrived(reference, done, old)
        if step and state is None:
            return None
        if state is None:
            offered = reference.starts(inputs[0])
        elif old.expired <= reference.due(state):
            offered = reference.reactions(state, inputs[step], old.expired)
        else:
            return None
        moments = sorted(
            patience.counted(offered),
            key=lambda moment: (moment.taken != old.taken, sorted(moment.taken)),
        )
        for moment in moments:
            left -= 1
            if left < 0:
                return None
            found = follow((*done, dataclasses.replace(moment, time=old.time)))
            if found is not None:
                return found
        return None

    return follow(())


def arrived(reference: Reference, done: tuple[Moment, ...], following: Moment) -> State | None:
    """The state when the next reaction comes; None at the start, or if time may not pass so far."""
    if not done:
        return None
    return after(reference, done[-1].after, following.time - done[-1].time)


def passes(reference: Reference, state: State, run: Run) -> bool:
    """Whether time may pass to the end of the run."""
    return after(reference, state, run.end - run.moments[-1].time) is not None


def after(reference: Reference, state: State, time: Seconds) -> State | None:
    """The state when this much time has passed, or None if it may not."""
    if not time:
        return state
    return reference.passed(state, time) if reference.may_pass(state, time) else None
