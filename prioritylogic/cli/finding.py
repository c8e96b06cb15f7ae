"""`check FILE --find SETTING`: for which values of a setting requirements hold."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from prioritylogic.cli import files, terminal
from prioritylogic.cli.terminal import Progress, Stopping, say
from prioritylogic.errors import RequestError


def find(
    paths: Sequence[Path],
    setting: str,
    only: Sequence[str],
    invariants: bool,
    form: str,
    time_limit: float | None,
    memory_limit: int | None,
) -> int:
    """Prints the values, and gives the exit code.

    Raises:
        RequestError: not one file, a form that there is not, or no such setting or requirement.
    """
    if len(paths) != 1 or paths[0].is_dir():
        raise RequestError("--find is about a setting of one spec; name one file")
    if form not in ("text", "json"):
        raise RequestError(f"--find prints text or json, and not {form}")
    import prioritylogic
    from prioritylogic.render.json import dump
    from prioritylogic.render.ranges import find_document, find_text

    system = files.load(paths[0])
    with Progress() as progress, Stopping() as stopping:
        asked = (setting, only, time_limit, memory_limit, progress, stopping.asked)
        result = prioritylogic.find(system, *asked)
    if form == "json":
        say(dump(find_document(result)))
    else:
        say(find_text(result, terminal.width(), terminal.ink(), invariants))
    if stopping.asked():
        say("prioritylogic: Stopped by hand. What was not decided by then is open.\n", sys.stderr)
        return 130
    return result.exit_code
