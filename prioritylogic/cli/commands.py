"""The commands: each finds its input, calls the API, and prints.

Heavy modules are imported where they are used, so that `--help` is instant.
"""

from __future__ import annotations

import os
import re
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from prioritylogic.cli import files, options, terminal
from prioritylogic.cli.terminal import Progress, say
from prioritylogic.errors import PriorityLogicError, RequestError, SpecError, did_you_mean
from prioritylogic.evidence.words import counted

if TYPE_CHECKING:
    from prioritylogic.evidence.results import CheckResult
    from prioritylogic.model.system import System

SEVERITY = (0, 3, 1, 2)  # of exit codes, mildest first
FILE = click.Path(path_type=Path)
SPECS = Path("specs")

time_option = click.option(
    "--time-limit",
    metavar="TIME",
    callback=options.as_seconds,
    help="Leave open what takes longer: 90s, 2min.",
)
memory_option = click.option(
    "--memory-limit",
    metavar="SIZE",
    callback=options.as_bytes,
    help="Leave open what takes more: 500MB, 4GiB.",
)
format_option = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), help="For people, or for programs."
)


@dataclass(frozen=True, slots=True)
class Opened:
    """The specs that could be read, and the files that could not, with what is wrong."""

    systems: tuple[System, ...]
    refused: tuple[tuple[str, PriorityLogicError], ...]


def open_all(paths: tuple[Path, ...]) -> Opened:
    """Reads every spec; a bad one does not stop the others. What is wrong goes to the error stream."""
    systems: list[System] = []
    refused: list[tuple[str, PriorityLogicError]] = []
    for path in paths:
        try:
            systems.append(files.load(path))
        except (SpecError, RequestError) as error:
            refused.append((str(path), error))
            wrong = f"{error}\n" if isinstance(error, SpecError) else f"prioritylogic: {error}"
            say(f"{wrong}\n", sys.stderr)
    problems = sum(len(error.problems) for _, error in refused if isinstance(error, SpecError))
    if problems:
        one = "1 problem" if problems == 1 else f"{problems} problems"
        say(f"{one} found; nothing of such a spec is checked.\n", sys.stderr)
    return Opened(tuple(systems), tuple(refused))


@click.command()
@click.argument("paths", nargs=-1, type=FILE, metavar="[FILES|FOLDERS]...")
@click.option("--only", multiple=True, metavar="ID", help="Only this requirement or story. Repeatable.")
@click.option(
    "--explain", multiple=True, metavar="ID", help="Decide this alone, and say why. Repeatable."
)
@click.option("--slack", is_flag=True, help="Find the tightest figure of each bound that holds.")
@click.option("--witnesses", is_flag=True, help="Show a run for all that holds; --only does, too.")
@click.option("--both", is_flag=True, help="Explore and prove; the two must agree.")
@click.option("--invariants", is_flag=True, help="Show the facts that proofs rest on.")
@click.option(
    "--workers", type=click.IntRange(1), metavar="N", help="Processes for what takes long; 1: only this."
)
@click.option("--find", "setting", metavar="SETTING", help="For which of its values does each hold?")
@time_option
@memory_option
@format_option
@click.pass_context
def check(
    ctx: click.Context,
    paths: tuple[Path, ...],
    only: tuple[str, ...],
    explain: tuple[str, ...],
    slack: bool,
    witnesses: bool,
    both: bool,
    invariants: bool,
    workers: int | None,
    setting: str | None,
    time_limit: float | None,
    memory_limit: int | None,
    form: str | None,
) -> int:
    """Decide everything that is asked of a spec.

    Without arguments every spec below `specs/` is checked, those in `drafts` folders excepted.
    Defaults are read from [tool.prioritylogic] in the nearest pyproject.toml.

    With --find each requirement is decided for all values in a setting's range: exit code 1 if one is
    not as expected at the spec's own value, else 3 if one is undecided for some value, else 0.
    """
    import prioritylogic
    from prioritylogic.render.text import check_text, overall

    stored = options.defaults(Path.cwd())
    form = form or stored.format
    if setting is not None:
        from prioritylogic.cli.finding import find

        if slack or witnesses or both or explain:
            raise RequestError(
                "--find goes with --only, --invariants, --format and limits; leave the other options out"
            )
        times = (time_limit or stored.time_limit, memory_limit or stored.memory_limit)
        return find(paths, setting, only, invariants, form, *times)
    opened = open_all(tuple(files.find(paths or stored.files or _usual())))
    wanted, explained = _wanted(opened, only), _wanted(opened, explain)
    results: list[CheckResult] = []
    stopped = False
    named = {file: bool(wanted[file] or explained[file]) for file in wanted}
    asked = [system for system in opened.systems if named[system.file] or not (only or explain)]
    workers = workers or stored.workers or os.cpu_count() or 1
    for system in asked:
        with Progress() as progress, terminal.Stopping() as stopping:
            result = prioritylogic.check(
                system,
                only=wanted[system.file],
                explain=explained[system.file],
                time_limit=time_limit or stored.time_limit,
                memory_limit=memory_limit or stored.memory_limit,
                progress=progress,
                both=both,
                slack=slack,
                witnesses=witnesses,
                workers=workers,
                stop=stopping.asked,
            )
        results.append(result)
        if form == "text":
            gap = "\n" if len(results) > 1 else ""
            say(gap + check_text(result, terminal.width(), terminal.ink(), invariants))
        if stopped := stopping.asked():
            break
    if form == "json":
        from prioritylogic.render.json import check_document, dump

        say(dump(check_document(results, opened.refused)))
    elif len(results) + len(opened.refused) > 1:
        say("\n" + overall(results, len(opened.refused), terminal.width()))
    if stopped:
        left = len(asked) - len(results)
        say(f"prioritylogic: Stopped by hand. {_left(left)}\n", sys.stderr)
        return 130
    codes = [result.exit_code for result in results] + [2] * len(opened.refused)
    return max(codes, key=SEVERITY.index, default=0)


