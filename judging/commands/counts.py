"""Commands about what was rung and what it costs: rows of a piece, count of a strike log, tolerance bands fitted."""

from pathlib import Path
from typing import Annotated

import typer

from judging.commands.answer import print_json
from judging.commands.given import (
    AsJson,
    BeginOption,
    EndOption,
    NotesOfBells,
    PieceFile,
    part_between,
    read_log,
    read_piece,
)


def rows(
    piece: Annotated[Path, typer.Argument(metavar="PIECE", help="A piece: .toml or .txt.")], *, as_json: AsJson = False
) -> None:
    """Print the rows of a piece, one a line."""
    from judging.commands.words import piece_in_words
    from judging.piece import document, row_text

    found = read_piece(piece)
    if as_json:
        print_json(document(found))
        return
    typer.echo("\n".join(row_text(row) for row in found.rows))
    typer.echo(piece_in_words(found), err=True)


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

    wanted = read_piece(piece)
    counting = read_rules(read_text(rules), name=str(rules)).counting if rules else CountingRules()
    blows = read_log(log, wanted, notes)
    part_s = part_between(begin_s, end_s)
    if part_s is not None:
        blows = blows.between(*part_s)
    counted = count_striking(blows, wanted, counting, name=str(log))
    if blows_file is not None:
        write_file(blows_file, blows_csv(counted).encode())
        typer.echo(f"{len(blows)} blows written to {blows_file}", err=True)
    if as_json:
        print_json(count_document(counted))
        return
    from judging.commands.words import count_in_words

    typer.echo(count_in_words(counted))


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
    from judging.commands.calibration_words import calibration_document, calibration_in_words
    from judging.contest import read_rules
    from judging.files import read_text
    from judging.jobs.calibrating import calibrate_contests

    declared = read_rules(read_text(rules), name=str(rules)) if rules else None
    calibrated = calibrate_contests(contests, declared)
    for remark in calibrated.remarks:
        typer.echo(remark, err=True)
    if as_json:
        print_json(calibration_document(calibrated))
        return
    typer.echo(calibration_in_words(calibrated))
