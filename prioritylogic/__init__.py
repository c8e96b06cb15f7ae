"""Control-priority logic: stated in a text file, checked, explained.

>>> system = load(text)                            # doctest: +SKIP
>>> result = check(system)                         # doctest: +SKIP
>>> [answer.verdict for answer in result.requirements]  # doctest: +SKIP

Everything here that can go wrong raises a subclass of PriorityLogicError. The reader and the engines
are imported when they are first used, so that a program which only asks for help starts at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from prioritylogic.errors import (
    DisagreementError,
    LimitError,
    PriorityLogicError,
    Problem,
    RequestError,
    Span,
    SpecError,
)
from prioritylogic.evidence.explanation import Blocking, Cause, Causes, DecisivePart, Fact, Proof, Told
from prioritylogic.evidence.ranges import Example, FindResult, Ground, Part, RangeAnswer, Varied
from prioritylogic.evidence.results import (
    Answer,
    CheckResult,
    Counts,
    Exploration,
    FoundIssue,
    Question,
    Slack,
    Trace,
)
from prioritylogic.model.intervals import Interval
from prioritylogic.model.system import System
from prioritylogic.render import notebook

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from prioritylogic.engines.limits import Limits

__all__ = [
    "Answer",
    "Blocking",
    "Cause",
    "Causes",
    "CheckResult",
    "Counts",
    "DecisivePart",
    "DisagreementError",
    "Example",
    "Exploration",
    "Fact",
    "FindResult",
    "FoundIssue",
    "Ground",
    "Interval",
    "LimitError",
    "Part",
    "PriorityLogicError",
    "Problem",
    "Proof",
    "Question",
    "RangeAnswer",
    "RequestError",
    "Slack",
    "Span",
    "SpecError",
    "System",
    "Told",
    "Trace",
    "Varied",
    "check",
    "explore",
    "find",
    "load",
]

notebook.install()


def load(source: str | Path, name: str = "<text>") -> System:
    """Reads and checks a spec.

    Args:
        source: a path to a spec file (a Path, or a string that ends in .yaml or .yml), or its text.
        name: how messages call the text, when it is given as text.

    Returns:
        The checked System.

    Raises:
        SpecError: with every problem of the text, each with its place and a remedy.
        RequestError: the file cannot be read.
    """
    from prioritylogic.model.build import build
    from prioritylogic.syntax.reader import read

    if isinstance(source, str) and "\n" not in source and source.endswith((".yaml", ".yml")):
        source = Path(source)
    if isinstance(source, Path):
        name = str(source)
        try:
            source = source.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            raise RequestError(
                f"{name} is not UTF-8 text (byte {error.start}): save it as UTF-8"
            ) from None
        except OSError as error:
            raise RequestError(f"{name} cannot be read: {error.strerror}") from None
    return build(read(source, name), source)


def check(
    system: System,
    only: Collection[str] = (),
    time_limit: float | None = None,
    memory_limit: int | None = None,
    progress: Callable[[str], None] | None = None,
    both: bool = False,
    slack: bool = False,
    witnesses: bool = False,
    workers: int = 1,
    executor: Executor | None = None,
    stop: Callable[[], bool] | None = None,
    explain: Collection[str] = (),
) -> CheckResult:
    """Decides every requirement, story and standing question of a system.

    Args:
        system: from `load`.
        only: ids of requirements and stories; () for all.
        time_limit: seconds.
        memory_limit: bytes of the whole process.
        progress: told now and then, in a person's words, what is being done.
        both: whether what exploring decides is put to the provers, too, and the other way round.
        slack: whether the tightest figure of each timed requirement that holds is looked for.
        witnesses: whether each requirement that holds is shown at work by a run; those that `only`
            names always are.
        workers: further processes that may decide requirements, where that takes long; 1: none. The
            result is the same.
        executor: decides instead of processes of our own, if given.
        stop: asked now and then; true: what is not decided yet is left open.
        explain: ids (or members: `LOCK-1[fore]`) of what is to be explained; like `only`, it leaves out
            whatever is not named.

    Returns:
        Verdicts with reasons and traces, findings and counts. A limit only turns answers into
        "undecided".

    Raises:
        RequestError: an id in `only` or `explain` is not in the spec.
        DisagreementError: two of our own answers differ (a bug of ours).
    """
    from prioritylogic.engines import check as checking
    from prioritylogic.engines.part import Options
    from prioritylogic.engines.schedule import Workers

    limits = _limits(time_limit, memory_limit, progress)
    if stop is not None:
        limits.stop = stop
    options = Options(both=both, slack=slack, vacuity=True, witnesses=witnesses or bool(only))
    return checking.check(system, only, limits, options, Workers(workers, executor), explain)


def explore(
    system: System,
    over: Sequence[str] = (),
    graph: bool = False,
    time_limit: float | None = None,
    memory_limit: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Exploration:
    """Counts the reachable states over chosen names, and gives their graph.

    Args:
        system: from `load`.
        over: names of machines, memory, alerts and discrete inputs; () for all but inputs.
        graph: whether to build the networkx graph.
        time_limit: seconds.
        memory_limit: bytes of the whole process.
        progress: told now and then, in a person's words, what is being done.

    Raises:
        RequestError: a name that cannot be counted over, or a system that exploration declines.
        LimitError: a limit was reached.
    """
    from prioritylogic.engines import counting
    from prioritylogic.engines.deciding import undecided_reason
    from prioritylogic.semantics.compile import Declined

    try:
        return counting.explore(system, over, graph, _limits(time_limit, memory_limit, progress))
    except Declined as reason:
        raise RequestError(undecided_reason(reason)) from None


def find(
    system: System,
    setting: str,
    only: Collection[str] = (),
    time_limit: float | None = None,
    memory_limit: int | None = None,
    progress: Callable[[str], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> FindResult:
    """Decides every requirement for all values in a setting's range at once.

    Args:
        system: from `load`.
        setting: the name of a setting with a range, with its member if it has an index: `wait[left]`.
        only: ids of requirements; () for all.
        time_limit: seconds.
        memory_limit: bytes of the whole process.
        progress: told now and then, in a person's words, what is being done.
        stop: asked now and then; true: what is not decided yet is left open.

    Returns:
        For each requirement the range as intervals: proved, refuted, or undecided with the reason.

    Raises:
        RequestError: there is no such setting or requirement, or the setting has no range.
        DisagreementError: two of our own answers differ (a bug of ours).
    """
    from prioritylogic.engines import ranges

    limits = _limits(time_limit, memory_limit, progress)
    if stop is not None:
        limits.stop = stop
    return ranges.find(system, setting, only, limits)


def _limits(
    time_limit: float | None, memory_limit: int | None, progress: Callable[[str], None] | None
) -> Limits:
    """Limits from the arguments of the public calls."""
    from prioritylogic.engines.limits import Limits

    made = Limits(seconds=time_limit, memory=memory_limit)
    if progress is not None:
        made.progress = progress
    return made
