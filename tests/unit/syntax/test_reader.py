"""Reading whole specs: the example of the design, places, and the shapes of values."""

from __future__ import annotations

from pathlib import Path

import pytest

from prioritylogic.errors import Span, SpecError
from prioritylogic.syntax import nodes
from prioritylogic.syntax.reader import read
from prioritylogic.syntax.show import text_of

EXAMPLE = (Path(__file__).parent / "crane_cabins.yaml").read_text(encoding="utf-8")


def term(value: str) -> nodes.Spec:
    return read(f"system: x\nterms:\n  a: {value}\n", "f")


def test_the_example() -> None:
    spec = read(EXAMPLE, "crane.yaml")
    assert spec.system.value == "crane-cabins"
    assert spec.groups is not None and [m.value for m in spec.groups[0].value] == ["left", "right"]
    assert spec.settings is not None and text_of(spec.settings[0].value.range) == "5 s to 20 s"
    assert spec.inputs is not None and text_of(spec.inputs[3].value) == "-100 % to 100 %"
    assert [text_of(v) for v in spec.inputs[4].value.values] == ["manual", "positioning"]
    assert spec.memory is not None and spec.memory[1].value.values.whole
    assert spec.terms is not None and len(spec.terms[2].value.cases) == 2
    assert spec.machines is not None
    take, lock, let_go, unlock = spec.machines[0].value.rules
    assert [text_of(state) for state in take.from_] == ["shared", "held[left]", "held[right]"]
    assert text_of(take.if_) == "pressed(take[c]) and not (c is right and pressed(take[left]))"
    assert [text_of(entry.key) for entry in take.set] == ["last_cabin", "presses[c]"]
    assert [beaten.value for beaten in take.beats] == ["lock", "let_go"]
    assert text_of(lock.after) == "lock_time" and len(let_go.from_) == 1
    assert text_of(unlock.each) == "c in cabin, d in cabin"
    assert spec.alerts is not None and len(spec.alerts[0].value.clear) == 2
    assert spec.requirements is not None and text_of(spec.requirements[1].within) == "lock_time"
    assert spec.stories is not None
    assert [step.verb for step in spec.stories[0].steps] == ["press", "wait", "press"]


def test_places_in_the_example() -> None:
    spec = read(EXAMPLE, "crane.yaml")
    lines = EXAMPLE.split("\n")

    def cut(span: Span) -> str:
        return lines[span.line - 1][span.column - 1 : span.column - 1 + span.length]

    assert spec.machines is not None
    take = spec.machines[0].value.rules[0]
    assert cut(take.if_.right.operand.left.span) == "c is right"
    assert cut(take.if_.right.operand.span) == "(c is right and pressed(take[left]))"
    assert cut(take.key_spans["if_"]) == "if"
    assert cut(take.set[1].value.arguments[0].span) == "presses[c] + 1"
    assert cut(take.set[1].key.indices[0].span) == "c"
    assert cut(take.id.span) == "take" and cut(take.span) == "id: take"
    assert spec.settings is not None
    assert cut(spec.settings[0].value.range.high.span) == "20 s"


@pytest.mark.parametrize(
    ("value", "place"),
    [
        ("bbb", "3:6"),
        ("'bbb'", "3:7"),
        ('"bbb"', "3:7"),
        ("(x and bbb) or y", "3:13"),
        (">-\n    x or\n    bbb", "5:5"),
        (">\n\n    x or\n\n\n    bbb", "8:5"),
        ("|\n    x or\n      bbb", "5:7"),
        ("x or\n    bbb", "4:5"),
        ("'x or\n\n    bbb'", "5:5"),
        ('"x\\\n    \\ or\\t\\\n  bbb"', "5:3"),
        ('"x \\u006fr bbb"', "3:17"),
        ("{value: x or bbb, about: it}", "3:19"),
        ("{cases: [{when: x, is: bbb}]}", "3:29"),
    ],
)
def test_places_in_every_style_of_scalar(value: str, place: str) -> None:
    spec = term(value)
    found: list[Span] = []

    def look(node: object) -> None:
        if isinstance(node, nodes.Name) and node.base == "bbb":
            found.append(node.span)
        for part in getattr(node, "__dataclass_fields__", ()):
            look(getattr(node, part))
        if isinstance(node, tuple):
            for each in node:
                look(each)

    look(spec.terms)
    assert [str(span) for span in found] == [f"f:{place}"] and found[0].length == 3


def test_words_of_other_yaml_versions_are_plain_text() -> None:
    spec = read("system: no\nabout: 012\ngroups:\n  off: [on, yes, null]\n")
    assert spec.system.value == "no" and spec.about is not None and spec.about.value == "012"
    assert spec.groups is not None and [m.value for m in spec.groups[0].value] == ["on", "yes", "null"]


def test_steps_together() -> None:
    spec = read(
        "system: x\nstories:\n  - id: s\n    steps:\n"
        "      - together:\n          - press a\n          - release b\n"
    )
    assert spec.stories is not None
    (step,) = spec.stories[0].steps
    assert step.verb == "together" and [part.verb for part in step.parts] == ["press", "release"]


@pytest.mark.parametrize("waive", ["\n  - id: a/b c\n    reason: r", "\n  a/b c: r"])
def test_waivers_as_list_or_mapping(waive: str) -> None:
    (waiver,) = read(f"system: x\nwaive:{waive}\n").waive
    pair = (waiver.id, waiver.reason) if isinstance(waiver, nodes.Waiver) else (waiver.key, waiver.value)
    assert [text.value for text in pair] == ["a/b c", "r"]


def test_settings_three_ways() -> None:
    spec = read(
        "system: x\nsettings:\n  a: 3 s\n  b: {value: 3 s}\n  c[d in g]: {left: 3 s, right: 4 s}\n"
    )
    assert spec.settings is not None
    plain, record, indexed = (entry.value for entry in spec.settings)
    assert isinstance(plain, nodes.Number) and isinstance(record, nodes.Setting)
    assert [(entry.key.value, text_of(entry.value)) for entry in indexed] == [
        ("left", "3 s"),
        ("right", "4 s"),
    ]


def test_expected_verdicts() -> None:
    spec = read(
        "system: x\nrequirements:\n  - {id: A, never: a, expected: fails, reason: r}\n"
        "  - {id: B, never: a, expected: {fails: [left], reason: r}}\n"
        "  - {id: C, never: a, expected: {fails: all, reason: r}}\n"
    )
    assert spec.requirements is not None
    one, some, every = (requirement.expected for requirement in spec.requirements)
    assert one.value == "fails" and some.fails[0].base == "left" and every.fails.value == "all"


def test_all_problems_of_a_text_come_together() -> None:
    text = (
        EXAMPLE.replace("expect:", "expct:")
        .replace("raise: moved", "raise: == moved")
        .replace("yes/no", "x")
    )
    with pytest.raises(SpecError) as caught:
        read(text, "f")
    codes = [problem.code for problem in caught.value.problems]
    assert codes.count("unknown-key") == 2 and codes.count("wrong-operator") == 1
    assert [p.span.line for p in caught.value.problems] == sorted(
        p.span.line for p in caught.value.problems
    )


def test_a_byte_order_mark_moves_nothing() -> None:
    assert read("\ufeffsystem: x").system.span == Span("<text>", 1, 9, 1)
