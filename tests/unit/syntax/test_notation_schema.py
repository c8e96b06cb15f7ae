"""The JSON Schema for editors agrees with the reader."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from prioritylogic.syntax import schema

EXAMPLE = YAML(typ="safe", pure=True).load(Path(__file__).with_name("crane_cabins.yaml"))
CHECK = Draft202012Validator(schema.json_schema())


def test_it_is_a_schema_and_the_stored_file_is_up_to_date() -> None:
    Draft202012Validator.check_schema(schema.json_schema())
    stored = Path(schema.__file__).with_name("spec.schema.json").read_text(encoding="utf-8")
    assert stored == schema.schema_text(), "run `python -m prioritylogic.syntax.schema`"


def test_the_example_is_valid() -> None:
    CHECK.validate(EXAMPLE)


@pytest.mark.parametrize(
    ("path", "key", "value"),
    [
        ((), "sytem", "x"),
        ((), "machines", ["authority"]),
        (("machines", "authority"), "states", "shared"),
        (("machines", "authority", "rules", 0), "guard", "a"),
        (("machines", "authority", "rules", 0), "may", "perhaps"),
        (("inputs",), "1st", "button"),
        (("settings",), "t", None),
        (("stories", 0), "steps", [{"press": "a"}]),
        (("requirements", 0), "expected", {"reason": "r"}),
        ((), "faults", "any"),
        ((), "terms", {}),
    ],
)
def test_mutants_are_not(path: tuple[Any, ...], key: str, value: Any) -> None:
    mutant = copy.deepcopy(EXAMPLE)
    place = mutant
    for step in path:
        place = place[step]
    place[key] = value
    assert not CHECK.is_valid(mutant)


def test_a_required_key_is_required() -> None:
    mutant = copy.deepcopy(EXAMPLE)
    del mutant["machines"]["authority"]["start"]
    assert not CHECK.is_valid(mutant)
