"""A run as a time line: one row per signal, time to the right.

Each reaction has a column, so that several at one instant stand side by side under their time; a
stretch of time between reactions has a column of its own, whatever its length. A level is a bar with
its value in it, a "no" is a bare line, and what lasts for one reaction only is a mark. In the column
that decides, every value is written out. Signals that never change in the run are left out. Below the
columns that repeat for ever is a bracket that says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from prioritylogic.model.formula import Value
from prioritylogic.model.system import Input, Memory, Seconds, System
from prioritylogic.render import dot, values
from prioritylogic.render.dot import Text, attributes, cell, lines, table
from prioritylogic.render.logbook import Log, Scribe, log, output_words
from prioritylogic.render.path import spoken
from prioritylogic.render.picture import Picture
from prioritylogic.render.shown import CAUTION, ShownRun
from prioritylogic.render.values import duration, instant
from prioritylogic.semantics.state import ZERO

LONGEST = 12  # columns in a strip; a longer run goes on below
WIDE = 84
MARK = "▲"
OFF, ON = "no", "yes"


@dataclass(frozen=True, slots=True)
class Column:
    """A reaction, or (number None) a stretch of time after the reaction `index`; `endless`: for ever."""

    index: int
    number: int | None
    time: Seconds
    length: Seconds = ZERO
    decides: bool = False
    endless: bool = False


@dataclass(frozen=True, slots=True)
class Signal:
    """A row: a value after each reaction, and what it is in those where it is another for an instant."""

    group: str
    name: str
    levels: tuple[str, ...]
    marks: Mapping[int, str] = field(default_factory=dict)
    quiet: str = ""  # the value that is drawn as a bare line


def timeline(system: System, run: ShownRun) -> Picture:
    """The picture of a run over time.

    Args:
        system: whose run it is.
        run: from `shown.runs`.
    """
    told, scribe = log(system, run.trace), Scribe(system)
    moments = run.trace.run.moments
    expiries = [
        tuple(scribe.expiry(timer, moment.before or moment.after) for timer in sorted(moment.expired))
        for moment in moments
    ]
    columns = [*_columns(told), *_last(told, run.trace.run.end)]
    rows = [signal for signal in _signals(system, run) if len(set(signal.levels)) > 1 or signal.marks]
    strips = [columns[at : at + LONGEST] for at in range(0, len(columns), LONGEST)]
    inner = (table(_strip(told, rows, strip, run, expiries), CELLPADDING=3) for strip in strips)
    label = table(([f'<TD ALIGN="LEFT">{strip}</TD>'] for strip in inner), CELLSPACING=8)
    body = [f"times {attributes({'shape': 'plaintext', 'margin': '0', 'label': label})};"]
    legend = [
        ("column", "one reaction; those under one time happen at one instant, in this order"),
        ("bar, bare line", "a value that lasts; a bare line is no, up or idle"),
    ]
    legend += [(MARK, "for an instant: in this reaction only")] if any(r.marks for r in rows) else []
    foot = dot.footing(legend, [*_sentence(told), CAUTION], WIDE)
    text = dot.digraph("times", {}, dot.heading(run.title, [run.about], WIDE), foot, body)
    return Picture(f"{run.file}-times", run.title, spoken(told, run), text)


def _columns(told: Log) -> Iterator[Column]:
    index = 0
    for at, row in enumerate(told.rows):
        waited = row.time - told.rows[at - 1].time if at else ZERO
        if waited:
            yield Column(index, None, row.time, waited, decides=row.number is None and row.decides)
        elif row.number is None:
            yield Column(index, None, row.time, decides=True)
        if row.number is not None:
            index = row.number - 1
            yield Column(index, row.number, row.time, decides=row.decides)


def _sentence(told: Log) -> Iterator[str]:
    """How it goes on, and in a loop within one instant what that is."""
    if told.goes_on:
        said = told.goes_on.capitalize().replace("Row", "Reaction")
        yield f"{said}." if told.turn or told.quiet else f"{said}: {told.note}."


def _last(told: Log, end: Seconds) -> Iterator[Column]:
    """The time to the end of a turn, or without end."""
    row = told.rows[-1]
    index = max(row.number or 0 for row in told.rows) - 1
    if told.quiet:
        yield Column(index, None, end, endless=True)
    elif told.turn and end > row.time:
        yield Column(index, None, end, end - row.time)


# --------------------------------------------------------------------------- what is in the rows


def _signals(system: System, run: ShownRun) -> Iterator[Signal]:
    scribe = Scribe(system)
    moments = run.trace.run.moments
    states = [scribe.reader.named(moment.after) for moment in moments]

    def plain(group: str, variables: Sequence[Input | Memory]) -> Iterator[Signal]:
        for variable in variables:
            told = tuple(values.value(state[variable.name], variable.domain) for state in states)
            quiet = (
                values.value(False, variable.domain)
                if isinstance(states[0][variable.name], bool)
                else ""
            )
            yield Signal(group, variable.name, told, quiet=quiet)

    yield from plain("from outside", system.inputs)
    for machine in system.machines:
        yield Signal("machines", machine.name, tuple(str(state[machine.name]) for state in states))
    yield from plain("memory", system.memory)
    for index, alert in enumerate(system.alerts):
        status = tuple(moment.after.alerts[index].status for moment in moments)
        yield Signal("alerts", alert.name, status, quiet="idle")
        sounds = {i: MARK for i, moment in enumerate(moments) if alert.name in moment.sounds}
        yield Signal("alerts", f"{alert.name} sounds", ("",) * len(moments), sounds)
        silences = tuple((OFF, ON)[m.after.alerts[index].silence is not None] for m in moments)
        yield Signal("alerts", f"{alert.name} silenced", silences, quiet=OFF)
    for output in scribe.outputs:
        resting: list[Value] = []
        marks = {}
        for index, moment in enumerate(moments):
            resting.append(scribe.reader.value(output.formula, scribe.reader.rest_view(moment.after)))
            passing = scribe.reader.value(output.formula, scribe.reader.reaction_view(moment))
            if passing != resting[-1]:
                said = "" if passing is True else f"{output_words(output, passing)} "
                marks[index] = said + MARK
        told = tuple(output_words(output, value) for value in resting)
        yield Signal("outputs", output.name, told, marks, OFF)


# --------------------------------------------------------------------------- how they are laid out


def _strip(
    told: Log,
    signals: list[Signal],
    columns: list[Column],
    run: ShownRun,
    expiries: list[tuple[str, ...]],
) -> Iterator[list[str]]:
    """The rows of a table of some columns."""
    yield [cell([Text(" ")]), *_times(columns)]
    yield [_name("reaction"), *(_head(column, run) for column in columns)]
    for name, style, said in (
        ("rules taken", "b", [row.rules for row in told.rows]),
        ("time is up", "", expiries),
    ):
        if any(said[column.index] for column in columns if column.number):
            body = (_texts(c, said[c.index] if c.number else (), style) for c in columns)
            yield [_name(name), *body]
    for group, members in groupby(signals, key=lambda signal: signal.group):
        yield [cell([Text(group, "f")], COLSPAN=len(columns) + 1)]
        for signal in members:
            yield [_name(signal.name), *_bars(signal, columns)]
    if told.loop is not None and columns[-1].index >= told.loop[0] - 1:
        yield [_name("for ever"), *_bracket(columns, told.loop[0] - 1)]
    if any(column.decides for column in columns) and told.note and not told.note.endswith(" here"):
        yield [cell([Text(" ")]), cell(lines(told.note, 60, "b"), COLSPAN=len(columns))]


def _bracket(columns: list[Column], first: int) -> Iterator[str]:
    """A bracket around the columns from a reaction on."""
    for inside, group in groupby(columns, key=lambda column: column.index >= first):
        frame = {"BORDER": 1, "SIDES": "LBR", "COLOR": dot.INK} if inside else {}
        text = Text("again and again", "i") if inside else Text(" ")
        yield cell([text], "CENTER", COLSPAN=len(list(group)), **frame)


def _times(columns: list[Column]) -> Iterator[str]:
    """The instants, each over its reactions, and the stretches between them."""
    for (number, time), group in groupby(
        columns, key=lambda column: (column.number is None, column.time)
    ):
        width = len(list(group))
        first = next(c for c in columns if (c.number is None, c.time) == (number, time))
        stretch = "for ever" if first.endless else f"{duration(first.length)} pass"
        text = Text(stretch, "i") if number else Text(f"at {instant(time)}", "b")
        frame = {} if number else {"BORDER": 1, "SIDES": "LTR", "COLOR": dot.INK}
        yield cell([text], "CENTER", COLSPAN=width, **frame)


def _head(column: Column, run: ShownRun) -> str:
    number = [] if column.number is None else [Text(str(column.number), "w" * column.decides)]
    if column.decides:
        return cell([*number, Text(run.mark, "bw")], "CENTER", BGCOLOR=run.color, WIDTH=70)
    return cell(number or [Text("· · ·", "f")], "CENTER", WIDTH=60)


def _texts(column: Column, said: Sequence[str], style: str) -> str:
    content = [line for text in said for line in lines(text, 20, style, hang=0)]
    ground = {"BGCOLOR": dot.WARM} if column.decides else {}
    return cell(content or [Text(" ")], "CENTER", **ground)


def _name(text: str) -> str:
    return cell(lines(text, 28), "RIGHT")


def _bars(signal: Signal, columns: list[Column]) -> Iterator[str]:
    """A row's cells: neighbouring columns with one value are one bar."""

    def key(item: tuple[int, Column]) -> object:
        at, column = item
        alone = column.decides or (column.number is not None and column.index in signal.marks)
        return at if alone else signal.levels[column.index]

    def level(at: int) -> str | None:
        return signal.levels[columns[at].index] if 0 <= at < len(columns) else None

    for _, group in groupby(enumerate(columns), key=key):
        inside = list(group)
        (start, first), end = inside[0], inside[-1][0]
        here = signal.levels[first.index]
        quiet = here in (signal.quiet, "")
        mark = signal.marks.get(first.index) if first.number is not None else None
        sides = "B" if quiet else "TB"
        sides += "L" * (not quiet and level(start - 1) not in (here, None))
        sides += "R" * (not quiet and level(end + 1) not in (here, None))
        ground = dot.CALM if here in (ON, "down", "on") else "white"
        shown = [mark] if mark else []
        shown += [here] if here and (not quiet or (first.decides and not mark)) else []
        given = {"BORDER": 1, "SIDES": sides, "COLOR": dot.INK}
        given |= {"BGCOLOR": dot.WARM if first.decides else ground} if first.decides or not quiet else {}
        room = max(14, 14 * len(inside))
        content = [line for text in shown or [" "] for line in lines(text, room)]
        yield cell(content, "CENTER", COLSPAN=len(inside), **given)
