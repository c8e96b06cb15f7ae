"""What a lesson of the gallery says, and by how many edits two of them differ.

What is beside the logic does not count: comments, names, what is expected of a verdict, and waivers.
"""

from __future__ import annotations

import difflib
import re

from places import GALLERY


def logic(name: str) -> list[str]:
    """The lines that say what happens: no comment, name, expectation or waiver."""
    text = (GALLERY / f"{name}.yaml").read_text(encoding="utf-8")
    lines = [line.partition(" #")[0].rstrip() for line in text.partition("\nwaive:")[0].splitlines()]
    plain = (line for line in lines if line and not line.startswith("#"))
    return [line for line in plain if not re.match(r"(system|about):|\s+(expected|reason):", line)]


def edits(one: str, other: str) -> int:
    """How many separate places of the logic differ. Lines that are only moved are one edit."""
    old, new = logic(one), logic(other)
    codes = difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    changes = [(old[a:b], new[c:d]) for kind, a, b, c, d in codes if kind != "equal"]
    match changes:
        case [(gone, []), ([], come)] | [([], come), (gone, [])] if gone == come:
            return 1
    return len(changes)
