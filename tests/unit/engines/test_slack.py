"""How tight bounds are: worked out by hand, and against the oracle's ways to break them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic import Slack, check, load
from prioritylogic.render.text import check_text

# A press is answered 2 s to 3 s later; the lamp then burns for 5 s, and the press counts again.
LAMP = """
system: lamp
inputs: {go: button}
machines:
  m:
    states: [idle, waiting, lit]
    start: idle
    rules:
      - {id: ask, from: idle, if: pressed(go), to: waiting}
      - {id: light, from: waiting, TAKES, to: lit}
      - {id: darken, from: lit, after: 5 s, to: idle}
requirements:
"""


def slack(requirement: str, takes: str = "takes: 2 s to 3 s") -> Slack | None:
    text = LAMP.replace("TAKES", takes) + f"  - {{id: R, {requirement}}}\n"
    (answer,) = check(load(text), slack=True).requirements
    assert answer.verdict == "holds", answer.reason
    return answer.slack


def found(figure: int, tightest: int, attained: bool = True) -> Slack:
    return Slack(Fraction(figure), Fraction(tightest), attained)


@pytest.mark.parametrize(
    ("requirement", "expected"),
    [
        ("after: m is waiting, expect: m is lit, within: 3 s", found(3, 3)),
        ("after: m is waiting, expect: m is lit, within: 10 s", found(10, 3)),
        ("after: m is waiting, expect: m is lit, within: under 10 s", found(10, 3, False)),
        ("after: m is lit, keep: m is lit, for: 5 s", found(5, 5)),
        ("after: m is waiting, keep: m is not idle, for: 3 s", found(3, 7)),
        ("after: m is lit, apart: 6 s", found(6, 7)),
        ("while: m is waiting, expect: m is lit, every: 4 s", found(4, 3)),
    ],
)
def test_the_tightest_figure_is_found(requirement: str, expected: Slack) -> None:
    assert slack(requirement) == expected


def test_a_strict_bound_of_the_system_is_seen() -> None:
    """The answer comes before 3 s are over, but as near to them as you like."""
    asked = "after: m is waiting, expect: m is lit, within: under 8 s"
    assert slack(asked, "takes: 2 s to under 3 s") == found(8, 3)


def test_a_figure_that_asks_nothing_shows() -> None:
    """What is kept for ever is kept for any time: the sign of a requirement that is tied to nothing."""
    assert slack("after: m is lit, keep: m is lit or m is not lit, for: 1 s") == Slack(
        Fraction(1), endless=True
    )
    assert slack("after: m is lit and m is idle, apart: 1 s") == Slack(Fraction(1), endless=True)


def test_what_has_no_figure_has_no_slack() -> None:
    assert slack("never: m is lit and m is idle") is None
    assert slack("after: m is lit, at_once: m is not idle") is None


def test_it_is_said_in_words() -> None:
    text = LAMP.replace("TAKES", "takes: 2 s to 3 s")
    text += "  - {id: SOON, after: m is waiting, expect: m is lit, within: 10 s}\n"
    text += "  - {id: STAY, after: m is lit, keep: m is lit, for: 5 s}\n"
    said = " ".join(check_text(check(load(text), slack=True), 100).split())
    assert "SOON within 10 s; within 3 s would hold too, and nothing shorter (7 s to spare)" in said
    assert "STAY for 5 s; nothing longer holds" in said
