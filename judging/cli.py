"""The command `evenblow`: the service's actions from a shell.

The answer goes to standard output (one JSON document with ``--json``), progress and remarks to standard error.
Exit code 0: done; 1: differences were found, or nothing usable was heard; 2: bad input, told in one message.
"""

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from judging import __version__
from judging.cli_progress import TerminalProgress
from judging.errors import InputError, JudgingError, NothingHeard

if TYPE_CHECKING:
    from judging.contest import ContestDay, Outcome
    from judging.jobs.judge_folder import Judged
    from judging.piece import Piece
    from judging.store.backup import BackupReport
    from judging.striking import StrikeLog

app = typer.Typer(
    name="evenblow",
    help="A judging assistant for striking competitions on tower bells.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
NotesOfBells = Annotated[
    str | None, typer.Option("--notes", metavar="72,71,69...", help="MIDI: the note of each bell, treble first.")
]
PieceFile = Annotated[Path, typer.Option("--piece", metavar="PIECE", help="What should have been rung: .toml or .txt.")]
BeginOption = Annotated[
    float | None, typer.Option("--from", metavar="SECONDS", min=0, help="Where the piece begins, among other ringing.")
]
EndOption = Annotated[float | None, typer.Option("--to", metavar="SECONDS", min=0, help="Where it ends.")]
DataFolder = Annotated[Path, typer.Option("--data", metavar="DIR", help="Where the service keeps everything.")]
DATA = Path("evenblow-data")


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


@app.command()
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
        _serve(data=out / "service", host="127.0.0.1", port=8000, contest_folder=out)


@app.command()
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


@app.command()
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
    _print_results(judge_contest(day), day, as_json=as_json)


@app.command()
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
        _print_json({"matches": len(days), "table": [asdict(line) | {"band": bands[line.entry]} for line in lines]})
        return
    for line in lines:
        tied = " =" if line.tied else ""
        among = "" if line.among is None else f", {line.among} among those level"
        told = f"won {line.won}, drawn {line.drawn}, lost {line.lost}: {line.points} points{among}"
        typer.echo(f"{line.place}{tied:2}  {bands[line.entry]}: {told}")


@app.command()
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
        _print_json({"seed": rules.draw_seed, "order": [{"entry": lot.entry, "lot": lot.digits} for lot in lots]})
        return
    for number, lot in enumerate(lots, 1):
        typer.echo(f"{number:>2}  {lot.entry:<24}  {lot.digits}")


@app.command()
def rows(
    piece: Annotated[Path, typer.Argument(metavar="PIECE", help="A piece: .toml or .txt.")], *, as_json: AsJson = False
) -> None:
    """Print the rows of a piece, one a line."""
    from judging.cli_words import piece_in_words
    from judging.piece import document, row_text

    found = _piece(piece)
    if as_json:
        _print_json(document(found))
        return
    typer.echo("\n".join(row_text(row) for row in found.rows))
    typer.echo(piece_in_words(found), err=True)


@app.command()
def listen(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="WAV, FLAC, MP3, Ogg, M4A, WebM ...")],
    piece: PieceFile,
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="LOG.csv", help="Where the log goes.")] = None,
    first_blow: Annotated[
        float | None, typer.Option("--first-blow", metavar="SECONDS", help="When the first blow is, if it is known.")
    ] = None,
    voices: Annotated[
        Path | None,
        typer.Option("--voices", metavar="FILE.npz", help="The bells' voices, kept from an earlier recording."),
    ] = None,
    keep_voices: Annotated[
        Path | None,
        typer.Option("--keep-voices", metavar="FILE.npz", help="Keep the bells' voices for the next recording."),
    ] = None,
    begin_s: BeginOption = None,
    end_s: EndOption = None,
    beside: Annotated[
        Path | None, typer.Option("--beside", metavar="OTHER", help="Another recorder's recording of the same touch.")
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Hear every blow of a recording: RECORDING to strike log."""
    from dataclasses import asdict

    from judging.ear import voices_from_bytes, voices_to_bytes
    from judging.files import check_can_be_written, read_bytes, write_file
    from judging.jobs.hearing import hear
    from judging.striking import count_striking, write_log
    from judging.striking.repeatability import repeatability

    if out is not None:
        check_can_be_written(out)
    wanted = _piece(piece)
    known = voices_from_bytes(read_bytes(voices), str(voices)) if voices else None
    both = [recording] if beside is None else [recording, beside]
    progress = TerminalProgress()
    with progress:
        found = hear(
            {str(path): (path, wanted) for path in both},
            first_blow_s=first_blow,
            voices=known,
            between_s=_between(begin_s, end_s),
            progress=progress,
        )
    heard = found[str(recording)]
    agreed = (
        None
        if beside is None
        else repeatability(*(count_striking(found[str(path)].log, wanted, name=str(path)) for path in both))
    )
    for note in (*heard.notes, *([] if agreed is None else [agreed.sentence])):
        typer.echo(note, err=True)
    text = write_log(heard.log)
    if out is not None:
        write_file(out, text.encode())
        typer.echo(f"{len(heard.log)} blows written to {out}", err=True)
    if keep_voices is not None and heard.voices is not None:
        write_file(keep_voices, voices_to_bytes(heard.voices))
        typer.echo(f"The voices of {len(heard.voices)} bells are kept in {keep_voices}", err=True)
    if as_json:
        _print_json(
            {
                "blows": [
                    {"time_s": float(time), "bell": int(bell), "spread_ms": float(spread)}
                    for time, bell, spread in zip(heard.log.times_s, heard.log.bells, heard.log.spread_ms, strict=True)
                ],
                "notes": list(heard.notes),
                "start_is_sure": heard.start_is_sure,
                "rung": round(heard.rung, 3),
                "segments": [asdict(segment) for segment in heard.segments],
                "segment_is_sure": heard.segment_is_sure,
                "bells": [
                    {"bell": told.bell, "apart": told.apart, "most_like": told.most_like or None}
                    for told in heard.clarity
                ],
                "beside": None if agreed is None else agreed.document,
            }
        )
    elif out is None:
        typer.echo(text, nl=False)


@app.command()
def cut(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="One recording of the whole day.")],
    times: Annotated[
        Path, typer.Argument(metavar="TIMES.csv", help="The steward's, entry,start,stop; or cuts.csv, moved by hand.")
    ],
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="DIR", help="Where ENTRY.flac go.")] = None,
    began: Annotated[
        str | None, typer.Option("--began", metavar="TIME", help="When the recording began, by the steward's clock.")
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Cut one recording of the whole day into one for each entry; without --out the cuts are only shown."""
    from dataclasses import asdict

    from judging.cli_words import cuts_in_words
    from judging.contest.day_file import DayCuts, cuts_text, holds_cuts, read_clock, read_cuts, read_times
    from judging.files import read_text, write_file
    from judging.jobs.cutting import find_cuts, write_cuts

    table, name = read_text(times), str(times)
    progress = TerminalProgress()
    with progress:
        if holds_cuts(table):
            day = DayCuts(0.0, read_cuts(table, name=name), (), ())
        else:
            clock_s = read_clock(began, "--began") if began else None
            day = find_cuts(recording, read_times(table, name=name), clock_s=clock_s, progress=progress)
        if out is not None:
            write_cuts(recording, day.cuts, out, progress=progress)
            write_file(out / "cuts.csv", cuts_text(day.cuts).encode())
    if as_json:
        _print_json(asdict(day))
    else:
        typer.echo(cuts_in_words(day))
    if out is not None:
        typer.echo(f"{len(day.cuts)} recordings are in {out}; move a cut in {out / 'cuts.csv'} and give that", err=True)
    if day.silent:
        raise typer.Exit(1)


@app.command(name="pull-offs")
def pull_offs(
    recording: Annotated[Path, typer.Argument(metavar="GROWING.wav", help="A WAV file that is being recorded.")],
    bells: Annotated[int, typer.Option("--bells", min=3, max=16, help="How many ring.")],
    row: Annotated[str, typer.Option("--row", help="What is pulled off in: a name, or the row as bells.")] = "Rounds",
    *,
    to_end: Annotated[bool, typer.Option("--to-end", help="Stop at the end of the file, not at Ctrl-C.")] = False,
) -> None:
    """Tell each pull-off of a recording that is still being written, as soon as the bells stand."""
    from judging.cli_pull_offs import follow_pull_offs
    from judging.piece import row_said

    follow_pull_offs(recording, row_said(row, bells, where="--row"), to_end=to_end)


@app.command()
def count(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="A strike log: CSV with time_s,bell or a MIDI file.")],
    piece: PieceFile,
    rules: Annotated[
        Path | None, typer.Option("--rules", metavar="RULES.toml", help="Declared rules; the usual ones if not given.")
    ] = None,
    blows_file: Annotated[
        Path | None, typer.Option("--csv", metavar="BLOWS.csv", help="Write every blow there, for a spreadsheet.")
    ] = None,
    notes: NotesOfBells = None,
    begin_s: BeginOption = None,
    end_s: EndOption = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Count the faults of a strike log: deviations, faults and the machine's count."""
    from judging.contest import read_rules
    from judging.files import read_text, write_file
    from judging.striking import CountingRules, blows_csv, count_document, count_striking

    wanted = _piece(piece)
    counting = read_rules(read_text(rules), name=str(rules)).counting if rules else CountingRules()
    blows = _log(log, wanted, notes)
    part_s = _between(begin_s, end_s)
    if part_s is not None:
        blows = blows.between(*part_s)
    counted = count_striking(blows, wanted, counting, name=str(log))
    if blows_file is not None:
        write_file(blows_file, blows_csv(counted).encode())
        typer.echo(f"{len(blows)} blows written to {blows_file}", err=True)
    if as_json:
        _print_json(count_document(counted))
        return
    from judging.cli_words import count_in_words

    typer.echo(count_in_words(counted))


