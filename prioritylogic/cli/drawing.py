"""`draw`: pictures of a spec's machines and of the runs that a check finds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from prioritylogic.cli import files, options
from prioritylogic.cli.commands import FILE, memory_option, time_option
from prioritylogic.cli.terminal import Progress, say
from prioritylogic.errors import RequestError, did_you_mean

if TYPE_CHECKING:
    from prioritylogic.evidence.results import CheckResult
    from prioritylogic.model.system import System
    from prioritylogic.render.picture import Kind, Picture


@click.command()
@click.argument("file", type=FILE)
@click.option("--only", multiple=True, metavar="ID", help="The runs of this requirement. Repeatable.")
@click.option("--runs", is_flag=True, help="Check the spec, and draw each run that is found.")
@click.option("--to", "folder", type=FILE, default=Path(), help="The folder to write to; else this one.")
@click.option(
    "--format",
    "kinds",
    type=click.Choice(["svg", "png", "dot"]),
    multiple=True,
    default=("svg",),
    help="Repeatable; svg unless you say otherwise.",
)
@time_option
@memory_option
def draw(
    file: Path,
    only: tuple[str, ...],
    runs: bool,
    folder: Path,
    kinds: tuple[Kind, ...],
    time_limit: float | None,
    memory_limit: int | None,
) -> int:
    """Draw machines, and the runs that a check finds.

    Without --only and --runs: the machines and alerts, nothing is checked. A run is drawn twice, as a
    path and as a time line.
    """
    system = files.load(file)
    pictures: list[Picture] = []
    open_: list[str] = []
    if not only:
        pictures.append(_machines(system))
    if only or runs:
        result = _checked(system, only, time_limit, memory_limit)
        pictures += _runs(result, only)
        open_ = _without_run(result, only)
    for path in _write(pictures, file.stem, folder, kinds):
        say(f"{path}\n")
    for said in open_:
        say(f"prioritylogic: {said}\n")
    return 3 if open_ else 0


def _machines(system: System) -> Picture:
    from prioritylogic.render.diagram import diagram

    if not system.machines and not system.alerts:
        raise RequestError(f"{system.file} has no machine and no alert, so there is nothing to draw")
    return diagram(system)


def _checked(
    system: System, only: tuple[str, ...], time_limit: float | None, memory_limit: int | None
) -> CheckResult:
    import prioritylogic

    known = {r.id for r in system.requirements} | {s.id for s in system.stories}
    for asked in only:
        if asked not in known:
            remedy = did_you_mean(asked, known, "`prioritylogic read` lists them")
            raise RequestError(f"no requirement or story is called '{asked}'; {remedy}")
    stored = options.defaults(Path.cwd())
    with Progress() as progress:
        return prioritylogic.check(
            system,
            only=only,
            time_limit=time_limit or stored.time_limit,
            memory_limit=memory_limit or stored.memory_limit,
            progress=progress,
        )


def _runs(result: CheckResult, only: tuple[str, ...]) -> Iterator[Picture]:
    from prioritylogic.render import path, shown, timeline

    for run in shown.runs(result):
        if only and run.id.partition("[")[0] not in only:
            continue  # what every spec is asked has been found besides
        yield path.path(result.system, run)
        yield timeline.timeline(result.system, run)


def _without_run(result: CheckResult, only: tuple[str, ...]) -> list[str]:
    """Those asked for that are undecided, so that there may yet be a run.

    Raises:
        RequestError: one that was asked for has no run, and will have none.
    """
    answers = (*result.requirements, *result.stories)
    open_ = []
    for asked in only:
        found = [answer for answer in answers if answer.id == asked]
        if any(answer.trace is not None for answer in found):
            continue
        undecided = [answer for answer in found if answer.verdict == "undecided"]
        if not undecided:
            verdict = found[0].verdict if found else "holds"
            drawn = "what is drawn are runs that fail, or get to what is possible"
            raise RequestError(f"{asked} {verdict}; {drawn}")
        open_.append(f"{asked} is undecided, so there is no run to draw: {undecided[0].reason}")
    if not only and not any(answer.trace for answer in answers):
        say("No run is found that shows a failure or a possibility.\n")
    return open_


def _write(
    pictures: Iterable[Picture], stem: str, folder: Path, kinds: tuple[Kind, ...]
) -> Iterator[Path]:
    """Writes each picture in each kind, and gives the paths."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RequestError(f"the folder '{folder}' cannot be made: {files.why(error)}") from error
    used: Counter[str] = Counter()
    for picture in pictures:
        used[picture.name] += 1
        again = f"-{used[picture.name]}" if used[picture.name] > 1 else ""
        for kind in dict.fromkeys(kinds):
            path = folder / f"{stem}-{picture.name}{again}.{kind}"
            data = picture.data(kind)
            try:
                path.write_bytes(data)
            except OSError as error:
                raise RequestError(f"'{path}' cannot be written: {files.why(error)}") from error
            yield path
