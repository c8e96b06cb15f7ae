"""What is written reads back as the same node."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from prioritylogic.errors import NOWHERE, Span
from prioritylogic.syntax import nodes
from prioritylogic.syntax.expressions import parse
from prioritylogic.syntax.show import text_of

words = st.sampled_from(["a", "left", "over", "last", "to", "s", "any", "min", "größe", "where", "x_1"])
numbers = st.builds(
    lambda digits, places, unit: nodes.Number(NOWHERE, Fraction(digits, 10**places), unit),
    st.integers(0, 10**6),
    st.integers(0, 5),
    st.sampled_from([None, "s", "min", "%", "m/s", "deg"]),
)
plain_names = st.builds(nodes.Name, st.just(NOWHERE), words)
others = st.builds(lambda name: nodes.Call(NOWHERE, "other", (name,)), plain_names)
names = st.builds(
    nodes.Name,
    st.just(NOWHERE),
    words,
    st.lists(plain_names | others, max_size=2).map(tuple),
    st.none() | words,
)
binders = st.lists(st.builds(nodes.Binder, st.just(NOWHERE), words, words), min_size=1, max_size=2).map(
    tuple
)
operators = st.sampled_from(
    ["implies", "or", "and", "is", "is not", "=", "!=", "<", "<=", ">", ">=", "+", "-", "*", "/"]
)


def larger(parts: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    here = st.just(NOWHERE)
    some = st.lists(parts, min_size=1, max_size=3).map(tuple)
    return st.one_of(
        st.builds(nodes.IfElse, here, parts, parts, parts),
        st.builds(nodes.Binary, here, operators, parts, parts, here),
        st.builds(nodes.Membership, here, parts, some, st.booleans()),
        st.builds(nodes.Unary, here, st.sampled_from(["not", "-"]), parts),
        st.builds(nodes.Call, here, st.sampled_from(["any", "count", "min"]), some),
        st.builds(nodes.Call, here, st.sampled_from(["abs", "before", "begins"]), st.tuples(parts)),
        st.builds(
            nodes.Aggregate, here, st.sampled_from(["all", "sum"]), parts, binders, st.none() | parts
        ),
        st.builds(nodes.Timed, here, st.sampled_from(["for", "within last"]), parts, parts),
    )


expressions = st.recursive(numbers | names, larger, max_leaves=12)


def bare(node: Any) -> Any:
    """A node without its places."""
    if isinstance(node, tuple):
        return tuple(map(bare, node))
    if is_dataclass(node) and not isinstance(node, type):
        parts = (getattr(node, f.name) for f in fields(node))
        return type(node).__name__, *(bare(p) for p in parts if not isinstance(p, Span))
    return node


@given(expressions)
@settings(max_examples=300, deadline=None)
def test_reading_what_was_written_gives_the_same_expression(node: nodes.Expression) -> None:
    assert bare(parse("expression", text_of(node))) == bare(node)


def test_no_needless_parentheses() -> None:
    written = text_of(parse("expression", "((a) and ((b > (1 + (2 * c))))) or (not ((d)))"))
    assert written == "a and b > 1 + 2 * c or not d"


def test_a_quotient_that_no_spec_can_write_is_shown_as_one() -> None:
    assert text_of(nodes.Number(NOWHERE, Fraction(1, 3), "s")) == "1 s / 3"
