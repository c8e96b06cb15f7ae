"""YAML text to a plain tree of scalars, lists and mappings, each with its place.

Why not the YAML library's own loader: a spec needs only the *text* of scalars (so that `on`, `off`,
`yes` and `no` stay words), exact places, and refusals: anchors, aliases, tags, merge keys and second
documents make two readers read one spec differently. So the library's event stream (pure Python,
YAML 1.2) is folded here into nodes, which also bounds nesting before anything is built.

What the library's complaints mean to an author is the table `_MEANINGS`. This module knows nothing
of what a spec may contain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from prioritylogic.errors import Problems, Span
from prioritylogic.syntax.places import Passage, Source, align, shortened

if TYPE_CHECKING:
    from ruamel.yaml.error import MarkedYAMLError

MAX_TEXT = 1 << 20
MAX_LINE = 10_000
MAX_NODES = 100_000
MAX_NESTING = 50
QUOTE_IT = "put the whole text in quotes, or on a line of its own below `key: >-`"


@dataclass(slots=True)
class Node:
    """A scalar, list or mapping.

    Attributes:
        source: the text it stands in.
        start: index of its first character (a quote or block sign included).
        end: index behind its last character.
        value: a scalar's text; empty for collections.
        style: a scalar's quote or block sign; None for a plain one.
        flow: it stands inside `[...]` or `{...}`.
        items: a list's items.
        pairs: a mapping's keys and values.
    """

    source: Source
    kind: Literal["text", "list", "mapping"]
    start: int
    end: int
    value: str = ""
    style: str | None = None
    flow: bool = False
    items: list[Node] = field(default_factory=list)
    pairs: list[tuple[Node, Node]] = field(default_factory=list)

    @property
    def passage(self) -> Passage:
        """A scalar's value with the place of each character."""
        offsets = align(self.source.text, self.value, self.start, self.style)
        return Passage(self.source, self.value, offsets, self.flow)

    @property
    def span(self) -> Span:
        """Its place: of a scalar the value without quotes, of a collection its first line."""
        return self.passage.whole if self.value.strip() else self.source.span(self.start, self.end)

    @property
    def empty(self) -> bool:
        """Nothing was written."""
        return not (self.value.strip() or self.items or self.pairs)


