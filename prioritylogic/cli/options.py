"""What the options of the command line mean: lengths of time, sizes of memory, stored defaults.

Defaults come from `[tool.prioritylogic]` in the nearest `pyproject.toml` at or above the working
directory. An unknown key there is refused: a mistyped limit must not be silently no limit.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import click

from prioritylogic.errors import RequestError, did_you_mean

_SECONDS = {"": 1.0, "ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
_BYTES = {"B": 1, "kB": 10**3, "MB": 10**6, "GB": 10**9, "KiB": 2**10, "MiB": 2**20, "GiB": 2**30}
_FIGURE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([A-Za-z]*)\s*")
Figure = TypeVar("Figure", int, float)
KEYS = ("files", "format", "memory-limit", "time-limit", "workers")


def seconds(text: str) -> float:
    """A length of time in seconds.

    >>> seconds("90s"), seconds("2 min"), seconds("45")
    (90.0, 120.0, 45.0)
    """
    return _figure(text, _SECONDS, "a length of time, such as 90s or 2min")


def memory(text: str) -> int:
    """A size of memory in bytes.

    >>> memory("4GiB") == 4 * 2**30
    True
    """
    return int(_figure(text, _BYTES, "a size of memory, such as 500MB or 4GiB"))


def _figure(text: str, units: Mapping[str, float], what: str) -> float:
    found = _FIGURE.fullmatch(text)
    known = {unit.lower(): factor for unit, factor in units.items()}
    if not found or found[2].lower() not in known or float(found[1]) == 0:
        raise ValueError(f"'{text}' is not {what}")
    return float(found[1]) * float(known[found[2].lower()])


def as_seconds(_: click.Context, parameter: click.Parameter, text: str | None) -> float | None:
    """Reads an option that is a length of time."""
    return None if text is None else _read_with(seconds, text, parameter)


def as_bytes(_: click.Context, parameter: click.Parameter, text: str | None) -> int | None:
    """Reads an option that is a size of memory."""
    return None if text is None else _read_with(memory, text, parameter)


def _read_with(reader: Callable[[str], Figure], text: str, parameter: click.Parameter) -> Figure:
    try:
        return reader(text)
    except ValueError as error:
        raise click.BadParameter(str(error), param=parameter) from error


@dataclass(frozen=True, slots=True)
class Defaults:
    """What `pyproject.toml` says, for options that are not given."""

    files: tuple[Path, ...] = ()
    format: str = "text"
    time_limit: float | None = None
    memory_limit: int | None = None
    workers: int | None = None


def defaults(start: Path) -> Defaults:
    """The stored defaults that apply in a folder.

    Raises:
        RequestError: the table has an unknown key or a value that cannot be used.
    """
    for folder in (start, *start.parents):
        path = folder / "pyproject.toml"
        if path.is_file():
            return _read(path)
    return Defaults()


def _read(path: Path) -> Defaults:
    where = f"[tool.prioritylogic] in {path.name}"
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")).get("tool", {}).get("prioritylogic", {})
    except (OSError, ValueError) as error:
        raise RequestError(f"{path.name} cannot be read for defaults: {error}") from error
    for key in table:
        if key not in KEYS:
            remedy = did_you_mean(key, KEYS, f"known are {', '.join(KEYS)}")
            raise RequestError(f"{where} has the unknown key '{key}'; {remedy}")
    files = table.get("files", [])
    if not isinstance(files, list) or not all(isinstance(name, str) for name in files):
        raise RequestError(f"'files' in {where} must be a list of files and folders")
    if table.get("format", "text") not in ("text", "json"):
        raise RequestError(f"'format' in {where} is '{table['format']}'; it is text or json")
    try:
        workers = table.get("workers")
        if workers is not None and not (isinstance(workers, int) and workers >= 1):
            raise RequestError(f"'workers' in {where} is '{workers}'; it is a number of processes")
        time, size = table.get("time-limit"), table.get("memory-limit")
        return Defaults(
            files=tuple(path.parent / name for name in files),
            format=table.get("format", "text"),
            time_limit=None if time is None else seconds(str(time)),
            memory_limit=None if size is None else memory(str(size)),
            workers=workers,
        )
    except ValueError as error:
        raise RequestError(f"{where}: {error}") from error