@app.command()
def calibrate(
    contests: Annotated[
        list[Path], typer.Argument(metavar="CONTEST...", help="Contest folders or archives with logs and sheets.")
    ],
    rules: Annotated[
        Path | None,
        typer.Option("--rules", metavar="RULES.toml", help="Whose bands to scale; or the first contest's."),
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Fit the tolerance bands to what judges counted, for rules not yet published."""
    from judging.cli_calibration import calibration_document, calibration_in_words
    from judging.contest import read_rules
    from judging.files import read_text
    from judging.jobs.calibrating import calibrate_contests

    declared = read_rules(read_text(rules), name=str(rules)) if rules else None
    calibrated = calibrate_contests(contests, declared)
    for remark in calibrated.remarks:
        typer.echo(remark, err=True)
    if as_json:
        _print_json(calibration_document(calibrated))
        return
    typer.echo(calibration_in_words(calibrated))


@app.command()
def sound(
    piece: Annotated[Path, typer.Argument(metavar="PIECE", help="What is rung: .toml or .txt.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="Where the recording goes: .wav or .flac.")],
    log: Annotated[
        Path | None, typer.Option("--log", metavar="LOG", help="Ring with this log's timing, not ideally.")
    ] = None,
    peal_minutes: Annotated[float, typer.Option("--peal-minutes", help="Pace, as the time of 5,040 changes.")] = 170.0,
    handstroke_gap: Annotated[float, typer.Option("--handstroke-gap", help="In blows: 1 open, 0 closed.")] = 1.0,
    room: Annotated[
        str | None,
        typer.Option("--room", help="dry, ringing chamber, church or outdoors; a recording has its own. [church]"),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another number makes other bells.")] = 1,
    notes: NotesOfBells = None,
    bells_of: Annotated[
        Path | None,
        typer.Option(
            "--bells-of", metavar="RECORDING", help="Ring on this recording's own bells, not on made-up ones."
        ),
    ] = None,
    bells_log: Annotated[
        Path | None,
        typer.Option("--bells-log", metavar="LOG", help="Its strike log; without one it is heard first, as PIECE."),
    ] = None,
) -> None:
    """Make a recording of a piece rung on made-up bells, or on those of a recording."""
    from judging.sounding import ideal_log, ring_of_bells, ring_to_file, room_named

    if bells_log and not bells_of:
        raise InputError("--bells-log", "says nothing without --bells-of, the recording whose blows it has")
    wanted = _piece(piece)
    blows = (
        _log(log, wanted, notes) if log else ideal_log(wanted, peal_minutes=peal_minutes, handstroke_gap=handstroke_gap)
    )
    progress = TerminalProgress()
    with progress:
        bells, loudness = ring_of_bells(wanted.bells, seed=seed), None
        if bells_of:
            from judging.jobs.hearing import hear
            from judging.jobs.resounding import own_bells

            own = (
                _log(bells_log, wanted, notes)
                if bells_log
                else hear({bells_of.name: (bells_of, wanted)}, progress=progress)[bells_of.name].log
            )
            bells, loudness = own_bells(bells_of, own, wanted.bells)
        ring_to_file(
            out,
            blows,
            bells=bells,
            room=room_named(room or ("dry" if bells_of else "church")),
            seed=seed,
            loudness=loudness,
            progress=progress.line(out.name),
        )
    typer.echo(f"{len(blows)} blows rung into {out}", err=True)


@app.command()
def serve(
    data: DataFolder = DATA,
    host: Annotated[
        str, typer.Option("--host", help="0.0.0.0 lets phones on the same network reach it.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = 8000,
) -> None:
    """Run the service; the first start prints a one-time organiser link."""
    _serve(data=data, host=host, port=port, contest_folder=None)


@app.command()
def recount(
    archive: Annotated[Path, typer.Argument(metavar="ARCHIVE", help="A judged contest: a folder or a ZIP file.")],
    *,
    as_json: AsJson = False,
) -> None:
    """Recompute a finished contest from its archive and print every difference."""
    from judging.jobs.recount import recount as run

    differences = run(archive)
    if as_json:
        _print_json({"differences": list(differences)})
    else:
        typer.echo("\n".join(differences) or "Recounted: every place, mark and reason is the same.")
    if differences:
        raise typer.Exit(1)


@app.command()
def backup(
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="A new folder, best on another disk.")],
    data: DataFolder = DATA,
) -> None:
    """Copy everything the service keeps, while it runs, and read the copy through."""
    from judging.store import backup as run

    report = run(data, target)
    typer.echo(_kept(report))
    if report.missing:
        typer.echo(f"Missing recordings: {', '.join(report.missing)}", err=True)
        raise typer.Exit(1)


@app.command()
def restore(
    source: Annotated[Path, typer.Argument(metavar="SOURCE", help="A backup.")], data: DataFolder = DATA
) -> None:
    """Bring a backup back into a new data folder, verified."""
    from judging.store import restore as run

    typer.echo(_kept(run(source, data)))


def _serve(*, data: Path, host: str, port: int, contest_folder: Path | None) -> None:
    from judging.web.serving import serve as run

    run(data=data, host=host, port=port, contest_folder=contest_folder)


def _kept(report: "BackupReport") -> str:
    return f"{report.recordings} recordings and the database are in {report.folder}; audit head {report.audit_head}"


def _piece(path: Path) -> "Piece":
    from judging.files import read_text
    from judging.piece import piece_from_file

    return piece_from_file(str(path), read_text(path))


def _between(begin_s: float | None, end_s: float | None) -> tuple[float, float] | None:
    """Part of a recording or a log that --from and --to name; None where neither is given."""
    if begin_s is None and end_s is None:
        return None
    part_s = (begin_s or 0.0, float("inf") if end_s is None else end_s)
    if part_s[0] >= part_s[1]:
        raise InputError("--from", f"{part_s[0]:g} s is not before --to, {part_s[1]:g} s")
    return part_s


def _log(path: Path, piece: "Piece", notes: str | None) -> "StrikeLog":
    """Strike log of a file; what had to be taken for what is told."""
    from judging.files import read_bytes
    from judging.striking import note_map, read_log_of

    given = None if notes is None else note_map(notes, bells=piece.bells, where="--notes")
    log, remarks = read_log_of(read_bytes(path), name=str(path), piece=piece, notes=given)
    for remark in remarks:
        typer.echo(remark, err=True)
    return log


def _tell(judged: "Judged", out: Path, *, as_json: bool) -> None:
    for remark in judged.remarks:
        typer.echo(remark, err=True)
    _print_results(judged.outcome, judged.day, as_json=as_json)
    typer.echo(f"Certificates, fault sheets and results: {out / 'papers'}; strike logs: {out / 'logs'}", err=True)


def _print_json(document: object) -> None:
    typer.echo(json.dumps(document, ensure_ascii=False, allow_nan=False))


def _print_results(outcome: "Outcome", day: "ContestDay", *, as_json: bool) -> None:
    """Print the result as archives keep it, and the advice beside it, which they do not."""
    from judging.contest import cross_check_document, result_document

    document = result_document(outcome, day) | {"cross_check": cross_check_document(day, outcome)}
    if as_json:
        _print_json(document)
        return
    from judging.cli_table import print_results

    print_results(document, bands={entry.id: entry.band for entry in day.entries})
