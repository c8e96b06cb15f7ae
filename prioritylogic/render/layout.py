"""Text in lines of a given width, with or without ink.

Why not a table library: what is printed here is a few columns of prose, and the import of a full
one costs more than a whole small check.

`Ink` writes bold, faint and coloured text, or (the default) plain text; no meaning is ever carried
by it alone. Widths count characters; names and prose in scripts of double width will look ragged.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from prioritylogic.model.units import UNITS

_CODES = {"bold": "1", "faint": "2", "good": "32", "bad": "1;31", "open": "33"}
_UNITS = "|".join(re.escape(unit) for unit in UNITS)
_HELD = re.compile(rf"(?<=\d) (?=(?:{_UNITS}|\d{{3}})(?!\w))|(?<=\w) (?== )|(?<=\w =) ")
_GAP = "\N{NO-BREAK SPACE}"  # holds `9 s` and `w = fore` together while lines are broken
_UNSEEN = re.compile(r"\x1b\[[0-9;]*m")


@dataclass(frozen=True, slots=True)
class Ink:
    """Styles text for a terminal when `on`."""

    on: bool = False

    def __call__(self, style: str, text: str) -> str:
        """The text in a style: bold, faint, good, bad or open."""
        return f"\x1b[{_CODES[style]}m{text}\x1b[0m" if self.on and text else text


PLAIN = Ink()


def length(text: str) -> int:
    """How many columns a text takes."""
    return len(_UNSEEN.sub("", text))


def wrap(text: str, width: int, hang: int = 0) -> list[str]:
    """Lines of at most `width`, those after the first indented by `hang`; never none.

    A name with its index, a number with its unit, and `w = fore` are not broken (unless longer than a
    line).
    """
    lines: list[str] = []
    for part in _HELD.sub(_GAP, text).split("\n"):
        lines += textwrap.wrap(
            part, max(width, hang + 8), subsequent_indent=" " * hang, break_on_hyphens=False
        ) or [""]
    return [line.replace(_GAP, " ") for line in lines]


def paragraph(text: str, width: int, indent: int = 0, hang: int = 0) -> list[str]:
    """Wrapped lines, all of them indented."""
    return [" " * indent + line for line in wrap(text, width - indent, hang)]


def beside(label: str, text: str, width: int, at: int, indent: int = 2) -> list[str]:
    """A label, and a text that starts in column `at` and hangs there.

    A label too long for its column stands alone on its line.
    """
    lines = paragraph(text, width, at)
    head = " " * indent + label
    if length(head) + 2 > at:
        return [head, *lines]
    lines[0] = head + " " * (at - length(head)) + lines[0][at:]
    return lines


def column_for(labels: Iterable[str], limit: int = 26, indent: int = 2) -> int:
    """The column at which texts start beside these labels."""
    return indent + min(max((length(label) for label in labels), default=0), limit) + 2


def fit(naturals: Sequence[int], available: int, least: int = 14) -> list[int]:
    """Widths of columns that together fit: the widest give way first.

    >>> fit([10, 60, 60], 90)
    [10, 40, 40]
    """
    widths = list(naturals)
    while sum(widths) > available and max(widths) > least:
        widths[widths.index(max(widths))] -= 1
    return widths
