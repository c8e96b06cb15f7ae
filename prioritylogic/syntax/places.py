"""Where each character of a value stands in the source.

A YAML scalar's value differs from its source text: quotes, escapes and folded lines are gone. So
that a caret points at the very word in question, the value is aligned with its source once, and
the tree's spans are cut from that. The common case, a value that stands in the source as it is,
costs nothing: its offsets are a `range`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from prioritylogic.errors import Span

_ESCAPE_LENGTHS = {"x": 4, "u": 6, "U": 10}


@dataclass(frozen=True)
class Source:
    """A text and the name of its file."""

    file: str
    text: str

    @cached_property
    def line_starts(self) -> tuple[int, ...]:
        """The index of each line's first character."""
        lengths = (len(line) + 1 for line in self.text.split("\n"))
        return tuple(accumulate(lengths, initial=0))[:-1]

    def span(self, start: int, end: int) -> Span:
        """The stretch from `start` up to `end`, cut at the end of its first line."""
        line = bisect_right(self.line_starts, start)
        first = self.line_starts[line - 1]
        following = self.line_starts[line] if line < len(self.line_starts) else len(self.text) + 1
        length = min(end, following - 1) - start
        return Span(self.file, line, start - first + 1, max(1, length))


@dataclass(frozen=True, slots=True)
class Passage:
    """A value together with its places.

    Attributes:
        source: where it stands.
        value: the text that means something.
        offsets: for each character of `value`, its index in the source; one more for the end.
        flow: it stands inside `[...]` or `{...}`, where a comma ends it.
    """

    source: Source
    value: str
    offsets: Sequence[int]
    flow: bool = False

    def span(self, start: int, end: int) -> Span:
        """The source stretch of `value[start:end]`."""
        last = self.offsets[max(start, end - 1)]
        return self.source.span(self.offsets[start], max(last + 1, self.offsets[start] + 1))

    @property
    def whole(self) -> Span:
        """The value without the white space around it."""
        text = self.value
        start = len(text) - len(text.lstrip())
        return self.span(min(start, len(text)), len(text.rstrip()))


def shortened(text: str) -> str:
    """A text as messages quote it: on one line, and not too long."""
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:37] + "..."


def align(source: str, value: str, start: int, style: str | None) -> Sequence[int]:
    """The source index of each character of a YAML scalar's value, and of its end.

    Args:
        source: the whole text.
        value: the scalar as YAML reads it.
        start: where the scalar starts in the source, its quote or block sign included.
        style: None for a plain scalar, else its quote or block sign.

    White space only has to match roughly (folding turns line breaks into spaces), everything else
    exactly, since YAML changes nothing else but escapes.
    """
    at = start + (style in ("'", '"'))
    if style in ("|", ">"):
        at = source.find("\n", start) + 1
    if source.startswith(value, at) and "\\" not in value and "'" not in value:
        return range(at, at + len(value) + 1)
    offsets = []
    for char in value:
        at = _next(source, at, char, style)
        offsets.append(at)
        at += _width(source, at, char, style)
    return [*offsets, at]


def _next(source: str, at: int, char: str, style: str | None) -> int:
    """Where `char` comes from, at or after `at`."""
    joined = False  # behind a joining backslash, white space means nothing
    while at < len(source):
        joins = _continues(source, at, style)
        if not joins and not (source[at].isspace() and (joined or not char.isspace())):
            break
        joined |= joins
        at += 1
    return min(at, len(source))


def _continues(source: str, at: int, style: str | None) -> bool:
    """A backslash at a line's end in double quotes joins the lines and is no character."""
    return style == '"' and source[at] == "\\" and source[at + 1 : at + 2] in ("\n", "\r")


def _width(source: str, at: int, char: str, style: str | None) -> int:
    """How many source characters stand for this one."""
    here = source[at : at + 1]
    if style == '"' and here == "\\":
        return _ESCAPE_LENGTHS.get(source[at + 1 : at + 2], 2)
    if style == "'" and char == "'":
        return 2
    if char.isspace() and not here.isspace():
        return 0  # a fold: the line break behind was already passed
    return 1
