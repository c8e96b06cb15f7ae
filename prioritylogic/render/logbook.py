"""A trace as a logbook: one row per reaction, time first.

What a row says: what came from outside (inputs, timers running out), which rules were taken, what
changed (machines, memory, alerts, outputs). The row that decides is marked, with the trace's note;
if the mere passing of time decides, that is a row of its own. A run without an end says at its end how
it goes on.

Two steps: `log` turns a trace into frozen rows, which the JSON output uses too; `show_log` lays them
out in a given width.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from prioritylogic.evidence.results import Trace
from prioritylogic.model.formula import AlertRead, Read, Taken, TimedRead, Value, walk
from prioritylogic.model.system import Flag, Input, OneOf, Output, Real, Seconds, System
from prioritylogic.render import values
from prioritylogic.render.layout import PLAIN, Ink, fit, length, paragraph, wrap
from prioritylogic.render.wording import Wording
from prioritylogic.semantics.reading import Reader
from prioritylogic.semantics.state import ZERO, AlertState, Moment, State, Timer

HEADS = ("time", "row", "from outside", "rules taken", "what changes")


@dataclass(frozen=True, slots=True)
class Row:
    """One reaction, or (number None) the instant at which waiting alone decides.

    Attributes:
        number: counted from 1.
        outside: what the environment did, one sentence each.
        rules: the ids of the rules taken, in the spec's order.
        changes: what changed, one phrase each.
        decides: whether this row is the one that the trace is about.
    """

    number: int | None
    time: Seconds
    outside: tuple[str, ...]
    rules: tuple[str, ...]
    changes: tuple[str, ...]
    decides: bool = False


@dataclass(frozen=True, slots=True)
class Log:
    """The rows of a trace.

    Attributes:
        note: what happens in the row that decides.
        loop: the numbers of the first and the last row that repeat for ever, or None.
        turn: how long one turn of them takes.
        quiet: whether after the last row only time passes, for ever.
    """

    rows: tuple[Row, ...]
    note: str
    loop: tuple[int, int] | None = None
    turn: Seconds = ZERO
    quiet: bool = False

    @property
    def goes_on(self) -> str:
        """How the run goes on for ever, in words; "" if it just ends."""
        if self.quiet:
            return "from here on nothing happens any more"
        if self.loop is None:
            return ""
        first, last = self.loop
        what = f"row {first} repeats" if first == last else f"rows {first} to {last} repeat"
        return f"{what} for ever" + (f", each turn in {values.duration(self.turn)}" if self.turn else "")


def log(system: System, trace: Trace) -> Log:
    """The rows of a trace."""
    scribe = Scribe(system)
    moments = trace.run.moments
    rows = [
        Row(
            number=index + 1,
            time=moment.time,
            outside=tuple(scribe.outside(moment)),
            rules=tuple(scribe.taken(moment)),
            changes=tuple(scribe.changes(moment)),
            decides=index == trace.marked,
        )
        for index, moment in enumerate(moments)
    ]
    if trace.marked is None and (trace.loop is None or trace.at is not None):
        at = trace.run.end if trace.at is None else trace.at
        before = sum(moment.time <= at for moment in moments)
        waited = at - moments[before - 1].time
        outside: tuple[str, ...] = (f"{values.duration(waited)} pass",) if waited else ()
        outside += ("and time goes on",) if trace.run.end > at else ()
        outside = outside or ("no time passes",)
        rows.insert(before, Row(None, at, outside, (), (), decides=True))
    if trace.loop is None:
        return Log(tuple(rows), trace.note)
    if trace.loop == len(moments):
        return Log(tuple(rows), trace.note, quiet=True)
    turn = trace.run.end - moments[trace.loop].time
    return Log(tuple(rows), trace.note, (trace.loop + 1, len(moments)), turn)


def show_log(
    system: System, trace: Trace, width: int = 80, ink: Ink = PLAIN, mark: str = "here"
) -> list[str]:
    """The logbook as lines.

    Args:
        system: whose trace it is.
        trace: a replayed run.
        width: of the terminal, in characters.
        ink: how to style.
        mark: what happens in the deciding row, such as "fails here".
    """
    logbook = log(system, trace)
    cells = [_cells(row) for row in logbook.rows]
    naturals = [
        max(length(item) for row in [*cells, *([[h] for h in HEADS],)] for item in row[column])
        for column in range(5)
    ]
    fixed = naturals[0] + naturals[1]
    widths = [*naturals[:2], *fit(naturals[2:], width - fixed - 2 - 4 * 2)]
    lines = [ink("faint", _line(HEADS, widths))]
    for row, cell in zip(logbook.rows, cells, strict=True):
        columns = [
            [line for item in items for line in wrap(item, room, 2)]
            for items, room in zip(cell, widths, strict=True)
        ]
        height = max(1, *(len(column) for column in columns))
        body = [
            _line([column[i] if i < len(column) else "" for column in columns], widths)
            for i in range(height)
        ]
        if row.decides:
            body[0] = ">" + body[0][1:]
            body += paragraph(_verdict(mark, logbook.note), width, fixed + 6, 2)
        lines += [ink("bold", line) for line in body] if row.decides else body
    if logbook.goes_on:
        told = [logbook.goes_on]
        if not any(row.decides for row in logbook.rows):
            told.append(_verdict(mark, logbook.note))
        for said in told:
            lines += [ink("bold", line) for line in paragraph(said, width, fixed + 6, 2)]
    return lines


def _verdict(mark: str, note: str) -> str:
    """What is said below the deciding row."""
    return mark if not note or note.endswith(" here") else f"{mark}: {note}"


def _cells(row: Row) -> list[list[str]]:
    number = "" if row.number is None else str(row.number)
    time = values.instant(row.time)
    return [[time], [number], list(row.outside), list(row.rules), list(row.changes)]


def _line(cells: tuple[str, ...] | list[str], widths: list[int]) -> str:
    time, number, *texts = cells
    numbers = f"{time.rjust(widths[0])}  {number.rjust(widths[1])}"
    rest = "  ".join(text.ljust(room) for text, room in zip(texts, widths[2:], strict=True))
    return f"  {numbers}  {rest}".rstrip()


class Scribe:
    """Puts the reactions of one system into words."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.reader = Reader(system)
        self.wording = Wording(system)
        observed = {index for index, timed in enumerate(system.timed) if timed.observed}
        self.outputs = [
            output
            for output in system.outputs
            if not any(isinstance(p, TimedRead) and p.timer in observed for p in walk(output.formula))
        ]
        self.cells = [(term, read) for term in system.terms if (read := _cell(system, term))]

    # ------------------------------------------------------------------ from outside

    def outside(self, moment: Moment) -> Iterator[str]:
        """What the environment did, the timers that ran out included."""
        inputs = self.system.inputs
        if moment.before is None:
            told = [
                f"{variable.name} {self.start(variable, value)}"
                for variable, value in zip(inputs, moment.after.values, strict=False)
                if not _rests(variable, value)
            ]
            yield from ["start", *told] if told else ["start, all at rest"]
            return
        found = False
        for variable, was, now in zip(inputs, moment.before.values, moment.after.values, strict=False):
            if was != now:
                found = True
                yield f"{variable.name} {self.move(variable, now)}"
        yield from self.crossed(moment)
        for timer in sorted(moment.expired):
            found = True
            yield self.expiry(timer, moment.before)
        if not found:
            yield "nothing"

    def crossed(self, moment: Moment) -> Iterator[str]:
        """The terms of analog inputs that come to be otherwise: the cell in the spec's words."""
        assert moment.before is not None
        inputs = [variable.name for variable in self.system.inputs]
        pairs = zip(inputs, moment.before.values, moment.after.values, strict=False)
        moved = {name for name, was, now in pairs if was != now}
        old, new = self.reader.rest_view(moment.before), self.reader.rest_view(moment.after)
        told = []
        for term, read in self.cells:
            now = self.reader.value(term.formula, new) if read & moved else None
            if now is not None and now != self.reader.value(term.formula, old):
                plain = {True: term.name, False: f"not {term.name}"}
                told.append(plain[now] if isinstance(now, bool) else f"{term.name} is {now}")
        if told:
            yield f"so {', '.join(told)}"

    def start(self, variable: Input, value: Value) -> str:
        """An input's value at time 0."""
        preposition = "at" if isinstance(variable.domain, Real) else "is"
        return f"{preposition} {values.value(value, variable.domain)}"

    def move(self, variable: Input, value: Value) -> str:
        """How an input changed."""
        match variable.domain:
            case Flag("button"):
                return "pressed" if value else "released"
            case Flag() | OneOf():
                return f"turns {values.value(value, variable.domain)}"
            case _:
                return f"moves to {values.value(value, variable.domain)}"

    def expiry(self, timer: Timer, state: State) -> str:
        """A timer that ran out."""
        time = values.duration(timer.time)
        match timer.kind:
            case "stay":
                return f"{timer.name} has been {self.reader.named(state)[timer.name]} for {time}"
            case "timed":
                timed = self.system.timed[timer.index]
                what = self.wording.condition(timed.condition)
                return f"{time} over: {what}" if timed.kind == "for" else f"{time} gone since {what}"
            case "repeat":
                return f"{timer.name} is due again after {time}"
            case "silence":
                return f"{timer.name} was silenced for {time}"

    # ------------------------------------------------------------------ from inside

    def taken(self, moment: Moment) -> Iterator[str]:
        """The rules taken, in the spec's order."""
        for machine in self.system.machines:
            yield from (rule.id for rule in machine.rules if rule.id in moment.taken)

    def changes(self, moment: Moment) -> Iterator[str]:
        """Machines, memory, alerts and outputs that changed; at time 0, how they begin."""
        first = moment.before is None
        before = moment.before or self.reader.blank(moment.after)
        was, now = self.reader.named(before), self.reader.named(moment.after)
        entered = {
            self.system.rule(rule).machine for rule in moment.taken if self.system.rule(rule).target
        }
        for machine in self.system.machines:
            old, new = str(was[machine.name]), str(now[machine.name])
            if old != new or machine.name in entered:
                yield f"{machine.name}: {old} → {new}" + (" anew" if old == new else "")
            elif first:
                yield f"{machine.name}: {new}"
        for memory in self.system.memory:
            old, new = (values.value(v[memory.name], memory.domain) for v in (was, now))
            if old != new:
                yield f"{memory.name}: {old} → {new}"
            elif first:
                yield f"{memory.name}: {new}"
        yield from self.alerts(moment, before)
        yield from self.shown(moment, before)
        if moment.out_of_range:
            yield f"{moment.out_of_range} leaves its range"

    def alerts(self, moment: Moment, before: State) -> Iterator[str]:
        """Alerts that changed, sound, or are silenced anew."""
        for alert, old, new in zip(self.system.alerts, before.alerts, moment.after.alerts, strict=True):
            told = [f"{old.status} → {new.status}"] if old.status != new.status else []
            told += ["sounds"] if alert.name in moment.sounds else []
            told += ["silenced"] if _silenced(old, new) else []
            if told:
                yield f"{alert.name}: {', '.join(told)}"

    def shown(self, moment: Moment, before: State) -> Iterator[str]:
        """Outputs that changed at rest, and those that are true in this reaction only."""
        old, new = self.reader.rest_view(before), self.reader.rest_view(moment.after)
        reaction = self.reader.reaction_view(moment)
        first = moment.before is None
        for output in self.outputs:
            at_rest = self.reader.value(output.formula, new)
            was = self.reader.value(output.formula, old)
            text = output_words(output, at_rest)
            if first:
                if at_rest is not False and at_rest != 0:
                    yield f"{output.name}: {text}"
            elif was != at_rest:
                yield f"{output.name}: {output_words(output, was)} → {text}"
            passing = self.reader.value(output.formula, reaction)
            if passing != at_rest:
                said = "" if passing is True else f"{output_words(output, passing)} "
                yield f"{output.name}: {said}for an instant"


def output_words(output: Output, value: Value) -> str:
    """An output's value."""
    if isinstance(value, bool):
        return ("no", "yes")[value]
    if isinstance(value, str):
        return value
    return values.quantity(value, output.unit, output.factor)


def _cell(system: System, term: Output) -> frozenset[str]:
    """The inputs that a term is about, if it is a condition (or a choice of names) on inputs alone and
    some of them are analog: then it names a cell."""
    parts = tuple(walk(term.formula))
    reads = [part for part in parts if isinstance(part, Read)]
    domains = {variable.name: variable.domain for variable in system.inputs}
    alone = all(part.name in domains and not part.before for part in reads)
    past = any(isinstance(part, TimedRead | AlertRead | Taken) for part in parts)
    if past or not alone or isinstance(term.domain, Real | None):
        return frozenset()
    analog = any(isinstance(domains[part.name], Real) for part in reads)
    return frozenset(part.name for part in reads) if analog else frozenset()


def _rests(variable: Input, value: Value) -> bool:
    return value is False or (isinstance(variable.domain, Real) and value == 0)


def _silenced(old: AlertState, new: AlertState) -> bool:
    return new.silence is not None and (old.silence is None or new.silence < old.silence)
