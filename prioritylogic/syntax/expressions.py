"""Expressions and small phrases: text to nodes.

Lark parses with `grammar.lark`; a bottom-up walk turns its tree into nodes and cuts every span from
the passage the text stands in. The grammar is read when the first expression is (about 50 ms, after
60 ms for importing Lark, measured; 200 expressions then take about 70 ms), and kept.

What is wrong with a text that does not parse is said by `complaints.py`.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from prioritylogic.errors import Problems, Span, did_you_mean
from prioritylogic.syntax import nodes
from prioritylogic.syntax.complaints import complain
from prioritylogic.syntax.functions import FUNCTIONS
from prioritylogic.syntax.places import Passage, Source, shortened

if TYPE_CHECKING:
    from lark import Lark, Token, Tree
    from lark.exceptions import UnexpectedInput

STARTS = (
    "expression",
    "values",
    "range",
    "name",
    "declared",
    "binders",
    "after",
    "within",
    "takes",
    "step",
    "word",
)
MAX_LENGTH = 4000
MAX_BRACKETS = 60
MAX_DEPTH = 120  # every level of the tree, such as each `or` in a row


def parse(phrase: str, text: str, at: Span | str = "<text>") -> Any:
    """The node of one expression or phrase from outside a spec file.

    >>> parse("expression", "pressed(accept)").function
    'pressed'

    Args:
        phrase: one of STARTS, or `finding`.
        text: what to read.
        at: the name to show in messages, or the place of the text's first character.

    Raises:
        SpecError: the text is no such phrase.
    """
    span = at if isinstance(at, Span) else Span(at)
    pad = "\n" * (span.line - 1) + " " * (span.column - 1)
    offsets = range(len(pad), len(pad) + len(text) + 1)
    problems = Problems()
    node = read_phrase(phrase, Passage(Source(span.file, pad + text), text, offsets), problems)
    problems.stop_if_any(pad + text)
    return node


def read_phrase(phrase: str, where: Passage, problems: Problems) -> Any | None:
    """The node of the passage, or None with at least one problem noted."""
    from lark.exceptions import UnexpectedInput

    text = where.value
    if phrase == "finding":  # the one phrase without a grammar: any text
        return nodes.Text(where.whole, text.strip())
    if len(text) > MAX_LENGTH:
        problems.add(
            "too-long",
            f"this expression has {len(text)} characters; at most {MAX_LENGTH} are read",
            where.whole,
            "give parts of it names under `terms`",
        )
        return None
    if (start := _too_deep(text)) is not None:
        _note_depth(where.span(start, start + 1), problems)
        return None
    try:
        tree = _parser().parse(text, start=phrase)
    except UnexpectedInput as error:
        problems.found.append(complain(phrase, where, error, _allowed(phrase, text, error)))
        return None
    builder = _Builder(where, problems)
    before = len(problems.found)
    try:
        node = builder.build(tree)
    except _TooDeep:
        _note_depth(where.whole, problems)
        return None
    return node if len(problems.found) == before else None


@cache
def _parser() -> Lark:
    from lark import Lark

    grammar = files("prioritylogic.syntax").joinpath("grammar.lark").read_text(encoding="utf-8")
    return Lark(
        grammar,
        parser="lalr",
        lexer="contextual",
        start=list(STARTS),
        propagate_positions=True,
        cache=_table_file() or False,
    )


def _table_file() -> str | None:
    """Where Lark keeps the parser's table between runs: in the user's cache folder, or nowhere.

    Making the table takes most of the time of reading a spec. Lark itself notes what the table was
    made from, and makes it anew if that has changed or the file cannot be read.
    """
    try:
        folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "prioritylogic"
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError):  # no such place, or no home at all
        return None
    return str(folder / "grammar.table") if os.access(folder, os.W_OK) else None


def _allowed(phrase: str, text: str, error: UnexpectedInput) -> frozenset[str]:
    """The terminals that could have stood where the parser stopped.

    Asked of the text before that place, because the failing parser has already folded it, on the
    strength of a word that cannot stand there.
    """
    ended = getattr(getattr(error, "token", None), "type", "") == "$END"
    before = text if ended else text[: error.pos_in_stream or 0]
    state = _parser().parse_interactive(before, start=phrase)
    state.exhaust_lexer()
    accepts: Callable[[], set[str]] = state.accepts
    return frozenset(accepts())


def _many(count: int | None) -> str:
    return "one argument" if count == 1 else f"{count} arguments"


def _too_deep(text: str) -> int | None:
    """Where the bracket stands that is one too many."""
    depth = 0
    for at, char in enumerate(text):
        depth += (char in "([") - (char in ")]")
        if depth > MAX_BRACKETS:
            return at
    return None


def _note_depth(span: Span, problems: Problems) -> None:
    problems.add(
        "too-deep",
        "this expression is nested too deeply",
        span,
        f"name parts of it under `terms`, or write a chain of more than {MAX_DEPTH} as `any(a, b, c)`",
    )


class _TooDeep(Exception):  # noqa: N818 - a signal of this module alone
    pass


@dataclass(slots=True)
class _Builder:
    """Lark's tree to nodes, bottom up: for each rule the method of its name, given the span and the
    rule's children (nodes, or tokens where the grammar keeps a word)."""

    where: Passage
    problems: Problems
    depth: int = 0

    def build(self, tree: Tree[Token]) -> Any:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise _TooDeep
        parts = [c if c is None or isinstance(c, str) else self.build(c) for c in tree.children]
        self.depth -= 1
        span = self.where.span(tree.meta.start_pos, tree.meta.end_pos)
        return getattr(self, tree.data)(span, *parts)

    def at(self, first: Token, last: Token | None = None) -> Span:
        return self.where.span(first.start_pos or 0, (last or first).end_pos or 0)

    # ---- expressions

    def if_else(
        self, span: Span, then: Any, _if: Token, condition: Any, _else: Token, other: Any
    ) -> Any:
        return nodes.IfElse(span, condition, then, other)

    def binary(self, span: Span, left: Any, sign: Token, right: Any) -> Any:
        return nodes.Binary(span, str(sign), left, right, self.at(sign))  # type: ignore[arg-type]

    def is_not(self, span: Span, left: Any, is_: Token, not_: Token, right: Any) -> Any:
        return nodes.Binary(span, "is not", left, right, self.at(is_, not_))

    def unary(self, span: Span, sign: Token, operand: Any) -> Any:
        return nodes.Unary(span, str(sign), operand)  # type: ignore[arg-type]

    def member(self, span: Span, left: Any, *rest: Any, negated: bool = False) -> Any:
        members = rest[-1] if isinstance(rest[-1], tuple) else (rest[-1],)
        return nodes.Membership(span, left, members, negated)

    def no_member(self, span: Span, left: Any, *rest: Any) -> Any:
        return self.member(span, left, *rest, negated=True)

    def list(self, span: Span, *parts: Any) -> Any:
        return parts

    def held(self, span: Span, operand: Any, _for: Token, duration: Any) -> Any:
        return nodes.Timed(span, "for", operand, duration)

    def recent(self, span: Span, operand: Any, _within: Token, _last: Token, duration: Any) -> Any:
        return nodes.Timed(span, "within last", operand, duration)

    def parenthesis(self, span: Span, inner: Any) -> Any:
        return replace(inner, span=span)

    def number(self, span: Span, digits: Token, unit: Token | None) -> Any:
        return nodes.Number(span, Fraction(str(digits)), str(unit) if unit else None)

    def name(self, span: Span, base: Token, indices: Any = None, attribute: Token | None = None) -> Any:
        return nodes.Name(span, str(base), indices or (), str(attribute) if attribute else None)

    def indices(self, span: Span, *parts: Any) -> Any:
        for part in parts:
            if isinstance(part, nodes.Call) and part.function in FUNCTIONS and part.function != "other":
                self.problems.add(
                    "wrong-arguments",
                    f"`{part.function}(...)` cannot be an index",
                    part.span,
                    "an index is a bound name, memory over the group, or `other(c)`",
                )
        return parts

    def call(self, span: Span, word: Token, *arguments: Any) -> Any:
        name = str(word)
        known = FUNCTIONS.get(name)
        if known is None:
            self.unknown(word)
        elif known.count not in (None, len(arguments)):
            self.misused(span, name, f"takes {_many(known.count)}, not {len(arguments)}")
        elif known.of_name and not self.is_name(arguments[0]):
            self.misused(arguments[0].span, name, "takes a name")
        return nodes.Call(span, name, arguments)

    def aggregate(self, span: Span, word: Token, body: Any, _over: Token, binders: Any) -> Any:
        name = str(word)
        if name not in FUNCTIONS:
            self.unknown(word)
        elif not FUNCTIONS[name].aggregate:
            self.misused(self.at(word), name, "does not run `over` a group")
        return nodes.Aggregate(span, name, body, binders.binders, binders.where)

    @staticmethod
    def is_name(node: Any) -> bool:
        return isinstance(node, nodes.Name)

    def unknown(self, word: Token) -> None:
        remedy = did_you_mean(str(word), FUNCTIONS, "functions are " + ", ".join(sorted(FUNCTIONS)))
        message = f"there is no function `{shortened(word)}`"
        self.problems.add("unknown-function", message, self.at(word), remedy)

    def misused(self, span: Span, name: str, message: str) -> None:
        self.problems.add(
            "wrong-arguments", f"`{name}` {message}", span, f"write `{FUNCTIONS[name].example}`"
        )

    # ---- phrases

    def binders(self, span: Span, *parts: Any) -> Any:
        binders = tuple(p for p in parts if isinstance(p, nodes.Binder))
        has_where = len(parts) > len(binders) and parts[-1] is not None
        return nodes.Binders(span, binders, parts[-1] if has_where else None)

    def binder(self, span: Span, name: Token, _in: Token, group: Token) -> Any:
        return nodes.Binder(span, str(name), str(group))

    def declared(self, span: Span, base: Token, *places: Any) -> Any:
        return nodes.Declared(span, str(base), tuple(p for p in places if p is not None))

    def place(self, span: Span, first: Token, _in: Token | None, group: Token | None) -> Any:
        return nodes.Index(span, str(first) if group else None, str(group or first))

    def range(self, span: Span, low: Any, _to: Token, high: Any) -> Any:
        return nodes.Range(span, low, high)

    def whole(self, span: Span, _whole: Token, low: Any, _to: Token, high: Any) -> Any:
        return nodes.Range(span, low, high, whole=True)

    def after(self, span: Span, strict: Token | None, duration: Any) -> Any:
        return nodes.Bound(span, duration, strict is not None)

    within = after

    def at_most(self, span: Span, *parts: Any) -> Any:
        return nodes.Takes(span, None, self.bound(parts[-1], parts[0] if len(parts) == 2 else None))

    def at_least(self, span: Span, *parts: Any) -> Any:
        return nodes.Takes(span, self.bound(parts[-1], parts[0] if len(parts) == 2 else None), None)

    def between(
        self, span: Span, over: Token | None, low: Any, _to: Token, under: Token | None, high: Any
    ) -> Any:
        return nodes.Takes(span, self.bound(low, over), self.bound(high, under))

    def some_day(self, span: Span, *_words: Token) -> Any:
        return nodes.Takes(span, None, None)

    @staticmethod
    def bound(duration: Any, strict: Token | None) -> nodes.Bound:
        return nodes.Bound(duration.span, duration, strict is not None)

    def act(self, span: Span, verb: Token, target: Any) -> Any:
        return nodes.Step(span, str(verb), target)  # type: ignore[arg-type]

    def set(self, span: Span, _set: Token, target: Any, _to: Token, value: Any) -> Any:
        return nodes.Step(span, "set", target, value)

    def word(self, span: Span, text: Token) -> Any:
        return nodes.Text(span, str(text))
