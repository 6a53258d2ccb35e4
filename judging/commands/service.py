"""Commands about the service: begin it, copy all it keeps, bring the copy back."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from judging.commands.answer import print_json
from judging.commands.given import AsJson

if TYPE_CHECKING:
    from judging.store.backup import BackupReport

DataFolder = Annotated[Path, typer.Option("--data", metavar="DIR", help="Where the service keeps everything.")]
DATA = Path("evenblow-data")


def serve(
    data: DataFolder = DATA,
    host: Annotated[
        str, typer.Option("--host", help="0.0.0.0 lets phones on the same network reach it.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = 8000,
) -> None:
    """Run the service; the first start prints a one-time organiser link."""
    from judging.web.serving import serve as run

    run(data=data, host=host, port=port, contest_folder=None)


def backup(
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="A new folder, best on another disk.")],
    data: DataFolder = DATA,
    *,
    as_json: AsJson = False,
) -> None:
    """Copy everything the service keeps, while it runs, and read the copy through."""
    from judging.store import backup as run

    report = run(data, target)
    _tell_kept(report, as_json=as_json)
    if report.missing:
        typer.echo(f"Missing recordings: {', '.join(report.missing)}", err=True)
        raise typer.Exit(1)


def restore(
    source: Annotated[Path, typer.Argument(metavar="SOURCE", help="A backup.")],
    data: DataFolder = DATA,
    *,
    as_json: AsJson = False,
) -> None:
    """Bring a backup back into a new data folder, verified."""
    from judging.store import restore as run

    _tell_kept(run(source, data), as_json=as_json)


def _tell_kept(report: "BackupReport", *, as_json: bool) -> None:
    if as_json:
        print_json(asdict(report) | {"folder": str(report.folder)})
        return
    typer.echo(
        f"{report.recordings} recordings and the database are in {report.folder}; audit head {report.audit_head}"
    )
