"""Finding specs on disk and reading them, with a clear sentence for whatever is wrong."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from prioritylogic.errors import RequestError, nearest

if TYPE_CHECKING:
    from prioritylogic.model.system import System

ENDINGS = (".yaml", ".yml")
LARGEST = 2_000_000  # bytes; the longest spec known to us has 40 000


def find(paths: Iterable[Path]) -> list[Path]:
    """The spec files behind some files and folders, sorted within a folder, without repeats.

    Folders are searched all the way down. Hidden folders and those called `drafts` are left out,
    unless they are asked for by name.

    Raises:
        RequestError: a path is not there, or a folder holds no spec.
    """
    found: dict[Path, None] = {}
    for path in paths:
        if not path.is_dir():
            found[path] = None
            continue
        inside = [file for file in sorted(path.rglob("*")) if file.suffix in ENDINGS and file.is_file()]
        kept = [file for file in inside if not _left_out(file.relative_to(path))]
        if not kept:
            hint = "; what is in `drafts` is checked when you name it" if inside else ""
            raise RequestError(f"the folder '{path}' holds no spec (a file ending in .yaml){hint}")
        found.update(dict.fromkeys(kept))
    return list(found)


def _left_out(path: Path) -> bool:
    return any(part == "drafts" or part.startswith(".") for part in path.parts[:-1])


def text_of(path: Path) -> str:
    """The text of a file.

    Raises:
        RequestError: it cannot be read, or is no text of a sensible size.
    """
    try:
        if path.is_dir():
            raise RequestError(f"'{path}' is a folder; name one spec in it")
        if path.is_file() and path.stat().st_size > LARGEST:
            size = path.stat().st_size / 1e6
            raise RequestError(f"'{path}' has {size:.1f} MB, which is far too large for a spec")
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise RequestError(f"there is no file '{path}'{_near(path)}") from error
    except OSError as error:
        raise RequestError(f"'{path}' cannot be read: {why(error)}") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise RequestError(
            f"'{path}' is not UTF-8 text: line {line} holds the byte 0x{data[error.start]:02x}; "
            "save it as UTF-8"
        ) from error


def why(error: OSError) -> str:
    """What the operating system says, as a part of a sentence."""
    reason = os.strerror(error.errno) if error.errno else str(error)
    return reason[:1].lower() + reason[1:]


def _near(path: Path) -> str:
    folder = path.parent
    names = [file.name for file in folder.iterdir()] if folder.is_dir() else []
    near = nearest(path.name, names)
    return f"; did you mean '{folder / near}'?" if near else ""


def load(path: Path) -> System:
    """The checked System of a file.

    Raises:
        RequestError: the file cannot be read.
        SpecError: its text is wrong.
    """
    from prioritylogic.model.build import build
    from prioritylogic.syntax.reader import read

    text = text_of(path)
    return build(read(text, str(path)), text)
