"""What several commands are given: their common options, and the pieces, logs and parts these name."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from judging.errors import InputError

if TYPE_CHECKING:
    from judging.piece import Piece
    from judging.striking import StrikeLog

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
NotesOfBells = Annotated[
    str | None, typer.Option("--notes", metavar="72,71,69...", help="MIDI: the note of each bell, treble first.")
]
PieceFile = Annotated[Path, typer.Option("--piece", metavar="PIECE", help="What should have been rung: .toml or .txt.")]
BeginOption = Annotated[
    float | None, typer.Option("--from", metavar="SECONDS", min=0, help="Where the piece begins, among other ringing.")
]
EndOption = Annotated[float | None, typer.Option("--to", metavar="SECONDS", min=0, help="Where it ends.")]


def read_piece(path: Path) -> "Piece":
    """Piece of a file."""
    from judging.files import read_text
    from judging.piece import piece_from_file

    return piece_from_file(str(path), read_text(path))


def part_between(begin_s: float | None, end_s: float | None) -> tuple[float, float] | None:
    """Part of a recording or a log that --from and --to name; None where neither is given.

    Raises
    ------
    InputError
        It ends before it begins.
    """
    if begin_s is None and end_s is None:
        return None
    part_s = (begin_s or 0.0, float("inf") if end_s is None else end_s)
    if part_s[0] >= part_s[1]:
        raise InputError("--from", f"{part_s[0]:g} s is not before --to, {part_s[1]:g} s")
    return part_s


def read_log(path: Path, piece: "Piece", notes: str | None) -> "StrikeLog":
    """Strike log of a file; what had to be taken for what is told."""
    from judging.files import read_bytes
    from judging.striking import note_map, read_log_of

    given = None if notes is None else note_map(notes, bells=piece.bells, where="--notes")
    log, remarks = read_log_of(read_bytes(path), name=str(path), piece=piece, notes=given)
    for remark in remarks:
        typer.echo(remark, err=True)
    return log
