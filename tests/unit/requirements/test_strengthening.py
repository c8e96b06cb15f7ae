"""A requirement's text taken apart: which places there are, and what asks most there."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator

import pytest

from prioritylogic import System, load
from prioritylogic.model import formula as f
from prioritylogic.model.system import Always, KeepUntil, Requirement
from prioritylogic.requirements.strengthening import Part, Strengthening

TEXT = """
system: lamp
groups: {side: [left, right]}
inputs:
  a: button
  b: button
  c: signal
  d[side]: signal
  n: {values: [u, v], start: u}
machines:
  m:
    states: [dark, lit]
    start: dark
    rules:
      - {id: light, from: dark, if: pressed(a), to: lit}
      - id: darken
        from: lit
        if: pressed(b) or (c) for 2 s or d[left] or n is v
        to: dark
requirements:
"""


def system(requirement: str) -> System:
    """The lamp with one requirement R, whose keys are written in a row."""
    keys = re.sub(r", (?=\w+: )", "\n    ", requirement)
    return load(f"{TEXT}  - id: R\n    {keys}\n")


def taken(requirement: str) -> tuple[Part, ...]:
    made = system(requirement)
    return Strengthening(made).parts(made.requirements[0])


def places(parts: tuple[Part, ...]) -> Iterator[Part]:
    for part in parts:
        yield part
        yield from places(part.parts)


def said(requirement: str) -> list[str]:
    """Each place with what asks most there; in brackets, if it cannot be asked."""
    found = []
    for part in places(taken(requirement)):
        text = f"{part.key} {part.said}: {part.wanted}"
        found.append(text if part.stronger is not None else f"({text})")
    return found


@pytest.mark.parametrize(
    ("requirement", "expected"),
    [
        ("always: a or b", ["(always a or b: False)", "always a: False", "always b: False"]),
        ("never: a and not b", ["(never a and not b: True)", "never a: True", "never not b: True"]),
        (
            "always: a implies b",
            ["(always a implies b: False)", "always a: True", "always b: False"],
        ),
        # what `not` is around is no place of its own; what is inside is turned
        (
            "never: not (a or b)",
            ["(never not (a or b): True)", "never a: False", "never b: False"],
        ),
        ("always: before(a)", ["(always before(a): False)"]),
        (
            "always: before(a and b)",
            ["(always before(a and b): False)", "always a: False", "always b: False"],
        ),
        # the condition of an `if` does both, and so does what begins
        (
            "always: a if c else b",
            ["(always a if c else b: False)", "always a: False", "always b: False"],
        ),
        ("always: not begins(a and b)", ["(always not begins(a and b): False)"]),
        (
            "always: any(d[s] and a over s in side)",
            [
                "(always any(d[s] and a over s in side): False)",
                "always d[s] and a: False",
                "always d[s]: False",
                "always a: False",
            ],
        ),
        ("always: any(a, b)", ["(always any(a, b): False)", "always a: False", "always b: False"]),
        # a timed condition is not entered: another would be needed
        (
            "never: a and (c) for 2 s",
            ["(never a and c for 2 s: True)", "never a: True", "never c for 2 s: True"],
        ),
        # a trigger must be an event, before and after
        (
            "after: pressed(a) and c, at_once: b",
            [
                "(after pressed(a) and c: True)",
                "(after pressed(a): True)",
                "after c: True",
                "at_once b: False",
            ],
        ),
        (
            "after: a and c, at_once: b",
            ["(after a and c: True)", "(after a: True)", "(after c: True)", "at_once b: False"],
        ),
        (
            "after: pressed(a) or pressed(b), at_once: c",
            [
                "(after pressed(a) or pressed(b): True)",
                "(after pressed(a): True)",
                "(after pressed(b): True)",
                "at_once c: False",
            ],
        ),
        (
            "during: c, after: pressed(a), keep: m is lit, until: b, unless: n is v",
            [
                "(after pressed(a): True)",
                "during c: True",
                "keep m is lit: False",
                "until b: False",
                "unless n is v: False",
            ],
        ),
        ("during: c, after: a, apart: 2 s", ["(after a: True)", "(during c: True)"]),
        # what lasts must read the same in a reaction and at rest, and nothing may cancel it
        ("while: c, expect: b, every: 2 s", ["while c: True", "expect b: False"]),
        ("while: before(c), expect: b, every: 2 s", ["(while before(c): True)", "expect b: False"]),
        (
            "while: c, expect: b, every: 2 s, unless: a",
            ["(while c: True)", "expect b: False", "unless a: False"],
        ),
        ("possible: a", []),
        ("during: c, possible: a", []),
        ("recoverable: m is dark", []),
    ],
)
def test_places(requirement: str, expected: list[str]) -> None:
    assert said(requirement) == expected


def test_a_place_says_where_it_is() -> None:
    (part,) = (p for p in places(taken("after: pressed(a), at_once: b or c")) if p.said == "c")
    lines = system("after: pressed(a), at_once: b or c").text.splitlines()
    assert lines[part.span.line - 1][part.span.column - 1 :] == "c"


def test_what_asks_most_is_the_same_requirement_with_a_constant() -> None:
    _, keep, _ = taken("after: a, keep: b, until: c")
    assert keep.key == "keep" and keep.stronger is not None
    assert keep.stronger.form == KeepUntil(f.Read("a"), f.FALSE, f.Read("c"))


@pytest.mark.parametrize(
    ("requirement", "given"),
    [
        ("always: a implies b", "a"),
        ("always: a implies (b or c implies n is u)", "a and (b or c)"),
        ("during: c, always: a implies b", "c and a"),
        ("during: c, always: b", "c"),
        ("during: c, never: b", "c"),
        ("always: a or b", None),
        ("never: a and b", None),
    ],
)
def test_on_what_condition_something_is_asked(requirement: str, given: str | None) -> None:
    asked = [part for part in places(taken(requirement)) if part.given]
    assert [part.given for part in asked] == ([] if given is None else [given])
    for part in asked:  # it never comes about: no `b` is left of it
        assert part.stronger is not None and isinstance(part.stronger.form, Always)
        reads = {p.name for p in f.walk(part.stronger.form.condition) if isinstance(p, f.Read)}
        assert reads == set(given or "") & {"a", "b", "c"}


def test_members_have_the_same_places() -> None:
    made = load(TEXT + "  - id: R\n    each: s in side\n    never: d[s] and s is left\n")
    left, right = map(Strengthening(made).parts, made.requirements)
    assert (
        [p.said for p in places(left)]
        == [p.said for p in places(right)]
        == [
            "d[s] and s is left",
            "d[s]",
            "s is left",
        ]
    )


def test_what_was_not_read_from_the_text_has_no_parts() -> None:
    made = system("always: a or b")
    (own,) = made.requirements
    other = dataclasses.replace(own, form=Always(f.Read("a")))
    unknown = Requirement("S", (), "", "always", Always(f.Read("a")))
    taking = Strengthening(made)
    assert taking.parts(own) and not taking.parts(other) and not taking.parts(unknown)
    assert not Strengthening(dataclasses.replace(made, text="")).parts(own)
