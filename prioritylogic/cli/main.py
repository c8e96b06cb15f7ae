"""The program: its commands, its exit codes, and what it says when something goes wrong.

Exit codes: 2 the input is wrong, else 1 something is not as expected, else 3 something is undecided,
else 0. Besides: 70 a fault of the program itself, 130 stopped by hand, 141 nobody reads the output.
A traceback is shown to developers only, who set PRIORITYLOGIC_TRACEBACK.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress

import click

from prioritylogic.cli import commands, drawing
from prioritylogic.cli.terminal import NobodyReads, say
from prioritylogic.engines.limits import rarely_collect
from prioritylogic.errors import DisagreementError, LimitError, PriorityLogicError, SpecError

SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
TRACEBACK = "PRIORITYLOGIC_TRACEBACK"


def _version(context: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked:
        from importlib import metadata

        try:
            say(f"prioritylogic {metadata.version('prioritylogic')}\n")
        except metadata.PackageNotFoundError:
            say("prioritylogic, from a source tree that is not installed\n")
        context.exit()


@click.group(context_settings=SETTINGS)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_version,
    help="Show the version.",
)
def cli() -> None:
    """State, check and explain the logic that decides who is in control.

    Begin with `prioritylogic new crane`, then `prioritylogic check crane.yaml`.

    \b
    Exit codes of check: 0 all is as expected; 1 a requirement, a story or a finding is not;
    2 the input is wrong; 3 something is undecided.
    """


for command in (
    commands.check,
    commands.explore,
    drawing.draw,
    commands.read,
    commands.new,
    commands.schema,
):
    cli.add_command(command)


def main() -> None:
    """Runs the program, and leaves at once: taking apart all that it made was measured to cost a
    tenth of a short run."""
    rarely_collect()
    code = run(sys.argv[1:])
    with suppress(OSError, ValueError):
        sys.stdout.flush()
        sys.stderr.flush()
    os._exit(code)


def run(arguments: Sequence[str]) -> int:
    """Runs the program with these arguments and gives its exit code."""
    try:
        code = cli.main(list(arguments), prog_name="prioritylogic", standalone_mode=False)
        return int(code or 0)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        return _end("Stopped by hand. What was decided so far is not kept.", 130)
    except NobodyReads:
        # The reader has gone. Python would complain once more when it closes the stream at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141
    except SpecError as error:
        say(f"{error}\n", sys.stderr)  # without our name before it: an editor finds its place
        return 2
    except LimitError as error:
        return _end(f"Undecided: {error.limit}", 3)
    except DisagreementError as error:
        kept = f" A case to reproduce it is in {error.reproducer}." if error.reproducer else ""
        return _end(f"Two of our own answers differ, so nothing is decided: {error}.{kept}", 70)
    except PriorityLogicError as error:
        return _end(str(error), 2)
    except MemoryError:
        return _end("Undecided: the memory ran out. A smaller spec or `--only` would help.", 3)
    except Exception as error:
        if os.environ.get(TRACEBACK):
            raise
        return _end(
            f"The program has a fault ({type(error).__name__}: {error}), so nothing is decided. Please "
            f"report it with the spec, the command, and what it prints when {TRACEBACK}=1 is set.",
            70,
        )


def _end(sentence: str, code: int) -> int:
    say(f"prioritylogic: {sentence}\n", sys.stderr)
    return code