def _left(files: int) -> str:
    """What is said of the specs that nobody came to."""
    if not files:
        return "What was not decided by then is open."
    return f"What was not decided by then is open, and {counted(files, 'more spec')} not looked at."


def _usual() -> tuple[Path, ...]:
    if not SPECS.is_dir():
        raise RequestError(
            "there is no folder 'specs' here; name the specs to check, or begin with `prioritylogic new`"
        )
    return (SPECS,)


def _wanted(opened: Opened, only: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """For each file the ids and members that it has of those asked for; what no file has is refused."""
    from prioritylogic.render.values import indexed

    def names(system: System) -> set[str]:
        asked = [(r.id, r.member) for r in system.requirements]
        asked += [(story.id, story.member) for story in system.stories]
        return {id_ for id_, _ in asked} | {indexed(*each) for each in asked}

    known = {system.file: names(system) for system in opened.systems}
    everywhere = set().union(*known.values())
    for asked in only:
        if asked not in everywhere and not opened.refused:
            remedy = did_you_mean(asked, everywhere, "`prioritylogic read` lists them")
            raise RequestError(f"no requirement or story is called '{asked}'; {remedy}")
    return {file: tuple(asked for asked in only if asked in ids) for file, ids in known.items()}


@click.command()
@click.argument("file", type=FILE)
@click.option("--over", metavar="NAMES", help="Count the values of these names: command,pilot.")
@click.option("--graphml", type=FILE, help="Write the reachable graph as GraphML.")
@click.option("--dot", type=FILE, help="Write the reachable graph as DOT.")
@time_option
@memory_option
@format_option
def explore(
    file: Path,
    over: str | None,
    graphml: Path | None,
    dot: Path | None,
    time_limit: float | None,
    memory_limit: int | None,
    form: str | None,
) -> int:
    """Count and export what can be reached."""
    import prioritylogic
    from prioritylogic.render import exploration, graph
    from prioritylogic.render.json import dump

    stored = options.defaults(Path.cwd())
    system = files.load(file)
    with Progress() as progress:
        found = prioritylogic.explore(
            system,
            over=_names(over),
            graph=bool(graphml or dot),
            time_limit=time_limit or stored.time_limit,
            memory_limit=memory_limit or stored.memory_limit,
            progress=progress,
        )
    for path, text in ((graphml, graph.graphml), (dot, graph.dot)):
        if path is not None and found.graph is not None:
            write(path, text(found.graph))
    if (form or stored.format) == "json":
        say(dump(exploration.data(found)))
    else:
        say(exploration.text(found, terminal.width(), terminal.ink()))
    return 0 if found.counts.complete else 3


def _names(over: str | None) -> tuple[str, ...]:
    """The names after `--over`, split at commas outside brackets."""
    return tuple(name.strip() for name in re.split(r",(?![^\[]*\])", over)) if over else ()


def write(path: Path, text: str) -> None:
    """Writes a file, or says why not."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise RequestError(f"'{path}' cannot be written: {files.why(error)}") from error


@click.command()
@click.argument("file", type=FILE)
def read(file: Path) -> int:
    """Say a spec back in plain words, as it was understood."""
    from prioritylogic.render.readback import read_back

    say(read_back(files.load(file), terminal.width(), terminal.ink()))
    return 0


@click.command()
@click.argument("name")
def new(name: str) -> int:
    """Write NAME.yaml, a small spec to begin with."""
    from prioritylogic.cli.starter import starter

    path = Path(name if name.endswith(files.ENDINGS) else f"{name}.yaml")
    if path.exists():
        raise RequestError(f"'{path}' is already there, and is left as it is")
    write(path, starter(path.stem))
    say(f"{path} is written. Next: prioritylogic check {path}\n")
    return 0


@click.command()
def schema() -> int:
    """Print the JSON Schema of specs, for editors."""
    from prioritylogic.render.json import dump
    from prioritylogic.syntax.schema import json_schema

    document: dict[str, Any] = json_schema()
    say(dump(document))
    return 0
