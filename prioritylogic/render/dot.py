"""DOT text: how everything that is drawn is written down, before any program lays it out.

DOT (graphviz.org/doc/info/lang.html) is the canonical form of a picture: it is made by this file
alone, byte for byte the same for the same input, and can be edited by hand. Labels are tables of
text, so that a name stands out and a condition may be long.

Looks are chosen for grey print and for any eye: text is nearly black on white or pale fills, and each
thing that a colour says is also said by a line style, a border or a word. The fills are tints of two
hues that colour-blind readers tell apart (Okabe and Ito 2008, "Color universal design", from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from unicodedata import category, east_asian_width

from prioritylogic.render.layout import wrap

INK, FAINT, LINE, PALE = "#1a1a1a", "#555555", "#8a8a8a", "#f3f4f6"
CALM, WARM = "#cfe5f5", "#fbe3c6"  # fills
ALARM, NEWS = "#b34700", "#0b4f79"  # grounds of white words, for what fails and what is reached
COLORS = {"f": FAINT, "w": "white"}
FONT = "Helvetica"
SIZE = 12  # points
LONG = 60


@dataclass(frozen=True, slots=True)
class Text:
    """A line of a label. `style` is any of b (bold), i (slanted), f (faint) and w (white)."""

    text: str
    style: str = ""
    size: int = SIZE


class Markup(str):
    """Text in the markup of labels, with everything in it that is not markup escaped."""

    __slots__ = ()


def escaped(text: str) -> str:
    """Text as it stands in a label: nothing in it is markup, and control signs are gone.

    >>> escaped('a < "b" & c')
    'a &lt; &quot;b&quot; &amp; c'
    """
    shown = printable(text)
    for sign, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        shown = shown.replace(sign, name)
    return shown


def printable(text: str) -> str:
    """The text without signs that XML does not allow."""
    return "".join(" " if category(s) in ("Cc", "Cs") or s in "\ufffe\uffff" else s for s in text)


def quoted(text: str) -> str:
    """A DOT string.

    >>> print(quoted('say "aye"'))
    "say \\"aye\\""
    """
    plain = (printable(line).replace("\\", "\\\\").replace('"', '\\"') for line in text.split("\n"))
    return '"' + "\\n".join(plain) + '"'


def attributes(given: Mapping[str, object]) -> str:
    """A list of attributes."""
    parts = (
        f"{name}=<{value}>" if isinstance(value, Markup) else f"{name}={quoted(str(value))}"
        for name, value in given.items()
    )
    return f"[{', '.join(parts)}]"


def lines(text: str, width: int, style: str = "", size: int = SIZE, hang: int = 2) -> list[Text]:
    """A text as lines of at most `width` signs; a name is not broken unless it is longer than LONG."""
    room = max(width, *(min(len(word) + hang, LONG) for word in text.split() or [""]))
    wrapped = wrap(text, room, hang)
    return [Text(line.replace("  ", "\N{NO-BREAK SPACE} "), style, size) for line in wrapped]


def markup(line: Text) -> str:
    """A line in the markup of labels."""
    said = escaped(line.text) or " "
    for sign in "bi":
        said = f"<{sign.upper()}>{said}</{sign.upper()}>" if sign in line.style else said
    font = "".join(f' COLOR="{color}"' for sign, color in COLORS.items() if sign in line.style)
    font += f' POINT-SIZE="{line.size}"' if line.size != SIZE else ""
    return f"<FONT{font}>{said}</FONT>" if font else said


def cell(content: Iterable[Text], align: str = "LEFT", **more: object) -> str:
    """A table cell with lines of text; `more` are attributes of the cell."""
    shown = list(content)
    given = {"ALIGN": align, "BALIGN": align, **more}
    if (room := max((_room(line) for line in shown), default=0)) > 0:
        given["WIDTH"] = max(room, int(str(given.get("WIDTH", 0))))
    named = "".join(f' {name}="{value}"' for name, value in given.items())
    end = f'<BR ALIGN="{align}"/>' if align != "CENTER" else "<BR/>"
    body = end.join(map(markup, shown))
    return f"<TD{named}>{body}{end if len(shown) > 1 and align != 'CENTER' else ''}</TD>"


def _room(line: Text) -> int:
    """A width for text with signs that layout programs have no figure for; 0 if there are none.

    They reckon such a sign as narrow as a space, and the text would run out of its box.
    """
    if line.text.isascii():
        return 0
    wide = sum(east_asian_width(sign) in "WF" for sign in line.text)
    return round(line.size * (0.52 * len(line.text) + 0.5 * wide))


def table(rows: Iterable[Iterable[str]], **more: object) -> Markup:
    """A table of cells; `more` are attributes of the table."""
    given = {"BORDER": 0, "CELLBORDER": 0, "CELLSPACING": 0, "CELLPADDING": 2, **more}
    named = "".join(f' {name}="{value}"' for name, value in given.items())
    body = "".join(f"<TR>{''.join(row)}</TR>" for row in rows)
    return Markup(f"<TABLE{named}>{body}</TABLE>")


def label(content: Iterable[Text], align: str = "LEFT", **more: object) -> Markup:
    """Lines of text as a label of their own."""
    return table([[cell(content, align)]], **more)


def heading(title: str, below: Iterable[str], width: int) -> Markup:
    """The title of a picture, and what is said below it."""
    said = [line for text in below for line in lines(text, width, "f", hang=0)]
    rows = [[cell(lines(title, width, "b", SIZE + 4, 0))], *([[cell(said)]] if said else [])]
    return table(rows, CELLPADDING=4)


def footing(items: Iterable[tuple[str, str]], last: Iterable[str], width: int) -> Markup:
    """What signs mean, each with its text, and notes and sentences at the very end."""
    said = [line for sign, text in items for line in lines(f"{sign}: {text}", width, "", SIZE - 1, 2)]
    said += [line for text in last for line in lines(text, width, "i", SIZE - 1, 0)]
    return label(said or [Text(" ")], CELLPADDING=4)


def words(key: str, content: Iterable[Text]) -> str:
    """A node of text without a box, such as stands in the middle of an arrow."""
    return f"{key} {attributes({'shape': 'plaintext', 'margin': '0.04,0.02', 'label': label(content)})};"


def spot(key: str) -> str:
    """A black dot, where something starts."""
    shown = {"shape": "circle", "style": "filled", "fillcolor": INK, "label": "", "width": "0.14"}
    return f"{key} {attributes(shown)};"


def frame(key: str, title: str, body: Iterable[str]) -> Iterator[str]:
    """A frame with a title around what belongs together."""
    yield f"subgraph cluster_{key} {{"
    shown = {"style": "rounded,filled", "color": LINE, "fillcolor": PALE, "margin": "14"}
    named = {"label": label([Text(title, "b", SIZE + 2)]), "labelloc": "t", "labeljust": "l"}
    yield f"  graph {attributes({**shown, **named})};"
    yield from (f"  {line}" for line in body)
    yield "}"


def digraph(
    name: str, settings: Mapping[str, object], head: Markup, foot: Markup, body: Iterable[str]
) -> str:
    """A whole picture: its heading above, its footing below, and between them the body."""
    base = {"fontname": FONT, "fontsize": SIZE, "fontcolor": INK}
    outside = {"bgcolor": "white", "pad": "0.2", "labelloc": "b", "labeljust": "l", "label": foot}

    named: dict[str, object] = {"style": "invis", "labelloc": "t", "labeljust": "l", "label": head}

    def whole() -> Iterator[str]:
        yield f"digraph {quoted(name)} {{"
        yield f"  graph {attributes({**base, **outside, **settings})};"
        yield f"  node {attributes({**base, 'color': INK})};"
        yield f"  edge {attributes({**base, 'color': INK, 'arrowsize': '0.8'})};"
        yield "  subgraph cluster_picture {"
        yield f"    graph {attributes(named)};"
        yield from (f"    {line}" for line in body)
        yield "  }"
        yield "}"

    return "\n".join(whole()) + "\n"
