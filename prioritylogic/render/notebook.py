"""How systems, results and traces show themselves in a notebook.

A notebook asks a value for `_repr_html_` and `_repr_svg_`. Systems and results are plain data of lower
layers, which know nothing of pictures, so `install` gives them these methods when the package is
imported; everything heavy is imported when a notebook asks. Whatever comes from a spec is escaped.
Colours are few and carry no meaning alone; text takes the page's own colour, so that it reads on light
and dark pages, and pictures bring their white ground with them.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from prioritylogic.errors import NOWHERE, RequestError
from prioritylogic.evidence.results import Answer, CheckResult, Trace
from prioritylogic.model.system import System

if TYPE_CHECKING:
    from prioritylogic.render.picture import Picture
    from prioritylogic.render.shown import ShownRun

MOST = 4  # runs shown under a result; `draw` has them all
_LINE = "1px solid rgba(128,128,128,.45)"
_CELL = f"padding:.25em .7em;border-bottom:{_LINE};text-align:left;vertical-align:top"
_MARKS = {  # ground and text; each is readable by itself, whatever the page is
    "holds": ("#0a5c43", "#ffffff"),
    "fails": ("#b34700", "#ffffff"),
    "undecided": ("#f0e442", "#1a1a1a"),
    "error": ("#b34700", "#ffffff"),
    "warning": ("#f0e442", "#1a1a1a"),
    "note": ("#d9d9d9", "#1a1a1a"),
    "accepted": ("#d9d9d9", "#1a1a1a"),
}


def install() -> None:
    """Lets notebooks show systems, results and traces."""
    shows = ((System, system_svg, system_html), (CheckResult, result_svg, result_html))
    for kind, svg, html in (*shows, (Trace, trace_svg, trace_html)):
        setattr(kind, "_repr_svg_", svg)  # noqa: B010 - these names are the notebooks' own
        setattr(kind, "_repr_html_", html)  # noqa: B010


# --------------------------------------------------------------------------- pictures


def system_svg(system: System) -> str | None:
    """The machines of a system."""
    return _svg(_machines(system))


def result_svg(result: CheckResult) -> str | None:
    """The time line of the first run that a result shows, else the machines."""
    from prioritylogic.render.shown import runs

    for run in runs(result):
        return _svg(_times(result.system, run))
    return system_svg(result.system)


def trace_svg(trace: Trace) -> str | None:
    """The time line of a run; None for a trace that is part of no result."""
    from prioritylogic.render.shown import alone

    return None if trace.system is None else _svg(_times(trace.system, alone(trace)))


def _machines(system: System) -> Picture:
    from prioritylogic.render.diagram import diagram

    return diagram(system)


def _times(system: System, run: ShownRun) -> Picture:
    from prioritylogic.render.timeline import timeline

    return timeline(system, run)


def _svg(picture: Picture) -> str | None:
    try:
        return picture.svg()
    except RequestError:
        return None  # no layout program: the notebook shows the text instead


# --------------------------------------------------------------------------- pages


def system_html(system: System) -> str:
    """A system's name and its machines."""
    return _page(system.name, system.file, [_image(_machines(system))])


def trace_html(trace: Trace) -> str | None:
    """The time line and the logbook of a run."""
    from prioritylogic.render.shown import CAUTION, alone

    if trace.system is None:
        return None
    run = alone(trace)
    body = [_image(_times(trace.system, run)), _logbook(trace.system, trace)]
    return _page(run.title, trace.system.file, [*body, _faint(CAUTION)])


def result_html(result: CheckResult) -> str:
    """Verdicts with reasons, findings, and the runs that show them."""
    from prioritylogic.render.shown import CAUTION, runs

    shown = list(runs(result))
    body = [_verdicts("Requirements", result, result.requirements)]
    body += [_verdicts("Stories", result, result.stories), _findings(result)]
    open_ = [question for question in result.questions if question.verdict == "undecided"]
    if open_:
        kinds = ", ".join(question.kind.replace("-", " ") for question in open_)
        body.append(_faint(f"Asked of every spec, and undecided: {kinds}. {open_[0].reason}."))
    body += [_run(result.system, run) for run in shown[:MOST]]
    if len(shown) > MOST:
        body.append(
            _faint(f"{len(shown) - MOST} more runs: `prioritylogic draw --runs` draws them all.")
        )
    return _page(result.system.name, result.system.file, [*filter(None, body), _faint(CAUTION)])


