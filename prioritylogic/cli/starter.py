"""The spec that `new` writes: small, commented, and all well when checked."""

from __future__ import annotations

import re
from importlib.resources import files

from prioritylogic.errors import RequestError

_NAME = re.compile(r"[A-Za-z][\w-]*")


def starter(name: str) -> str:
    """The text of a new spec.

    Raises:
        RequestError: the name would not do as the name of a system.
    """
    if not _NAME.fullmatch(name):
        raise RequestError(
            f"'{name}' will not do as a name; use letters, digits, - and _, such as my-crane"
        )
    text = files(__package__).joinpath("starter.yaml").read_text(encoding="utf-8")
    return text.replace("system: starter", f"system: {name}", 1)
