"""The command `evenblow`: the service's actions from a shell.

The answer goes to standard output (one JSON document with ``--json``), progress and remarks to standard error.
Exit code 0: done; 1: differences were found, or nothing usable was heard; 2: bad input, told in one message.
"""

import sys
from typing import Annotated

import typer

from judging import __version__
from judging.commands import contests, counts, recordings, service
from judging.errors import JudgingError, NothingHeard

app = typer.Typer(
    name="evenblow",
    help="A judging assistant for striking competitions on tower bells.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def main() -> None:
    """Run the command and turn what a person can mend into one message and an exit code."""
    try:
        app()
    except NothingHeard as error:
        typer.echo(f"evenblow: {error}", err=True)
        sys.exit(1)
    except JudgingError as error:
        typer.echo(f"evenblow: {error}", err=True)
        sys.exit(2)
    except BrokenPipeError:  # the reader, such as a pager, has seen enough
        sys.stderr.close()
        sys.exit(0)


def _print_version(wanted: bool) -> None:  # noqa: FBT001 - the shape of a Typer callback
    if wanted:
        typer.echo(f"evenblow {__version__}")
        raise typer.Exit


@app.callback()
def _evenblow(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """A judging assistant for striking competitions on tower bells."""


# In the order in which `evenblow --help` lists them.
for command in (
    contests.demo,
    contests.contest,
    contests.rank,
    contests.league,
    contests.draw,
    counts.rows,
    recordings.listen,
    recordings.cut,
    recordings.pull_offs,
    counts.count,
    counts.calibrate,
    recordings.sound,
    service.serve,
    contests.recount,
    service.backup,
    service.restore,
):
    app.command()(command)
