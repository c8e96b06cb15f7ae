"""Slack: how much tighter each timed requirement could be and would still hold.

What: for `within` and `every` the shortest figure, for `keep ... for` and `apart` the longest. An
observer that is not connected to anything proves whatever it is asked; a figure that can be tightened
without end, or that gives way exactly where the logic's own durations say, shows which it is.

Why bisection is exact: whether a figure holds changes once, at a corner of the regions of the clocks,
so at a whole multiple of the greatest common divisor of the system's own durations (Alur and Dill 1994,
"A theory of timed automata"). On the way Z3 is believed; in the end the tightest figure is decided with
its second opinion, and the next one is shown to fail by a run.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from math import ceil, floor
from typing import Protocol

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.cone import cone
from prioritylogic.engines.cycles import bound
from prioritylogic.engines.deciding import SOME, Deciding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.results import Slack
from prioritylogic.model.formula import FALSE
from prioritylogic.model.system import (
    Apart,
    Every,
    Form,
    KeepFor,
    KeepUntil,
    Requirement,
    Respond,
    Seconds,
    System,
)
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.reading import observed_timers

LONGEST = 1 << 20  # grid steps: a figure beyond so many is as good as none


def slack(system: System, requirement: Requirement, limits: Limits, options: Options) -> Slack | None:
    """The tightest figure of a requirement that holds; None if its form has no figure, or if it leans on
    assumptions about runs without an end, of which Z3 knows nothing.

    Raises:
        DisagreementError: what was found on the way is not so when it is decided with all care.
    """
    if bound(system, requirement):
        return None
    form = requirement.form
    trying = _Trying(system, requirement, limits, options)
    grid = _grid(system, requirement)
    match form:
        case Respond(limit=figure, under=under) if figure:
            return _shortest(figure, grid, under, partial(trying.holds, "limit"))
        case Every(period=figure, under=under):
            return _shortest(figure, grid, under, partial(trying.holds, "period"))
        case KeepFor(after, keep, figure):
            for_ever = KeepUntil(after, keep, FALSE)
            if trying.guessed(for_ever) and trying.decided(for_ever):
                return Slack(figure, endless=True)
            return _longest(figure, grid, partial(trying.holds, "time"))
        case Apart(time=figure):
            longest = LONGEST * grid
            if trying.holds("time", longest) and trying.holds("time", longest, sure=True):
                return Slack(figure, endless=True)
            return _longest(figure, grid, partial(trying.holds, "time"))
    return None


class Holds(Protocol):
    """Whether a figure holds; None if that is not decided. `sure`: with a second opinion or a run."""

    def __call__(self, figure: Seconds, strict: bool = False, sure: bool = False) -> bool | None:
        """The answer."""
        ...


class _Trying:
    """A requirement with one figure after the other."""

    def __init__(
        self, system: System, requirement: Requirement, limits: Limits, options: Options
    ) -> None:
        form = requirement.form
        self._closed = replace(form, under=False) if isinstance(form, Respond | Every) else form
        self._system = system
        self._requirement = requirement
        self._limits = limits
        self._options = options

    def holds(self, name: str, figure: Seconds, strict: bool = False, sure: bool = False) -> bool | None:
        changed = {name: figure, **({"under": True} if strict else {})}
        form: Form = replace(self._closed, **changed)  # type: ignore[arg-type]
        return self.decided(form) if sure else self.guessed(form)

    def guessed(self, form: Form) -> bool | None:
        """A quick answer: what Z3 finds, believed."""
        watching = observer(replace(self._requirement, form=form))
        assert watching is not None
        part = cone(self._system, [fact.formula for fact in watching.facts])
        try:
            return any(
                invariant(Transition(system, watching), SOME, self._limits) is not None
                for system in ((part,) if part is self._system else (part, self._system))
            )
        except Declined:
            return self.decided(form)
        except LimitError as stop:
            return None if stop.final else self.decided(form)

    def decided(self, form: Form) -> bool | None:
        """The answer that a check would give."""
        asked = [replace(self._requirement, form=form)]
        deciding = Deciding(self._system, asked, self._limits, self._options, provers_first=True)
        verdict = deciding.decide(0).verdict
        return None if verdict == "undecided" else verdict == "holds"


def _grid(system: System, requirement: Requirement) -> Seconds:
    """What the tightest figure is a multiple of."""
    timers = observed_timers(system, requirement.formulas)
    own = [system.timed[timer].time for timer in timers]
    return tick_of([*durations(system), *own])


def _shortest(figure: Seconds, grid: Seconds, under: bool, holds: Holds) -> Slack:
    """The least figure of a bound from above."""
    low, high = -1, floor(figure / grid)  # no figure at low, and at high it holds
    while high - low > 1:
        middle = (low + high) // 2
        found = holds(middle * grid)
        if found is None:
            return Slack(figure)
        low, high = (low, middle) if found else (middle, high)
    tightest = high * grid
    if not _confirmed(holds, figure, tightest, low * grid if low >= 0 else None):
        return Slack(figure)
    attained = holds(tightest, strict=True, sure=True) if under and tightest else not under
    return Slack(figure) if attained is None else Slack(figure, tightest, attained)


def _longest(figure: Seconds, grid: Seconds, holds: Holds) -> Slack:
    """The greatest figure of a bound from below."""
    low, step = ceil(figure / grid), 1  # it holds at low
    high = None  # it fails at high
    while high is None or high - low > 1:
        middle = low + step if high is None else (low + high) // 2
        found = holds(middle * grid)
        if found is None or middle > LONGEST:
            return Slack(figure)
        if found:
            low, step = middle, 2 * step
        else:
            high = middle
    confirmed = _confirmed(holds, figure, low * grid, high * grid)
    return Slack(figure, low * grid) if confirmed else Slack(figure)


def _confirmed(holds: Holds, figure: Seconds, tightest: Seconds, beyond: Seconds | None) -> bool:
    """Whether the last figure that holds does, and the next one does not; False if that is not known.
    That the requirement's own figure holds is.

    Raises:
        DisagreementError: it is the other way round.
    """
    last = tightest == figure or holds(tightest, sure=True)
    following = False if beyond is None else holds(beyond, sure=True)
    if last is False or following is True:
        raise DisagreementError(f"whether {tightest} s is the tightest figure is answered in two ways")
    return last is not None and following is not None
