"""What an exploration counted, as a table and as data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prioritylogic.evidence.words import counted, grouped
from prioritylogic.render.json import counts_data
from prioritylogic.render.layout import PLAIN, Ink, paragraph
from prioritylogic.render.text import combinations
from prioritylogic.render.values import clock_words, listed

if TYPE_CHECKING:
    from prioritylogic.evidence.results import Exploration

FORMAT = "prioritylogic-explore/1"
LONGEST = 60  # rows shown to people; programs get all


def text(found: Exploration, width: int = 80, ink: Ink = PLAIN) -> str:
    """How many states there are, and how many of them have each valuation of the names counted over."""
    system, counts = found.system, found.counts
    reached = f"{combinations(counts)} of {listed(counts.over)} can be reached"
    said = (
        f"{reached if counts.over else 'No machine, memory or alert is there to count over'}; "
        f"{counted(counts.explored, 'state')} (with clocks) and {counted(counts.reactions, 'reaction')} "
        f"were explored, {clock_words(found.tick)}"
        f"{'' if counts.complete else ', and then a limit was reached: there are more'}."
    )
    lines = [ink("bold", system.name) + ink("faint", f"  {system.file}"), *paragraph(said, width, 2), ""]
    heads = [*counts.over, "states"]
    rows = [[*row, grouped(count)] for row, count in found.rows[:LONGEST]]
    widths = [max(len(line[i]) for line in [heads, *rows]) for i in range(len(heads))]
    lines.append(ink("faint", _line(heads, widths)))
    lines += [_line(row, widths) for row in rows]
    left = len(found.rows) - len(rows)
    lines += [f"  and {counted(left, 'more row')}; --format json has them all"] if left else []
    return "\n".join(lines) + "\n"


def data(found: Exploration) -> dict[str, Any]:
    """The same as data."""
    return {
        "format": FORMAT,
        "file": found.system.file,
        "system": found.system.name,
        "counts": counts_data(found.counts),
        "rows": [
            {
                "values": dict(zip(found.counts.over, row, strict=True)),
                "states": count,
            }
            for row, count in found.rows
        ],
    }


def _line(cells: list[str], widths: list[int]) -> str:
    *texts, number = cells
    said = [text.ljust(room) for text, room in zip(texts, widths, strict=False)]
    return "  " + "  ".join([*said, number.rjust(widths[-1])])