def read_layout(text: str, file: str, problems: Problems) -> Node | None:
    """The tree of a YAML text, or None (with at least one problem noted).

    >>> read_layout("a: [b, c]", "x.yaml", Problems()).pairs[0][1].items[1].value
    'c'
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError
    from ruamel.yaml.reader import ReaderError

    source = Source(file, text)
    if len(text) > MAX_TEXT:
        problems.add(
            "too-large",
            f"the text has {len(text)} characters; at most {MAX_TEXT} are read",
            Span(file),
            "split the spec into several systems",
        )
        return None
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > MAX_LINE:
            problems.add(
                "too-long",
                f"this line has {len(line)} characters; at most {MAX_LINE} are read",
                Span(file, number),
                "break the line; below `key: >-` a text may go over several lines",
            )
            return None
    folder = _Folder(source, problems)
    try:
        for event in YAML(typ="safe", pure=True).parse(text):
            if not folder.take(event):
                return None
    except MarkedYAMLError as error:
        _complain(error, source, problems)
        return None
    except ReaderError as error:
        problems.add(
            "unprintable",
            f"the character U+{ord(text[error.position]):04X} cannot be read",
            source.span(error.position, error.position + 1),
            "delete it; only text belongs in a spec",
        )
        return None
    except (YAMLError, ValueError, OverflowError) as error:  # such as a `%YAML` line of nonsense
        problems.add("yaml", "this is not YAML", Span(file), f"check the start of the text ({error})")
        return None
    if folder.root is None or folder.root.empty:
        problems.add(
            "empty-spec", "there is nothing to read", Span(file), "a spec begins with `system: its-name`"
        )
        return None
    return folder.root


class _Folder:
    """Folds the events of one text into nodes; stops at what specs do without."""

    def __init__(self, source: Source, problems: Problems) -> None:
        self.source = source
        self.problems = problems
        self.root: Node | None = None
        self.open: list[Node] = []
        self.keys: list[Node | None] = []  # for each open node, a mapping key awaiting its value
        self.documents = 0
        self.count = 0

    def take(self, event: Any) -> bool:
        """Fold one event; False if reading must stop."""
        start, end = event.start_mark.index, event.end_mark.index
        match type(event).__name__:
            case "DocumentStartEvent":
                self.documents += 1
                if self.documents > 1:
                    return self.refuse(start, end, "a second document", "keep one system in one file")
                if event.version or event.tags:
                    return self.refuse(
                        start, end, "a directive (`%`)", "delete the lines that begin with `%`"
                    )
            case "AliasEvent":
                return self.refuse(
                    start, end, f"`*{shortened(event.anchor)}`, an alias", "write the value out again"
                )
            case "ScalarEvent":
                return self.plain(event) and self.add(
                    Node(self.source, "text", start, end, event.value, event.style, self.in_flow)
                )
            case "SequenceStartEvent" | "MappingStartEvent":
                kind: Literal["list", "mapping"] = (
                    "list" if type(event).__name__[0] == "S" else "mapping"
                )
                node = Node(self.source, kind, start, end, flow=bool(event.flow_style))
                if not (self.plain(event) and self.add(node)):
                    return False
                self.open.append(node)
                self.keys.append(None)
                if len(self.open) > MAX_NESTING:
                    self.problems.add(
                        "too-deep",
                        f"lists and mappings are nested more than {MAX_NESTING} deep",
                        node.span,
                        "a spec needs less than ten levels; check the indentation here",
                    )
                    return False
            case "SequenceEndEvent" | "MappingEndEvent":
                self.keys.pop()
                self.open.pop().end = end
        return True

    @property
    def in_flow(self) -> bool:
        """Inside `[...]` or `{...}`."""
        return bool(self.open) and self.open[-1].flow

    def add(self, node: Node) -> bool:
        """Hang a node into the collection that is open."""
        self.count += 1
        if self.count > MAX_NODES:
            self.problems.add(
                "too-large",
                f"there are more than {MAX_NODES} keys and values",
                node.span,
                "split the spec into several systems",
            )
            return False
        if not self.open:
            self.root = node
        elif self.open[-1].kind == "list":
            self.open[-1].items.append(node)
        elif self.keys[-1] is None:
            if node.value == "<<" and node.style is None:
                return self.refuse(node.start, node.end, "`<<`, a merge key", "write the keys out again")
            self.keys[-1] = node
        else:
            self.open[-1].pairs.append((self.keys[-1], node))
            self.keys[-1] = None
        return True

    def plain(self, event: Any) -> bool:
        """Neither anchor nor tag."""
        start = event.start_mark.index
        if event.anchor:
            name = event.anchor
            return self.refuse(
                start,
                start + 1 + len(name),
                f"`&{shortened(name)}`, an anchor",
                "delete it and write values out",
            )
        if event.tag:
            length = len(re.match(r"\S*", self.source.text[start:]).group())  # type: ignore[union-attr]
            said = self.source.text[start : start + length]
            return self.refuse(
                start, start + length, f"`{shortened(said)}`, a tag", "delete it (negation is `not`)"
            )
        return True

    def refuse(self, start: int, end: int, what: str, remedy: str) -> bool:
        """Note a part of YAML that specs do without."""
        self.problems.add(
            "yaml-feature",
            f"specs do without {what}",
            self.source.span(start, max(end, start + 1)),
            remedy,
        )
        return False


# (part of the library's message, what it means here, remedy, is the fault where the context began?)
_MEANINGS = (
    (
        "mapping values are not allowed",
        "a second `: ` where one value was expected",
        f"check that the lines above end in `key: value`; if the colon is part of a text, {QUOTE_IT}",
        False,
    ),
    (
        "sequence entries are not allowed",
        "a list item (`- `) cannot begin here",
        "put each `- item` on a line of its own below its key",
        False,
    ),
    ("that cannot start any token", "{char} cannot begin a value", QUOTE_IT, False),
    ("expected ',' or '}'", "this `{{` has no `}}`, or a value in it holds brackets", "{flow}", False),
    ("expected ',' or ']'", "this `[` has no `]`, or an item in it holds brackets", "{flow}", False),
    ("unexpected end of stream", "this quote is never closed", "add the closing quote", True),
    ("unexpected document separator", "this quote is never closed", "add the closing quote", True),
    (
        "unknown escape",
        "{char} is no escape in double quotes",
        "use single quotes, or write `\\\\`",
        False,
    ),
    ("escape sequence", "this escape is not complete", "use single quotes, or write `\\\\`", False),
    (
        "could not find expected ':'",
        "this line has no `key: value`",
        "add the colon, or " + QUOTE_IT,
        True,
    ),
    (
        "expected <block end>",
        "{found} does not belong to the list or mapping above it",
        "begin it in the same column as its neighbours; text after a closing quote belongs inside it",
        False,
    ),
    ("chomping or indentation", "text behind `|` or `>`", "begin the text on the next line", False),
    ("a comment or a line break", "text behind `|` or `>`", "begin the text on the next line", False),
)


_UNKNOWN = ("", "the layout is not YAML here", "check the indentation, the colon and the quotes", False)


def _complain(error: MarkedYAMLError, source: Source, problems: Problems) -> None:
    """Say what a YAML error means in the author's terms."""
    mark: Any = error.problem_mark or error.context_mark
    index = min(mark.index if mark else 0, len(source.text))
    line = source.text[source.text.rfind("\n", 0, index) + 1 :].split("\n", 1)[0]
    indent = line[: len(line) - len(line.lstrip())]
    if "\t" in indent:
        start = source.text.rfind("\n", 0, index) + 1 + indent.index("\t")
        problems.add(
            "tab", "a tab in the indentation", source.span(start, start + 1), "indent with spaces"
        )
        return
    shown = source.text[index : index + 1].strip()
    found = f"`{shown}`" if shown else "the end of the line"
    words = re.match(r"[^\n]{0,30}", source.text[index:])
    values = {
        "char": found,
        "found": f"`{words.group().strip()}`" if words and words.group().strip() else "this line",
        "flow": "close the bracket; put what holds `[`, `(` or `,` on a line of its own or in quotes",
    }
    said = str(error.problem)
    _, meaning, remedy, at_context = next((row for row in _MEANINGS if row[0] in said), _UNKNOWN)
    context: Any = error.context_mark
    if at_context and context:
        index = context.index
    problems.add(
        "yaml", meaning.format(**values), source.span(index, index + 1), remedy.format(**values)
    )
