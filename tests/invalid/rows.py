"""What a row of the message table is.

Each layer keeps its rows in `<layer>_rows.py`, as a tuple ROWS; `test_rows.py` finds these files and
holds every row to the same promises. A new message brings a new row: the smallest complete spec
that shows it, where the message must point, and the words it must contain.
"""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import dedent

from prioritylogic.syntax.nodes import Spec
from prioritylogic.syntax.reader import read

FILE = "spec.yaml"


@dataclass(frozen=True)
class Row:
    """A malformed spec and what is said about it.

    Attributes:
        code: the problem's code.
        place: "line:column" of the problem.
        says: a part of its message.
        text: the spec; common indentation and the first line break are taken off.
        remedy: a part of its remedy.
        beside: how many other problems the spec has.
    """

    code: str
    place: str
    says: str
    text: str
    remedy: str = ""
    beside: int = 0

    @property
    def spec(self) -> str:
        return dedent(self.text).removeprefix("\n")


def load(text: str) -> object:
    """Through all layers, as far as the text gets."""
    spec: Spec = read(text, FILE)
    from prioritylogic.model.build import build  # only texts without syntax errors come this far

    return build(spec, text)
