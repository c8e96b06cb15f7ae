"""The screen: its width and ink, and one line that says what is going on.

Where output goes to a file or a pipe it is plain and 100 characters wide, whatever the screen, so
that the same input gives the same bytes.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import time
from contextlib import suppress
from typing import TextIO

from prioritylogic.render.layout import Ink

WIDTH = 100
PATIENCE = 1.0  # seconds before progress is shown, and between two lines of it: 0.2
_PLAINER = str.maketrans({"→": ">", "–": "-", "…": "..."})


def width() -> int:
    """The width to lay out for."""
    if not sys.stdout.isatty():
        return WIDTH
    return max(60, min(120, shutil.get_terminal_size((WIDTH, 24)).columns))


def ink(stream: TextIO | None = None) -> Ink:
    """Ink for a terminal that wants it (see no-color.org), else none."""
    shown = stream or sys.stdout
    plain = "NO_COLOR" in os.environ or os.environ.get("TERM") == "dumb"
    return Ink(shown.isatty() and not plain)


def say(text: str, stream: TextIO | None = None) -> None:
    """Writes text; signs that the stream cannot show are replaced by plainer ones."""
    out = stream or sys.stdout
    encoding = getattr(out, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = text.translate(_PLAINER).encode(encoding, "replace").decode(encoding)
    try:
        out.write(text)
        out.flush()
    except BrokenPipeError as error:
        raise NobodyReads from error


class NobodyReads(Exception):  # noqa: N818 - it ends the program, and is no error
    """Whoever read the output has gone. (A BrokenPipeError would be caught by click.)"""


class Progress:
    """One line on the error stream, rewritten in place; silent unless that is a terminal.

    Use as a context, so that the line is gone when something else is printed.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream or sys.stderr
        self._next = time.monotonic() + PATIENCE
        self._shown = False

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            self._stream.write("\r\x1b[K")
            self._stream.flush()

    def __call__(self, message: str) -> None:
        """Says what is being done, if it has taken long enough to be of interest."""
        now = time.monotonic()
        if now < self._next or not self._stream.isatty():
            return
        room = shutil.get_terminal_size((WIDTH, 24)).columns - 1
        self._stream.write(f"\r\x1b[K{message[:room]}")
        self._stream.flush()
        self._next, self._shown = now + 0.2, True


class Stopping:
    """Ctrl-C as a wish to stop: what is decided so far is kept. A second one ends the program.

    Use as a context; `asked` says whether it was wished.
    """

    def __init__(self) -> None:
        self._asked = False

    def __enter__(self) -> Stopping:
        with suppress(ValueError):  # not in the main thread: nothing is heard there
            self._before = signal.signal(signal.SIGINT, self._hear)
        return self

    def __exit__(self, *_: object) -> None:
        with suppress(ValueError, AttributeError):
            signal.signal(signal.SIGINT, self._before)

    def _hear(self, *_: object) -> None:
        if self._asked:
            raise KeyboardInterrupt
        self._asked = True
        say("\nStopping; what is decided so far follows. Ctrl-C again ends it at once.\n", sys.stderr)

    def asked(self) -> bool:
        """Whether somebody wishes to stop."""
        return self._asked
