"""Commands about a contest folder: judged from end to end, ranked, drawn, a season's table, and counted again."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from judging.commands.answer import print_json
from judging.commands.given import AsJson
from judging.commands.progress import TerminalProgress

if TYPE_CHECKING:
    from judging.contest import ContestDay, Outcome
    from judging.jobs.judge_folder import Judged


def demo(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where recordings and papers go.")] = Path(
        "evenblow-demo"
    ),
    *,
    serve: Annotated[bool, typer.Option("--serve", help="Then open the finished contest in the service.")] = False,
    as_json: AsJson = False,
) -> None:
    """Judge the demo contest from end to end: recordings to certificates."""
    from judging.jobs.demo import make_demo_contest
    from judging.jobs.judge_folder import judge_folder

    progress = TerminalProgress()
    with progress:
        make_demo_contest(out, progress=progress)
        judged = judge_folder(out, out=out, progress=progress)
    _tell(judged, out, as_json=as_json)
    if serve:
        from judging.web.serving import serve as open_service

        open_service(data=out / "service", host="127.0.0.1", port=8000, contest_folder=out)


def contest(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A contest folder: rules, entries, pieces ...")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where papers go; FOLDER-judged if not given.")
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Judge any contest folder from end to end."""
    from judging.jobs.judge_folder import judge_folder

    target = out or folder.resolve().parent / f"{folder.resolve().name}-judged"
    progress = TerminalProgress()
    with progress:
        judged = judge_folder(folder, out=target, progress=progress)
    _tell(judged, target, as_json=as_json)


def rank(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A contest folder with sheets and strike logs.")],
    *,
    as_json: AsJson = False,
) -> None:
    """Rank a contest from its judges' sheets and strike logs; recordings are not listened to."""
    from judging.contest import judge_contest
    from judging.store.contest_folder import read_folder

    found = read_folder(folder)
    for remark in found.remarks:
        typer.echo(remark, err=True)
    for entry in found.recordings:
        typer.echo(f"{entry}: has a recording but no strike log, so no machine count here", err=True)
    day = found.day
    _print_outcome(judge_contest(day), day, as_json=as_json)


def league(
    folders: Annotated[
        list[Path], typer.Argument(metavar="FOLDER...", help="The matches of a season, one folder each.")
    ],
    *,
    as_json: AsJson = False,
) -> None:
    """Make a league's table from its matches: two points a win, one a draw."""
    from judging.contest import judge_contest
    from judging.contest.league import league_table
    from judging.store.contest_folder import read_folder

    days = [read_folder(folder).day for folder in folders]
    bands = {entry.id: entry.band for day in days for entry in day.entries}
    lines = league_table([result for day in days for result in judge_contest(day).results])
    if as_json:
        print_json({"matches": len(days), "table": [asdict(line) | {"band": bands[line.entry]} for line in lines]})
        return
    for line in lines:
        tied = " =" if line.tied else ""
        among = "" if line.among is None else f", {line.among} among those level"
        told = f"won {line.won}, drawn {line.drawn}, lost {line.lost}: {line.points} points{among}"
        typer.echo(f"{line.place}{tied:2}  {bands[line.entry]}: {told}")


def draw(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="rules.toml with its seed, and entries.toml.")],
    *,
    as_json: AsJson = False,
) -> None:
    """Run the draw of a contest folder, or run it again: order of ringing, identifier and lot, one band a line."""
    from judging.contest import read_entries, read_rules, tickets
    from judging.files import read_text

    rules = read_rules(read_text(folder / "rules.toml"), name=str(folder / "rules.toml"))
    entries = read_entries(read_text(folder / "entries.toml"), name=str(folder / "entries.toml"), rules=rules)
    lots = tickets(entries, rules.draw_seed)
    if as_json:
        print_json({"seed": rules.draw_seed, "order": [{"entry": lot.entry, "lot": lot.digits} for lot in lots]})
        return
    for number, lot in enumerate(lots, 1):
        typer.echo(f"{number:>2}  {lot.entry:<24}  {lot.digits}")


def recount(
    archive: Annotated[Path, typer.Argument(metavar="ARCHIVE", help="A judged contest: a folder or a ZIP file.")],
    *,
    as_json: AsJson = False,
) -> None:
    """Recompute a finished contest from its archive and print every difference."""
    from judging.jobs.recount import recount as run

    differences = run(archive)
    if as_json:
        print_json({"differences": list(differences)})
    else:
        typer.echo("\n".join(differences) or "Recounted: every place, mark and reason is the same.")
    if differences:
        raise typer.Exit(1)


def _tell(judged: "Judged", out: Path, *, as_json: bool) -> None:
    for remark in judged.remarks:
        typer.echo(remark, err=True)
    _print_outcome(judged.outcome, judged.day, as_json=as_json)
    typer.echo(f"Certificates, fault sheets and results: {out / 'papers'}; strike logs: {out / 'logs'}", err=True)


def _print_outcome(outcome: "Outcome", day: "ContestDay", *, as_json: bool) -> None:
    """Print the result as archives keep it, and the advice beside it, which they do not."""
    from judging.contest import cross_check_document, result_document

    document = result_document(outcome, day) | {"cross_check": cross_check_document(day, outcome)}
    if as_json:
        print_json(document)
        return
    from judging.commands.result_table import print_results

    print_results(document, bands={entry.id: entry.band for entry in day.entries})
