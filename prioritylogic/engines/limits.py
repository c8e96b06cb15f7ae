"""Limits on work: a time, an amount of memory, a number of states. All end in `LimitError`.

A limit can only turn an answer into "undecided"; it never changes one.
"""

from __future__ import annotations

import gc
import resource
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import grouped

Progress = Callable[[str], None]
STATUS = Path("/proc/self/status")
STOPPED = "it was stopped by hand"


def _silent(_: str) -> None:
    return None


def _goes_on() -> bool:
    return False


@dataclass
class Limits:
    """What a computation may use.

    Attributes:
        seconds: from the making of this object on; None: no limit.
        memory: bytes of the whole process; None: no limit.
        states: of one exploration.
        progress: told now and then, in a person's words, what is being done.
        stop: asked now and then; true: somebody stops it, which is one more limit.
        asked: the limit on time as it is spoken of, if that is not `seconds`.
    """

    seconds: float | None = None
    memory: int | None = None
    states: int = 5_000_000
    progress: Progress = _silent
    stop: Callable[[], bool] = _goes_on
    asked: float | None = None
    _started: float = field(default_factory=time.monotonic)
    _graced: bool = False

    def __post_init__(self) -> None:
        self._asked = self.seconds if self.asked is None else self.asked

    def grant_grace(self) -> None:
        """Lets what was interrupted be looked through: one more second, once."""
        if not self._graced and (self.seconds is not None or self.stop()):
            self._graced = True
            self.seconds = time.monotonic() - self._started + 1.0

    def over(self) -> bool:
        """Whether a limit that ends everything is reached."""
        try:
            self.check()
        except LimitError:
            return True
        return False

    @contextmanager
    def at_most(self, states: int) -> Iterator[None]:
        """Fewer states for a while."""
        before = self.states
        self.states = min(before, states)
        try:
            yield
        finally:
            self.states = before

    def left(self) -> float | None:
        """The seconds that are left; None if there is no limit on time."""
        if self.seconds is None:
            return None
        return max(0.0, self.seconds - (time.monotonic() - self._started))

    def check_time(self) -> None:
        """Raise LimitError if the time is over, or somebody stops it."""
        if self.stop() and not (self._graced and self.left()):
            raise LimitError(STOPPED, final=True)
        if self.seconds is not None and time.monotonic() - self._started > self.seconds:
            raise LimitError(f"the time limit of {self._asked:g} s was reached", final=True)

    def check(self, states: int = 0, doing: str = "") -> None:
        """Raise LimitError if a limit is reached; else report progress."""
        self.check_time()
        if self.memory is not None and memory_used(self.memory) > self.memory:
            size = size_words(self.memory)
            raise LimitError(f"the memory limit of {size} was reached", final=True)
        if states > self.states:
            raise LimitError(f"the work limit of {grouped(self.states)} states was reached")
        if doing:
            self.progress(doing)


def size_words(size: int) -> str:
    """A size of memory, in the largest unit in which it is whole.

    >>> size_words(4 * 2**30), size_words(500_000_000)
    ('4 GiB', '500 MB')
    """
    units = {"GiB": 2**30, "GB": 10**9, "MiB": 2**20, "MB": 10**6, "KiB": 2**10, "kB": 10**3}
    whole = (f"{size // factor} {unit}" for unit, factor in units.items() if size % factor == 0)
    return next(whole, f"{size} bytes")


SELDOM = (500_000, 50, 100)


def rarely_collect() -> None:
    """Lets the garbage collector look seldom, in this process from now on: an exploration makes
    millions of small lasting tuples, and looking at all of them again and again was measured to take
    nearly half of its time."""
    gc.set_threshold(*SELDOM)


@contextmanager
def rare_collection() -> Iterator[None]:
    """The same for a while."""
    before = gc.get_threshold()
    rarely_collect()
    try:
        yield
    finally:
        gc.set_threshold(*before)


def memory_used(more_than: int = 0) -> int:
    """The most memory this process has had, in bytes; looked at closely where that is `more_than`.

    What the system counts for a process begins, on Linux, with the most that the one which started it
    has had. The high water mark of its own memory does not, but takes longer to read.
    """
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if sys.platform == "darwin":
        return peak
    if peak * 1024 > more_than:
        with suppress(OSError, StopIteration), STATUS.open(encoding="ascii") as status:
            peak = int(next(line for line in status if line.startswith("VmHWM:")).split()[1])
    return peak * 1024
