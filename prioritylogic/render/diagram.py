"""The machines and alerts of a system as one picture: states, and the rules between them.

Each machine is a frame of its own, since they run side by side. An arrow carries a rule's id, its
condition as the spec writes it, its delay, what it sets and what it wins over. A condition too long
for an arrow stands in a note below. Outputs, requirements and memory's ranges are not drawn; `read`
tells them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import partial

from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Alert, Machine, System
from prioritylogic.render import dot
from prioritylogic.render.dot import Text, attributes, cell, label, lines, table
from prioritylogic.render.folding import ANYWHERE, Arrow, Box, Sketch, sketch
from prioritylogic.render.picture import Picture
from prioritylogic.render.values import duration, listed
from prioritylogic.render.wording import Wording

WIDTH = 30  # signs in a line on an arrow
MOST = 5  # lines of a condition on an arrow; a longer one becomes a note
WIDE = 84
ROW = 4  # frames side by side


def diagram(system: System) -> Picture:
    """The picture of a system's machines.

    Args:
        system: a checked spec.
    """
    drawing = _Drawing(system)
    body = list(drawing.body())
    counts = [counted(len(system.machines), "machine")]
    counts += [counted(len(system.alerts), "alert")] if system.alerts else []
    title = f"{system.name}: {listed(counts)}"
    head = dot.heading(title, [system.about] if system.about else [], WIDE)
    foot = dot.footing(drawing.legend(), drawing.notes, WIDE)
    settings = {"nodesep": "0.35", "ranksep": "0.22", "compound": "true"}
    text = dot.digraph(system.name, settings, head, foot, body)
    return Picture("machines", title, " ".join(_description(system)), text)


def _description(system: System) -> Iterator[str]:
    for machine in system.machines:
        yield (
            f"Machine {machine.name} has the states {listed(machine.states)}, starts in "
            f"{machine.start}, and has the rules {listed(rule.id for rule in machine.rules)}."
        )
    if system.alerts:
        yield f"Alerts are {listed(alert.name for alert in system.alerts)}."


class _Drawing:
    """Writes the body, and notes on the way what the legend must explain."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.notes: list[str] = []
        self.used: dict[str, str] = {}
        self.told: set[str] = set()
        self.count = 0
        self.frame = ""
        self.boxes: defaultdict[str, list[str]] = defaultdict(list)

    def legend(self) -> list[tuple[str, str]]:
        """The signs that were used."""
        return list(self.used.items())

    def body(self) -> Iterator[str]:
        """One frame per machine and per alert, in rows."""
        frames = [(f"machine {m.name}", partial(self.machine, machine=m)) for m in self.system.machines]
        frames += [(f"alert {a.name}", partial(self.alert, alert=a)) for a in self.system.alerts]
        for index, (title, draw) in enumerate(frames):
            self.frame = f"f{index}"
            yield from dot.frame(self.frame, title, draw(self.frame))
            if index >= ROW:  # below those of the row above
                above = self.boxes[f"f{index - ROW}"]
                yield f"{{{' '.join(above)}}} -> {self.frame}start {attributes({'style': 'invis'})};"

    # ------------------------------------------------------------------ machines

    def machine(self, key: str, machine: Machine) -> Iterator[str]:
        """States and rules."""
        drawn = sketch(self.system, machine)
        names = {box.name: f"{key}s{index}" for index, box in enumerate(drawn.boxes)}
        self.told.clear()
        yield from self.start(key, machine, drawn, names)
        for box in drawn.boxes:
            loops = [arrow for arrow in drawn.arrows if arrow.tail == arrow.head == box.name]
            yield self.box(names[box.name], box, loops)
        if any(arrow.tail == ANYWHERE for arrow in drawn.arrows):
            names[ANYWHERE] = f"{key}any"
            yield dot.words(f"{key}any", [Text(ANYWHERE, "i")])
        order = _order(drawn, drawn.box(machine.start).name)
        for arrow in drawn.arrows:
            if arrow.tail != arrow.head or arrow.tail == ANYWHERE:
                up = order.get(arrow.tail, -1) > order.get(arrow.head, 0)
                yield from self.arrow(names[arrow.tail], names[arrow.head], arrow, up)

    def start(self, key: str, machine: Machine, drawn: Sketch, names: dict[str, str]) -> Iterator[str]:
        """A dot with an arrow to where the machine starts."""
        box = drawn.box(machine.start)
        self.used["black dot"] = "where a machine starts"
        yield dot.spot(f"{key}start")
        where = {"label": label([Text(f"in {machine.start}", "f")])} if box.members else {}
        yield f"{key}start -> {names[box.name]} {attributes(where)};"

    def box(self, key: str, box: Box, loops: Iterable[Arrow] = ()) -> str:
        """A state, or a family of states, with the rules that lead from it to itself."""
        self.boxes[self.frame].append(key)
        shown: dict[str, object] = {"shape": "box", "style": "rounded,filled", "fillcolor": "white"}
        content = [Text(box.title, "b", 13)]
        if box.members:
            shown["peripheries"] = 2
            self.used["double edge"] = "one state for each member that is named in it"
            who = f"{box.binder}: {', '.join(box.members)}" if box.binder else ", ".join(box.members)
            content += lines(who, WIDTH, "f")
        rows = [[cell(content, "CENTER")]]
        for arrow in loops:
            self.used["rule in a box"] = "it leads back into the same box"
            rows.append([cell(self.words(arrow), BORDER=1, SIDES="T", COLOR=dot.LINE, CELLPADDING=4)])
        return f"{key} {attributes({**shown, 'label': table(rows)})};"

    def arrow(self, tail: str, head: str, arrow: Arrow, up: bool = False) -> Iterator[str]:
        """A rule from one box to another; `up` when it leads back, towards the start.

        Its words are a node in the middle of the arrow: the labels of arrows are laid over other
        lines and frames. An arrow that leads back is written the other way round, so that both layout
        programs put the start on top.
        """
        words = self.key("r")
        style = {"style": "dashed"} if arrow.optional else {}
        if arrow.optional:
            self.used["dashed arrow"] = (
                "a rule that may be taken or put off; all others are taken at once"
            )
        yield dot.words(words, self.words(arrow))
        plain, pointed = style | {"dir": "none"}, style
        if up:
            yield f"{head} -> {words} {attributes(pointed | {'dir': 'back'})};"
            yield f"{words} -> {tail} {attributes(plain)};"
        else:
            yield f"{tail} -> {words} {attributes(plain)};"
            yield f"{words} -> {head} {attributes(pointed)};"

    def key(self, kind: str) -> str:
        """A new name for a node."""
        self.count += 1
        return f"{kind}{self.count}"

    def words(self, arrow: Arrow) -> list[Text]:
        """What is written on an arrow; a rule with several arrows says it all on the first."""
        content = [Text(arrow.name, "b")]
        content += [Text(arrow.note, "i")] if arrow.note else []
        body = self.guard(arrow.name, arrow.guard)
        for text in arrow.more:
            body += lines(text, WIDTH)
        body += [Text("may be put off", "i")] if arrow.optional and arrow.tail == arrow.head else []
        body += [Text("state is kept", "i")] if arrow.stays else []
        if len(body) > 2 and arrow.name in self.told:
            self.used["as said"] = "elsewhere in the picture, at the same rule"
            body = [Text("as said", "i")]
        self.told.add(arrow.name)
        return content + body

    def guard(self, name: str, guard: str) -> list[Text]:
        """A condition, or where it is found."""
        if not guard:
            return []
        shown = lines(f"if {guard}", WIDTH)
        if len(shown) <= MOST:
            return shown
        note = f"if {guard}"
        for number, known in enumerate(self.notes, 1):
            if known.endswith(f": {note}"):
                return [Text(f"if … (note {number})")]
        self.notes.append(f"Note {len(self.notes) + 1}, {name}: {note}")
        return [Text(f"if … (note {len(self.notes)})")]

    # ------------------------------------------------------------------ alerts

    def alert(self, key: str, alert: Alert) -> Iterator[str]:
        """An alert as the small machine that it is."""
        wording = Wording(self.system)
        idle, on, cleared = (f"{key}{name}" for name in ("idle", "on", "cleared"))
        cause = wording.condition(alert.raise_)
        begins = cause if wording.is_event(alert.raise_) else f"it begins that {cause}"
        yield dot.spot(f"{key}start")
        yield f"{key}start -> {idle};"
        yield self.box(idle, Box("idle", ("idle",)))
        loops = (
            []
            if alert.repeat is None
            else [self.said(f"again every {duration(alert.repeat)}", more=("sounds",))]
        )
        if alert.silence_for is not None and alert.silence_by is not None:
            quiet = wording.condition(alert.silence_by)
            loops.append(self.said(f"silence for {duration(alert.silence_for)}", quiet))
        yield self.box(on, Box("on", ("on",)), loops)
        yield from self.arrow(idle, on, self.said("raise", begins, ("sounds",)))
        if alert.clear is None:
            yield from self.arrow(on, idle, self.said("its cause is gone"), up=True)
            return
        yield self.box(cleared, Box("cleared", ("cleared",)))
        over = ("then idle, if its cause is gone",)
        yield from self.arrow(on, cleared, self.said("clear", wording.condition(alert.clear), over))
        yield from self.arrow(cleared, idle, self.said("its cause is gone"), up=True)

    def said(self, name: str, condition: str = "", more: tuple[str, ...] = ()) -> Arrow:
        """An arrow of an alert."""
        return Arrow("", "", name, "", condition, more, False, False)


def _order(drawn: Sketch, start: str) -> dict[str, int]:
    """How many arrows each box is away from the start, as far as it can be reached."""
    found, reached = {start: 0}, [start]
    for name in reached:
        for arrow in drawn.arrows:
            if arrow.tail == name and arrow.head not in found:
                found[arrow.head] = found[name] + 1
                reached.append(arrow.head)
    return found
