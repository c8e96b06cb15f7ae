"""A JSON Schema (draft 2020-12) of the notation, for completion and checks in editors.

It is generated from the same fields as the reader, so it cannot promise another notation.
Expressions are plain text to it: JSON Schema cannot say more. Editors differ in how they read
`yes` or `3`, so where the notation wants a text, a number or truth value passes too.

Run `python -m prioritylogic.syntax.schema` to write spec.schema.json anew.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from prioritylogic.syntax import nodes
from prioritylogic.syntax.reader import keys_of

_DECLARED = r"^[^\s\d\[\].][^\s\[\].]*(\[[^\[\]]+\])?$"
_KEYS = {
    "word": r"^[^\s\d\[\].][^\s\[\].]*$",
    "declared": _DECLARED,
    "name": _DECLARED,
    "finding": r"\S",
}
_TEXT = {"type": ["string", "number", "boolean"]}
_YES_NO = {"yes": True, "no": False}  # as editors that follow YAML 1.1 read them


def json_schema() -> dict[str, Any]:
    """The schema of a spec.

    >>> json_schema()["$defs"]["Silence"]["required"]
    ['by', 'for']
    """
    defs: dict[str, Any] = {}
    root = _record(nodes.Spec, defs)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A control-priority spec",
        **root,
        "$defs": dict(sorted(defs.items())),
    }


def schema_text() -> str:
    """The schema as the stored file holds it."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _record(cls: type, defs: dict[str, Any]) -> dict[str, Any]:
    known = {word: entry for word, entry in keys_of(cls).items() if entry[1] != nodes.Reserved()}
    return {
        "description": (cls.__doc__ or "").split("\n")[0],
        "type": "object",
        "properties": {
            word: {"description": about, **_shape(shape, defs)}
            for word, (_, shape, _, about) in known.items()
        },
        "required": [word for word, (_, _, required, _) in known.items() if required],
        "additionalProperties": False,
    }


def _shape(shape: nodes.Shape, defs: dict[str, Any]) -> dict[str, Any]:
    match shape:
        case nodes.Words(choices):
            read_as = [_YES_NO[word] for word in choices if word in _YES_NO]
            return {"enum": [*choices, *read_as, *(int(word) for word in choices if word.isdigit())]}
        case nodes.ListOf(item, single):
            listed = {"type": "array", "items": _shape(item, defs), "minItems": 1}
            return {"anyOf": [_shape(item, defs), listed]} if single else listed
        case nodes.MapOf(key, value):
            return {
                "type": "object",
                "patternProperties": {_KEYS[key]: _shape(value, defs)},
                "additionalProperties": False,
                "minProperties": 1,
            }
        case nodes.RecordOf(cls):
            if cls.__name__ not in defs:
                defs[cls.__name__] = {}  # holds the place while its own parts are described
                defs[cls.__name__] = _record(cls, defs)
            return {"$ref": f"#/$defs/{cls.__name__}"}
        case nodes.Either(options):
            return {"anyOf": [_shape(option, defs) for option in options]}
        case _:
            return dict(_TEXT)


if __name__ == "__main__":
    Path(__file__).with_name("spec.schema.json").write_text(schema_text(), encoding="utf-8")
