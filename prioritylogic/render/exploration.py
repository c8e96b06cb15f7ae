"""What an exploration counted, as a table and as data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prioritylogic.render.json import counts_data
from prioritylogic.render.layout import PLAIN, Ink, paragraph
from prioritylogic.render.values import counted, grouped, listed, value

if TYPE_CHECKING:
    from prioritylogic.evidence.results import Exploration
    from prioritylogic.model.system import System

FORMAT = "prioritylogic-explore/1"
LONGEST = 60  # rows shown to people; programs get all


def text(system: System, found: Exploration, width: int = 80, ink: Ink = PLAIN) -> str:
    """How many states there are, and how many of them have each valuation of the names counted over."""
    counts = found.counts
    over = listed(counts.over)
    said = (
        f"{counted(counts.states, 'different valuation')} of {over} can be reached; "
        f"{counted(counts.explored, 'state')} (with clocks) and {counted(counts.reactions, 'reaction')} "
        f"were explored{'' if counts.complete else ', and then a limit was reached: there are more'}."
    )
    lines = [ink("bold", system.name) + ink("faint", f"  {system.file}"), *paragraph(said, width, 2), ""]
    heads = [*counts.over, "states"]
    rows = [[*_shown(system, found, row), grouped(count)] for row, count in found.rows[:LONGEST]]
    widths = [max(len(line[i]) for line in [heads, *rows]) for i in range(len(heads))]
    lines.append(ink("faint", _line(heads, widths)))
    lines += [_line(row, widths) for row in rows]
    left = len(found.rows) - len(rows)
    lines += [f"  and {counted(left, 'more row')}; --format json has them all"] if left else []
    return "\n".join(lines) + "\n"


def data(system: System, found: Exploration) -> dict[str, Any]:
    """The same as data."""
    return {
        "format": FORMAT,
        "file": system.file,
        "system": system.name,
        "counts": counts_data(found.counts),
        "rows": [
            {
                "values": dict(zip(found.counts.over, _shown(system, found, row), strict=True)),
                "states": count,
            }
            for row, count in found.rows
        ],
    }


def _shown(system: System, found: Exploration, row: tuple[Any, ...]) -> list[str]:
    names = found.counts.over
    return [value(v, system.domain(name)) for v, name in zip(row, names, strict=True)]


def _line(cells: list[str], widths: list[int]) -> str:
    *texts, number = cells
    said = [text.ljust(room) for text, room in zip(texts, widths, strict=False)]
    return "  " + "  ".join([*said, number.rjust(widths[-1])])
