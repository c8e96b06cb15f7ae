"""A spec's text to a `Spec`: one walk over the YAML tree, driven by the shapes in nodes.py.

Every fault of the text is collected before any is raised, those of the layout alone excepted:
behind broken YAML nothing can be trusted. This module knows shapes, not keys: what may be written
is said once, beside the fields in nodes.py.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any

from prioritylogic.errors import Problems, Span, did_you_mean
from prioritylogic.syntax import nodes
from prioritylogic.syntax.expressions import read_phrase
from prioritylogic.syntax.layout import Node, read_layout
from prioritylogic.syntax.places import shortened

MAX_PROBLEMS = 100
_KINDS = MappingProxyType(
    {
        "text": "a text",
        "list": "a list",
        "mapping": "a mapping",
    }
)
_HOW = MappingProxyType(
    {
        "text": "write it behind the key, on the same line",
        "list": "write one item per line, each beginning with `- `",
        "mapping": "write lines of `key: value`, with a space after the colon, indented below the key",
    }
)


@lru_cache(maxsize=4)  # whoever checks a spec reads its text once more
def read(text: str, file: str = "<text>") -> nodes.Spec:
    """The syntax tree of a spec.

    >>> read("system: lamp\\ninputs:\\n  knob: button").inputs[0].key.base
    'knob'

    Args:
        text: the spec.
        file: its name, for messages.

    Raises:
        SpecError: with every problem of the text.
    """
    problems = Problems()
    text = text.removeprefix("\ufeff")
    root = read_layout(text, file, problems)
    problems.stop_if_any(text)
    assert root is not None
    spec = None
    if root.kind == "mapping":
        with suppress(_Enough):
            spec = _Reader(problems).record(nodes.Spec, root, root.span)
    else:
        problems.add(
            "empty-spec",
            f"this is {_KINDS[root.kind]}, not a spec",
            root.span,
            "a spec is a mapping that begins with `system: its-name`",
        )
    problems.stop_if_any(text)
    assert isinstance(spec, nodes.Spec)
    return spec


@cache
def keys_of(cls: type) -> dict[str, tuple[str, nodes.Shape, bool, str]]:
    """The YAML keys of a record: key to (field, shape, required, about)."""
    return {
        f.metadata["word"] or f.name: (
            f.name,
            f.metadata["shape"],
            f.metadata["required"],
            f.metadata["about"],
        )
        for f in fields(cls)
        if "shape" in f.metadata
    }


def named(cls: type) -> str:
    """What a record is called in messages, `a rule`."""
    if cls is nodes.Together:
        return "a step"
    name = cls.__name__.lower()
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


class _Enough(Exception):  # noqa: N818 - a signal of this module alone
    pass


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads nodes by shape. Returns None where it noted a problem."""

    problems: Problems

    def shape(self, shape: nodes.Shape, node: Node, key: Span) -> Any:
        """The value of a node; `key` is the place to point at when there is nothing."""
        if len(self.problems.found) >= MAX_PROBLEMS:
            self.stop(key)
        if isinstance(shape, nodes.Reserved):
            return self.note(
                "reserved-key", "this key is reserved for a later version", key, "delete it"
            )
        if node.empty:
            remedy = "write a value, or delete the key"
            return self.note("empty-value", "there is no value here", key, remedy)
        match shape:
            case nodes.Either(options):
                return self.either(options, node, key)
            case nodes.ListOf(item, single):
                if node.kind == "list":
                    return tuple(self.shape(item, each, each.span) for each in node.items)
                if single:
                    return (self.shape(item, node, key),)
                return self.wrong_kind(node, ("list",))
            case nodes.MapOf(phrase, value):
                if node.kind == "mapping":
                    return tuple(
                        nodes.Entry(k.span, self.phrase(phrase, k), self.shape(value, v, k.span))
                        for k, v in self.pairs(node)
                    )
                return self.wrong_kind(node, ("mapping",))
            case nodes.RecordOf(cls):
                return self.record(cls, node, key)
        if node.kind != "text":
            return self.wrong_kind(node, ("text",))
        match shape:
            case nodes.Phrase(start):
                return self.phrase(start, node)
            case nodes.Words(choices):
                return self.word(choices, node)
        return nodes.Text(node.span, node.value.strip())

    def either(self, options: tuple[nodes.Shape, ...], node: Node, key: Span) -> Any:
        """The first option of this node's kind; a record only if its required keys are there."""
        fitting = [option for option in options if node.kind in kinds_of(option)]
        if not fitting:
            return self.wrong_kind(node, tuple(kind for o in options for kind in kinds_of(o)))
        written = {k.value for k, _ in node.pairs}
        for option in fitting[:-1]:
            if not isinstance(option, nodes.RecordOf):
                return self.shape(option, node, key)
            if all(k in written for k, (_, _, required, _) in keys_of(option.cls).items() if required):
                return self.shape(option, node, key)
        return self.shape(fitting[-1], node, key)

    def record(self, cls: type, node: Node, key: Span) -> Any:
        """A mapping with the keys of this class."""
        if node.kind != "mapping":
            return self.wrong_kind(node, ("mapping",))
        known = keys_of(cls)
        values: dict[str, Any] = {}
        key_spans: dict[str, Span] = {}
        for k, v in self.pairs(node):
            if k.value not in known:
                self.unknown_key(cls, k, known)
                continue
            name, shape, _, _ = known[k.value]
            key_spans[name] = k.span
            values[name] = self.shape(shape, v, k.span)
        missing = [
            word for word, (name, _, required, _) in known.items() if required and name not in values
        ]
        for word in missing:
            about = known[word][3]
            self.note("missing-key", f"{named(cls)} needs `{word}`", key, f"add `{word}:`, {about}")
        if missing:
            return None
        record = cls(span=node.span, key_spans=key_spans, **values)
        if isinstance(record, nodes.Together):
            return nodes.Step(record.span, "together", parts=record.together)
        return record

    def pairs(self, node: Node) -> list[tuple[Node, Node]]:
        """The pairs of a mapping whose keys are texts, each once."""
        kept: dict[str, tuple[Node, Node]] = {}
        for k, v in node.pairs:
            same = " ".join(k.value.split())
            if k.kind != "text" or not same:
                self.note(
                    "wrong-kind",
                    "a key must be a text",
                    k.span,
                    "write `key: value`, with a word as key",
                )
            elif same in kept:
                first = kept[same][0].span.line
                self.note(
                    "repeated-key",
                    f"`{shortened(same)}` stands here a second time; the first is in line {first}",
                    k.span,
                    "keep one of them",
                )
            else:
                kept[same] = (k, v)
        return list(kept.values())

    def phrase(self, start: str, node: Node) -> Any:
        """A text that the grammar reads."""
        return read_phrase(start, node.passage, self.problems)

    def word(self, choices: tuple[str, ...], node: Node) -> Any:
        """One of a few words."""
        said = node.value.strip()
        if said in choices:
            return nodes.Text(node.span, said)
        listed = " or ".join(f"`{choice}`" for choice in choices)
        return self.note(
            "unknown-choice",
            f"`{shortened(said)}` cannot stand here",
            node.span,
            f"write {listed}, or delete the key",
        )

    def unknown_key(self, cls: type, key: Node, known: dict[str, Any]) -> None:
        listed = "its keys are " + ", ".join(f"`{word}`" for word in known)
        if cls is nodes.Together:
            listed = "a step is a text such as `press x`, or `together:` with a list of these"
        self.note(
            "unknown-key",
            f"`{shortened(key.value)}` is no key of {named(cls)}",
            key.span,
            did_you_mean(key.value, known, listed),
        )

    def wrong_kind(self, node: Node, wanted: tuple[str, ...]) -> None:
        kinds = list(dict.fromkeys(wanted))
        listed = " or ".join(_KINDS[kind] for kind in kinds)
        self.note(
            "wrong-kind", f"{listed} belongs here, not {_KINDS[node.kind]}", node.span, _HOW[kinds[0]]
        )

    def note(self, code: str, message: str, span: Span, remedy: str) -> None:
        """Note a problem; so many are enough."""
        if len(self.problems.found) >= MAX_PROBLEMS:
            self.stop(span)
        self.problems.add(code, message, span, remedy)

    def stop(self, span: Span) -> None:
        """Read no further: showing thousands of problems helps nobody and takes long."""
        message = f"reading stopped here, after {MAX_PROBLEMS} problems"
        self.problems.add("too-many", message, span, "mend the first ones and read again")
        raise _Enough


def kinds_of(shape: nodes.Shape) -> tuple[str, ...]:
    """The kinds of YAML node that may hold this shape."""
    match shape:
        case nodes.ListOf(item, single):
            return ("list", *kinds_of(item)) if single else ("list",)
        case nodes.MapOf() | nodes.RecordOf():
            return ("mapping",)
        case nodes.Either(options):
            return tuple(kind for option in options for kind in kinds_of(option))
        case _:
            return ("text",)
