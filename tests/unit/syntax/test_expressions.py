"""Expressions and phrases: how they group, what is reserved, and where each part stands."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

import pytest

from prioritylogic.errors import Span, SpecError
from prioritylogic.syntax import nodes
from prioritylogic.syntax.expressions import STARTS, parse
from prioritylogic.syntax.show import text_of


def grouped(node: Any) -> str:
    """The expression with every pair of parentheses written out."""
    match node:
        case nodes.Binary(_, operator, left, right):
            return f"({grouped(left)} {operator} {grouped(right)})"
        case nodes.Unary(_, operator, operand):
            return f"({operator} {grouped(operand)})"
        case nodes.IfElse(_, condition, then, other):
            return f"({grouped(then)} if {grouped(condition)} else {grouped(other)})"
        case nodes.Timed(_, kind, operand, duration):
            return f"({grouped(operand)} {kind} {grouped(duration)})"
        case nodes.Membership(_, left, members, negated):
            listed = ", ".join(map(grouped, members))
            return f"({grouped(left)} {'is not in' if negated else 'in'} {{{listed}}})"
        case _:
            return text_of(node)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("a or b and not c", "(a or (b and (not c)))"),
        ("not a is b", "(not (a is b))"),
        ("a implies b implies c", "(a implies (b implies c))"),
        ("a or b implies c", "((a or b) implies c)"),
        ("a if b else c if d else e", "(a if b else (c if d else e))"),
        ("a implies b if c else d", "((a implies b) if c else d)"),
        ("a - b - c", "((a - b) - c)"),
        ("a + b * -c / d > e", "((a + ((b * (- c)) / d)) > e)"),
        ("a is not b", "(a is not b)"),
        ("a is not in (b, c)", "(a is not in {b, c})"),
        ("a in cabin and b", "((a in {cabin}) and b)"),
        ("not a for 3 s", "(not (a for 3 s))"),
        ("a for 3 s and b within last t", "((a for 3 s) and (b within last t))"),
        ("(a > b) for (t + 1 s)", "((a > b) for (t + 1 s))"),
        ("a if b for 3 s else c", "(a if (b for 3 s) else c)"),
    ],
)
def test_grouping(text: str, meaning: str) -> None:
    assert grouped(parse("expression", text)) == meaning


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("9 s", Fraction(9), "s"),
        ("0.1", Fraction(1, 10), None),
        ("35%", Fraction(35), "%"),
        ("10 m/s", Fraction(10), "m/s"),
        ("2.50 min", Fraction(5, 2), "min"),
        ("3 wibbles", Fraction(3), "wibbles"),
    ],
)
def test_numbers_are_exact_and_units_free(text: str, value: Fraction, unit: str | None) -> None:
    number = parse("expression", text)
    assert (number.value, number.unit) == (value, unit)


def test_a_slash_with_spaces_divides() -> None:
    assert grouped(parse("expression", "10 m / s")) == "(10 m / s)"


@pytest.mark.parametrize(
    "word", ["s", "repeat", "over", "where", "last", "to", "step", "on", "off", "any", "größe"]
)
def test_other_words_are_free(word: str) -> None:
    assert parse("expression", f"{word} and pressed({word})").left.base == word
    assert parse("declared", f"{word}[{word} in {word}]").base == word
    assert parse("step", f"set {word} to {word}").target.base == word


@pytest.mark.parametrize(
    "word", ["if", "else", "implies", "or", "and", "not", "is", "in", "for", "within"]
)
def test_words_of_the_expression_grammar_are_reserved(word: str) -> None:
    with pytest.raises(SpecError, match="reserved-word"):
        parse("declared", word)


@pytest.mark.parametrize("word", ["order", "android", "island", "input", "format", "notify", "iffy"])
def test_a_word_that_begins_with_a_reserved_one_is_a_name(word: str) -> None:
    assert parse("expression", f"{word} or not {word}").left.base == word
    with pytest.raises(SpecError):
        parse("expression", f"x {word}")


def test_names() -> None:
    name = parse("expression", "jam[c, other(d)].sounds")
    assert (name.base, name.attribute) == ("jam", "sounds")
    assert name.indices[0].base == "c"
    assert (name.indices[1].function, name.indices[1].arguments[0].base) == ("other", "d")


def test_aggregates_and_lists() -> None:
    summed = parse(
        "expression", "sum((h[c] if a[c] else 0 %) over c in cabin, d in desk where c is not d)"
    )
    assert (summed.function, [b.name for b in summed.binders]) == ("sum", ["c", "d"])
    assert summed.where.operator == "is not"
    assert len(parse("expression", "count(a, b, c)").arguments) == 3


@pytest.mark.parametrize(
    ("text", "lower", "upper"),
    [
        ("at most 3 s", None, False),
        ("under 3 s", None, True),
        ("1 s to 2 s", False, False),
        ("over 1 s to under 2 s", True, True),
        ("1 s to under 2 s", False, True),
        ("at least 5 s", False, None),
        ("over 2 s", True, None),
        ("some day", None, None),
    ],
)
def test_takes(text: str, lower: bool | None, upper: bool | None) -> None:
    takes = parse("takes", text)
    assert (takes.lower and takes.lower.strict) == lower
    assert (takes.upper and takes.upper.strict) == upper
    assert text_of(takes) == text


@pytest.mark.parametrize(
    ("phrase", "text"),
    [
        ("values", "button"),
        ("values", "-100 % to 100 %"),
        ("values", "whole 0 to 3"),
        ("range", "5 s to 20 s"),
        ("declared", "moved[c in cabin]"),
        ("declared", "lamp[cabin, d in desk]"),
        ("binders", "c in cabin, d in cabin where d is not c"),
        ("after", "over 9 s"),
        ("after", "lock_time"),
        ("within", "t + 1 s"),
        ("step", "press take[left]"),
        ("step", "release take"),
        ("step", "set mode to manual"),
        ("step", "take let_go[left]"),
        ("step", "wait 2 s"),
        ("step", "check a or b"),
        ("word", "left"),
    ],
)
def test_phrases_are_written_as_they_were_read(phrase: str, text: str) -> None:
    assert text_of(parse(phrase, text)) == text


def test_a_strict_bound_is_shown_in_the_words_of_its_key() -> None:
    assert text_of(parse("within", "under 9 s"), strict="under") == "under 9 s"


def spans(node: Any) -> list[Span]:
    """The spans of a node and its parts."""
    if isinstance(node, tuple):
        return [span for part in node for span in spans(part)]
    if not is_dataclass(node) or isinstance(node, Span):
        return []
    inner = [span for f in fields(node) for span in spans(getattr(node, f.name))]
    return [node.span, *inner]


def test_spans_are_exact() -> None:
    text = "not (moved[c] for 3 s) implies a  is not b"
    cut = [text[s.column - 1 : s.column - 1 + s.length] for s in spans(parse("expression", text))]
    assert cut == [
        text,
        "not (moved[c] for 3 s)",
        "(moved[c] for 3 s)",
        "moved[c]",
        "c",
        "3 s",
        "a  is not b",
        "a",
        "b",
    ]
    assert parse("expression", text).right.at == Span("<text>", 1, 35, 6)


def test_a_text_from_outside_keeps_the_place_it_is_given() -> None:
    with pytest.raises(SpecError) as caught:
        parse("expression", "a b", Span("--ask", 3, 10))
    assert str(caught.value.problems[0].span) == "--ask:3:12"
    assert parse("expression", "a", "--ask").span == Span("--ask", 1, 1, 1)


@pytest.mark.parametrize("phrase", STARTS)
def test_nothing_is_no_phrase(phrase: str) -> None:
    with pytest.raises(SpecError, match="something is missing"):
        parse(phrase, "  ")
