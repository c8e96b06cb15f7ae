"""A run as a path: a box for what holds after each reaction, and on the arrow what made it so.

Reactions at one instant share a frame, since no time passes between them, and that is where priority
logic breaks. On an arrow stand what came from outside and, in bold, the rules taken; in a box the
machines' states, those that changed in bold, and whatever else changed.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from prioritylogic.model.system import System
from prioritylogic.render import dot
from prioritylogic.render.dot import Text, attributes, cell, lines, table
from prioritylogic.render.logbook import Log, Row, log
from prioritylogic.render.picture import Picture
from prioritylogic.render.shown import CAUTION, ShownRun
from prioritylogic.render.values import duration, instant
from prioritylogic.semantics.reading import Reader
from prioritylogic.semantics.state import ZERO

WIDTH = 44  # signs in a line
WIDE = 70


def path(system: System, run: ShownRun) -> Picture:
    """The picture of a run's path.

    Args:
        system: whose run it is.
        run: from `shown.runs`.
    """
    walk = _Path(system, run)
    legend = [
        ("frame", "one instant; no time passes inside it"),
        ("on an arrow", "what comes from outside and, in bold, the rules taken"),
        ("in a box", "the machines then, in bold those that moved, and whatever else changed"),
    ]
    head = dot.heading(run.title, [run.about], WIDE)
    text = dot.digraph(
        "path",
        {"nodesep": "0.4", "ranksep": "0.2"},
        head,
        dot.footing(legend, [CAUTION], WIDE),
        walk.body(),
    )
    return Picture(f"{run.file}-path", run.title, spoken(walk.log, run), text)


def spoken(told: Log, run: ShownRun) -> str:
    """A run in sentences, for whoever cannot see it."""
    said = [run.about]
    for row in told.rows:
        parts = [*row.outside, *(f"rule {rule}" for rule in row.rules), *row.changes]
        said.append(f"At {instant(row.time)}: {'; '.join(parts)}." + (f" {run.mark}." * row.decides))
    said += [f"{told.goes_on.capitalize()}."] if told.goes_on else []
    return " ".join([*said, CAUTION]).replace("→", "to")


class _Path:
    def __init__(self, system: System, run: ShownRun) -> None:
        self.system, self.run = system, run
        self.reader = Reader(system)
        self.log = log(system, run.trace)

    def body(self) -> Iterator[str]:
        """A frame per instant, and the arrows."""
        rows = list(enumerate(self.log.rows))
        yield dot.spot("start")
        for time, group in groupby(rows, key=lambda item: item[1].time):
            inside = [line for index, row in group for line in self.row(index, row)]
            yield from dot.frame(f"t{inside[0].split()[0]}", f"at {instant(time)}", inside)
        for index, _ in rows:
            before = f"b{index - 1}" if index else "start"
            yield f"{before} -> w{index} {attributes({'dir': 'none'})};"
            yield f"w{index} -> b{index};"
        if self.log.loop is not None:
            places = {row.number: index for index, row in rows}
            first, last = (places[number] for number in self.log.loop)
            every = f", each turn in {duration(self.log.turn)}" if self.log.turn else ""
            yield dot.words("again", [Text(f"and so on for ever{every}", "i")])
            yield f"w{first} -> again {attributes({'dir': 'back', 'style': 'dashed'})};"
            yield f"again -> b{last} {attributes({'dir': 'none', 'style': 'dashed'})};"
        if self.log.quiet:
            yield dot.words("quiet", [Text(self.log.goes_on, "i")])
            yield f"b{len(rows) - 1} -> quiet {attributes({'style': 'dashed'})};"

    def row(self, index: int, row: Row) -> Iterator[str]:
        """What happens, and how it is then."""
        yield dot.words(f"w{index}", self.cause(index, row))
        yield f"b{index} {attributes(self.box(index, row))};"

    def cause(self, index: int, row: Row) -> list[Text]:
        """The words on the arrow."""
        waited = row.time - self.log.rows[index - 1].time if index else ZERO
        content = [Text(f"{duration(waited)} later", "i")] if waited and row.number else []
        for said in row.outside:
            content += lines("nothing from outside" if said == "nothing" else said, WIDTH)
        for rule in row.rules:
            content += lines(f"rule {rule}", WIDTH, "b")
        return content

    def box(self, index: int, row: Row) -> dict[str, object]:
        """The box after a reaction."""
        shown: dict[str, object] = {"shape": "box", "style": "rounded,filled", "fillcolor": "white"}
        rows = []
        if row.number is not None:
            moment = self.run.trace.run.moments[row.number - 1]
            now = self.reader.named(moment.after)
            changed = {said.partition(": ")[0] for said in row.changes}
            content = []
            for machine in self.system.machines:
                style = "b" if machine.name in changed else "" if row.decides else "f"
                content += lines(f"{machine.name}: {now[machine.name]}", WIDTH, style)
            machines = {machine.name for machine in self.system.machines}
            for said in row.changes:
                if said.partition(": ")[0] not in machines:
                    content += lines(said, WIDTH)
            rows.append([cell(content or [Text("nothing changes", "f")])])
        if row.decides:
            shown |= {"color": self.run.color, "penwidth": "3", "fillcolor": dot.WARM}
            note = self.log.note
            why = lines(note, WIDTH) if note and not note.endswith(" here") else []
            rows.append([cell([Text(self.run.mark, "b", 14), *why])])
        return {**shown, "label": table(rows)}
