"""The schedule of a check: requirements decided one after the other, and by more processes where that
takes long.

Nothing about an answer depends on who gives it: each is a function of the spec, the requirements asked
and the options, found by the same attempts with the same work. So who decides what is free, may follow
the clock, and leaves no trace in the output. The first requirements are decided here, because most specs
are done before another process could even begin. What is left after that is shared out through one
`concurrent.futures.Executor`, requirement by requirement; each process reads the spec again and keeps
what it has explored for the next one.

Limits: every process has the same deadline, and together they have the memory that is left. When
somebody stops the check, all do. What was to be decided by a process that died, or whose share of the
memory is too small, is decided here.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

from prioritylogic.engines.deciding import Deciding, Decision
from prioritylogic.engines.limits import Limits, memory_used, rarely_collect
from prioritylogic.engines.part import Options
from prioritylogic.evidence.results import Slack
from prioritylogic.model.build import build
from prioritylogic.model.system import Member, System
from prioritylogic.syntax.reader import read

if TYPE_CHECKING:
    from multiprocessing.synchronize import Event

PATIENCE = 1.5  # seconds of work, before others are asked: where the cores are busy, they are no help
LOOK_EVERY = 0.1  # seconds
GRACE = 3.0  # seconds, for processes to end by themselves
LEAST = 256 * 2**20  # bytes, below which a process is not worth its start

Decided: TypeAlias = tuple[Decision, Slack | None]


@dataclass(frozen=True, slots=True)
class Job:
    """What another process must know to decide a requirement of a check.

    Attributes:
        deadline: seconds since the epoch; None: there is none.
        seconds: the limit on time as it was asked for.
        memory: bytes for that process.
        states: of one exploration.
    """

    text: str
    file: str
    only: frozenset[str]
    options: Options
    deadline: float | None
    seconds: float | None
    memory: int | None
    states: int


@dataclass(frozen=True)
class Workers:
    """Who may help.

    Attributes:
        count: processes at most, this one left out of account; 1: nobody helps.
        executor: used instead of processes of our own, if given; its owner ends it.
        patience: seconds of work (not of the clock), before they are asked.
    """

    count: int = 1
    executor: Executor | None = None
    patience: float = PATIENCE


def asked_of(system: System, only: frozenset[str]) -> list[int]:
    """The requirements (by their place in the spec) that a check is about."""
    return [n for n, r in enumerate(system.requirements) if not only or named(only, r.id, r.member)]


def named(only: Collection[str], id_: str, member: Member) -> bool:
    """Whether something is among those asked for: by its family's id, or by its own (`LOCK-1[fore]`)."""
    return id_ in only or own_name(id_, member) in only


def own_name(name: str, member: Member) -> str:
    """What one member of a family is called: `LOCK-1[fore]`."""
    return f"{name}[{', '.join(who for _, who in member)}]" if member else name


def decided(deciding: Deciding, number: int, limits: Limits, options: Options) -> Decided:
    """One requirement decided, with the tightest figure if that is asked for."""
    decision, tightest = deciding.decide(number), None
    if options.slack and decision.verdict == "holds":
        from prioritylogic.engines.slack import slack

        alone = replace(options, both=False)
        tightest = slack(deciding.system, deciding.requirements[number], limits, alone)
    return decision, tightest


def all_decided(
    deciding: Deciding, only: frozenset[str], limits: Limits, options: Options, workers: Workers
) -> list[Decided]:
    """Every requirement of a check, in order."""
    count = len(deciding.requirements)
    helped = workers.count > 1 or workers.executor is not None
    found: dict[int, Decided] = {}
    begun = time.process_time()

    def here(number: int) -> None:
        limits.progress(f"{number + 1} of {count} requirements")
        found[number] = decided(deciding, number, limits, options)

    for number in range(count):
        if helped and count - number > 1 and time.process_time() - begun > workers.patience:
            found.update(_shared(deciding, range(number, count), only, limits, options, workers))
            break
        here(number)
    for number in range(count):
        if number not in found:
            here(number)
    return [found[number] for number in range(count)]


# --------------------------------------------------------------------------- sharing out