def _verdicts(title: str, result: CheckResult, answers: Iterable[Answer]) -> str:
    from prioritylogic.render.sentences import requirement_sentence
    from prioritylogic.render.text import groups, vacuity_words

    asked = {(r.id, r.member): r for r in result.system.requirements}
    rows = []
    for group in groups(answers):
        answer = group.first
        text = answer.text
        if not text and (requirement := asked.get((answer.id, answer.member))):
            text = requirement_sentence(result.system, requirement)
        text += f" ({group.members})" if group.members else ""
        notes = [] if answer.expected == "holds" else [f"'{answer.expected}' is expected"]
        notes += [vacuity_words(answer)] if answer.vacuous else []
        notes += [answer.reason] if answer.reason else []
        said = escaped(text) + "".join(_faint(note) for note in notes)
        rows.append([_mark(answer.verdict), f"<b>{escaped(group.label)}</b>", said])
    return _table(title, (), rows)


def _findings(result: CheckResult) -> str:
    rows = []
    for found in result.findings:
        place = "" if found.span == NOWHERE else _faint(f"line {found.span.line}")
        why = _faint(f"accepted in the spec: {found.waived}") if found.waived else ""
        level = "accepted" if found.waived else found.level
        rows.append([_mark(level), f"<b>{escaped(found.id)}</b>{place}", escaped(found.message) + why])
    return _table("Findings", (), rows)


def _run(system: System, run: ShownRun) -> str:
    inside = _image(_times(system, run)) + _logbook(system, run.trace)
    return f"<details><summary>{escaped(run.title)}</summary>{inside}</details>"


def _logbook(system: System, trace: Trace) -> str:
    from prioritylogic.render.logbook import HEADS, log
    from prioritylogic.render.values import instant

    rows = []
    for row in log(system, trace).rows:
        cells = [instant(row.time), "" if row.number is None else str(row.number)]
        cells += ["\n".join(said) for said in (row.outside, row.rules, row.changes)]
        shown = [escaped(said).replace("\n", "<br>") for said in cells]
        rows.append([f"<b>{said}</b>" for said in shown] if row.decides else shown)
    return _table("", HEADS, rows)


# --------------------------------------------------------------------------- pieces of a page


def escaped(text: str) -> str:
    """Text as it stands in HTML; line ends are kept."""
    from prioritylogic.render import dot

    return "\n".join(dot.escaped(line) for line in text.split("\n"))


def _page(title: str, file: str, body: Iterable[str]) -> str:
    head = f"<b>{escaped(title)}</b> <span style='opacity:.75'>{escaped(file)}</span>"
    return f"<div style='font-family:sans-serif;max-width:70em'><p>{head}</p>{''.join(body)}</div>"


def _table(title: str, heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    def whole() -> Iterator[str]:
        if named := list(heads):
            cells = "".join(f"<th style='{_CELL}'>{escaped(name)}</th>" for name in named)
            yield f"<thead><tr style='background:none'>{cells}</tr></thead>"
        for row in rows:
            cells = "".join(f"<td style='{_CELL}'>{cell}</td>" for cell in row)
            yield f"<tr style='background:none'>{cells}</tr>"

    inside = "".join(whole())
    caption = (
        f"<caption style='text-align:left;padding:.5em 0'><b>{escaped(title)}</b></caption>"
        * bool(title)
    )
    return f"<table style='border-collapse:collapse'>{caption}{inside}</table>" if inside else ""


def _mark(word: str) -> str:
    ground, text = _MARKS[word]
    style = f"background:{ground};color:{text};padding:.1em .5em;border-radius:.3em"
    return f"<span style='{style}'>{word}</span>"


def _faint(text: str) -> str:
    return f"<div style='opacity:.75;font-size:90%'>{escaped(text)}</div>"


def _image(picture: Picture) -> str:
    """A picture as an image of its own, so that nothing in it meets the page."""
    try:
        data = base64.b64encode(picture.svg().encode("utf-8")).decode("ascii")
    except RequestError as error:
        return _faint(f"No picture: {error}.")
    style = "max-width:100%;background:white"
    alt = escaped(f"{picture.title}. {picture.about}")
    return f'<img style="{style}" alt="{alt}" src="data:image/svg+xml;base64,{data}">'
