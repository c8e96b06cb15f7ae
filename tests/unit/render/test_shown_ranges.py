"""Ranges as a person reads them, and as data."""

from __future__ import annotations

import json
from fractions import Fraction
from importlib.resources import files

import jsonschema
import pytest

from prioritylogic import FindResult, load
from prioritylogic.engines.ranges import find
from prioritylogic.model.intervals import Interval
from prioritylogic.render.layout import Ink
from prioritylogic.render.ranges import find_document, find_text, values_words

TEXT = """
system: lock
groups: {side: [left, right]}
settings:
  hold: {value: 9 s, range: 5 s to 20 s}
inputs:
  take[side]: button
machines:
  m[c in side]:
    states: [idle, held, locked]
    start: idle
    rules:
      - {id: grab, from: idle, if: "pressed(take[c])", to: held}
      - {id: lock, from: held, after: hold, to: locked}
requirements:
  - id: SOON
    each: c in side
    text: The lock comes soon.
    after: m[c] is held
    expect: m[c] is locked
    within: 10 s
  - {id: LATE, after: "begins(m[left] is held)", keep: "m[left] is not locked", for: 7 s}
  - {id: NEVER, text: It does not lock., never: "m[left] is locked", expected: fails, reason: it does}
  - {id: BACK, recoverable: "m[left] is held"}
"""


@pytest.fixture(scope="module")
def result() -> FindResult:
    return find(load(TEXT, "lock.yaml"), "hold")


def test_a_table_in_the_units_of_the_spec(result: FindResult) -> None:
    shown = find_text(result, 100, with_invariants=True)
    table = shown.split("\n\n")[1]
    assert table == (
        "Values of hold for which requirements hold\n"
        "  SOON   The lock comes soon. (SOON[left] and SOON[right])\n"
        "         holds      5 s to 10 s; 9 s is among them\n"
        "         fails      10 s to 20 s, 10 s excluded\n"
        "  LATE   Whenever m[left] becomes held, from then on m[left] is not locked for 7 s.\n"
        "         holds      7 s to 20 s; 9 s is among them\n"
        "         fails      5 s to 7 s, 7 s excluded\n"
        "  NEVER  It does not lock.\n"
        "         fails      every value, 5 s to 20 s; 'fails' is expected there\n"
        "  BACK   From every state that can be reached, some run comes to a moment at which m[left] is held.\n"
        "         undecided  every value, 5 s to 20 s"
    )
    assert "How SOON[left] fails at hold = 10.1 s, just above 10 s" in shown
    assert "SOON[right] fails at hold = 10.1 s, just above 10 s in the same way." in shown
    assert "How LATE fails at hold = 6.9 s, just below 7 s" in shown
    assert "How NEVER fails at hold = 9 s\n" in shown
    assert "Invariants\n  SOON, 5 s to 10 s\n" in shown
    assert "  BACK: only single values" in shown
    assert "2 hold for every value" not in shown and "3 hold for some values" in shown
    assert "whatever is decided is as expected" in shown and "Caution" in shown
    assert max(map(len, shown.splitlines())) <= 100


def test_narrow_and_with_ink(result: FindResult) -> None:
    plain = find_text(result, 72)
    assert max(map(len, plain.splitlines())) <= 72
    assert "\x1b[" in find_text(result, 72, Ink(on=True)) and "\x1b[" not in plain


@pytest.mark.parametrize(
    ("low", "high", "low_in", "high_in", "said"),
    [
        (5, 20, True, True, "every value, 5 s to 20 s"),
        (6, 9, True, True, "6 s to 9 s"),
        (6, 9, False, True, "6 s to 9 s, 6 s excluded"),
        (6, 9, True, False, "6 s to 9 s, 9 s excluded"),
        (6, 9, False, False, "6 s to 9 s, both excluded"),
        (6, 6, True, True, "6 s alone"),
    ],
)
def test_intervals_in_words(
    result: FindResult, low: int, high: int, low_in: bool, high_in: bool, said: str
) -> None:
    values = Interval(Fraction(low), Fraction(high), low_in, high_in)
    assert values_words(result.setting, values) == said


def test_data_keeps_to_its_schema(result: FindResult) -> None:
    def schema(name: str) -> dict[str, object]:
        text = (files("prioritylogic.render") / f"{name}.schema.json").read_text(encoding="utf-8")
        loaded: dict[str, object] = json.loads(text)
        return loaded

    document = json.loads(json.dumps(find_document(result)))
    jsonschema.validate(document, schema("find"))
    soon = document["requirements"][0]
    assert document["setting"]["range"]["high"] == {"exact": "20", "figure": 20.0, "shown": "20 s"}
    assert [part["verdict"] for part in soon["parts"]] == ["holds", "fails"]
    assert soon["parts"][1]["values"]["low_included"] is False
    (example,) = soon["parts"][1]["examples"]
    trace = {"$ref": "#/$defs/trace", "$defs": schema("check")["$defs"]}
    jsonschema.validate(example["trace"], trace)
    assert document["exit_code"] == 3 and soon["own_verdict"] == "holds"