def _shared(
    deciding: Deciding,
    numbers: range,
    only: frozenset[str],
    limits: Limits,
    options: Options,
    workers: Workers,
) -> dict[int, Decided]:
    """What others have decided of these requirements: all, unless somebody died, stopped it, or came to
    the end of its memory."""
    system, left = deciding.system, limits.left()
    if not system.text or build(read(system.text, system.file), system.text) != system:
        return {}  # it is not what its text says, so nobody else can read it
    count, share = min(workers.count, len(numbers)), limits.memory
    if limits.memory is not None and workers.executor is None:
        free = limits.memory - memory_used()
        count = min(count, free // LEAST)
        if count < 1:
            return {}
        share = free // count
    deadline = None if left is None else time.time() + left
    job = Job(system.text, system.file, only, options, deadline, limits.seconds, share, limits.states)
    found: dict[int, Decided] = {}
    with _executor(workers, count) as (executor, stop):
        with nullcontext() if workers.executor else _undisturbed():
            futures = _submitted(executor, job, numbers)
        left_over = set(futures)
        while left_over and not limits.over():
            done, left_over = wait(left_over, LOOK_EVERY, "FIRST_COMPLETED")
            found.update(_answers(done, futures))
            limits.progress(f"{numbers.start + len(found)} of {numbers.stop} requirements")
        left_over = {future for future in left_over if not future.cancel()}
        if limits.stop():  # else all come to the same end by themselves, and say the same
            stop()
        found.update(_answers(wait(left_over, GRACE).done, futures))
    return found


def _submitted(executor: Executor, job: Job, numbers: range) -> dict[Future[Decided | None], int]:
    """The requirements handed out; not all, if a process has died already. (If it dies while another one
    is begun, that one finds what it is to inherit closed: an OSError.)"""
    futures: dict[Future[Decided | None], int] = {}
    with suppress(BrokenExecutor, OSError):
        for number in numbers:
            futures[executor.submit(one_decided, job, number)] = number
    return futures


def _answers(
    done: set[Future[Decided | None]], futures: dict[Future[Decided | None], int]
) -> Iterator[tuple[int, Decided]]:
    """What was decided; nothing of what was told to leave it, or could not."""
    for future in done:
        if future.cancelled() or isinstance(future.exception(), BrokenExecutor | MemoryError):
            continue
        if (answer := future.result()) is not None:
            yield futures[future], answer


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Processes begun meanwhile never hear Ctrl-C, not even before they can ask not to: it is for the
    one that began them, who hears it when this is over."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _executor(workers: Workers, count: int) -> Iterator[tuple[Executor, Callable[[], object]]]:
    """Who decides, and what tells them to stop. No process of ours is left behind."""
    if workers.executor is not None:
        yield workers.executor, lambda: None
        return
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    context = multiprocessing.get_context("spawn")  # a solver's threads do not survive a fork
    stopped = context.Event()
    pool = ProcessPoolExecutor(count, context, _begin, (stopped,))
    try:
        yield pool, stopped.set
    finally:
        stopped.set()
        processes = list((pool._processes or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        deadline = time.monotonic() + GRACE
        for process in processes:
            process.join(max(0.0, deadline - time.monotonic()))
            if process.is_alive():
                process.kill()


# --------------------------------------------------------------------------- in another process


class _Hearing:
    """What a process of ours hears: whether it is to stop."""

    stopped: Callable[[], bool] = staticmethod(lambda: False)


def _begin(stopped: Event) -> None:
    """Begins a process of ours. It ends with the one that began it, even if that one is killed."""
    import multiprocessing

    rarely_collect()
    _Hearing.stopped = staticmethod(stopped.is_set)
    parent = multiprocessing.parent_process()
    assert parent is not None

    def follow() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


class _Kept(threading.local):
    """What was read and explored for the last job: one for each thread, since solvers share nothing."""

    job: Job | None = None
    prepared: tuple[Deciding, Limits]


_kept = _Kept()


def one_decided(job: Job, number: int) -> Decided | None:
    """One requirement decided, in whatever process; None if it wants more memory than its share."""
    if _kept.job != job:
        _kept.job, _kept.prepared = job, _prepared(job)
    deciding, limits = _kept.prepared
    answer = decided(deciding, number, limits, job.options)
    return None if job.memory is not None and memory_used(job.memory) > job.memory else answer


def _prepared(job: Job) -> tuple[Deciding, Limits]:
    """The spec read, with whatever will be explored for one requirement after the other."""
    system = build(read(job.text, job.file), job.text)
    left = None if job.deadline is None else max(0.0, job.deadline - time.time())
    limits = Limits(left, job.memory, job.states, stop=_Hearing.stopped, asked=job.seconds)
    requirements = [system.requirements[number] for number in asked_of(system, job.only)]
    return Deciding(system, requirements, limits, job.options), limits
