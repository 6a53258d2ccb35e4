"""A MIDI log with fewer notes than the piece has bells: which bell is silent, where only one answer makes it the piece.

The highest note is the treble only where every bell has its note. With one missing, all lower ones would move up a
bell, and nothing would be the piece. So every answer is tried, and taken where no other will do; it is always said.
"""

from collections.abc import Mapping
from itertools import combinations
from math import comb

from judging.errors import InputError, NothingHeard
from judging.piece.piece import Piece
from judging.striking.happenings import bells_name
from judging.striking.laying import lay
from judging.striking.log_midi import log_from_midi, notes_in
from judging.striking.reading import is_midi, read_log
from judging.striking.strike_log import StrikeLog

#: Share of the blows heard that must be in their own places, and how far the next best answer must stay behind.
FITS, APART = 0.8, 0.05

#: Most answers tried: any two of sixteen bells.
MOST_TRIED = 120


def read_log_of(
    data: bytes, *, name: str, piece: Piece, notes: Mapping[int, int] | None = None
) -> tuple[StrikeLog, tuple[str, ...]]:
    """Strike log of a piece, from CSV text or a Standard MIDI File.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        What it is called, for messages.
    piece : Piece
        What should have been rung.
    notes : mapping of int to int, optional
        For MIDI: bell of each note number.

    Returns
    -------
    log : StrikeLog
        Blows in order of time.
    remarks : tuple of str
        What was taken for what, where the file did not say it.

    Raises
    ------
    InputError
        With file, line, what was found and the likely cause.
    """
    if notes is not None and not is_midi(data):
        raise InputError(name, "this is no MIDI file: a log in CSV names its bells itself, so it takes no notes")
    if not is_midi(data) or notes is not None:
        return read_log(data, name=name, bells=piece.bells, notes=notes), ()
    used = notes_in(data, name=name)
    silent = piece.bells - len(used)
    if silent <= 0:
        return read_log(data, name=name, bells=piece.bells), ()
    found = _silent_bells(data, name, piece, used) if comb(piece.bells, silent) <= MOST_TRIED else None
    if found is None:
        raise InputError(
            name,
            f"{len(used)} different notes, but the piece is for {piece.bells} bells, and which bell was silent cannot "
            "be told from it: give the note of each bell, treble first (evenblow count --notes 72,71,69 ...)",
        )
    log, bells = found
    return log, (f"{len(used)} different notes for {piece.bells} bells: {bells_name(bells)} taken to be silent",)


def note_map(text: str, *, bells: int, where: str) -> Mapping[int, int]:
    """Bell of each note, from the notes of the bells in order, treble first.

    Parameters
    ----------
    text : str
        Note numbers with commas between.
    bells : int
        Bells of the piece.
    where : str
        Where it was written, for messages.

    Returns
    -------
    mapping of int to int
        Bell by note number.

    Raises
    ------
    InputError
        Where there is not one note from 0 to 127 for each bell.

    Examples
    --------
    >>> note_map("72, 71, 69", bells=3, where="--notes")
    {72: 1, 71: 2, 69: 3}
    """
    cells = [cell.strip() for cell in text.split(",")]
    for cell in cells:
        if not (cell.isascii() and cell.isdecimal() and len(cell) <= 3 and int(cell) <= 127):
            raise InputError(where, f"{cell[:40]!r} is no note from 0 to 127; give the note of each bell, treble first")
    notes = [int(cell) for cell in cells]
    if len(notes) != bells:
        raise InputError(where, f"{len(notes)} notes for a piece on {bells} bells; give one for each, treble first")
    if len(set(notes)) < len(notes):
        raise InputError(where, f"{text[:60]!r} gives two bells the same note")
    return dict(zip(notes, range(1, bells + 1), strict=True))


def _silent_bells(
    data: bytes, name: str, piece: Piece, used: tuple[int, ...]
) -> tuple[StrikeLog, tuple[int, ...]] | None:
    """The one choice of silent bells with which the log is the piece."""
    every = range(1, piece.bells + 1)
    tried: list[tuple[float, StrikeLog, tuple[int, ...]]] = []
    for sounding in combinations(every, len(used)):
        log = log_from_midi(data, name=name, bells=piece.bells, notes=dict(zip(used, sounding, strict=True)))
        silent = tuple(bell for bell in every if bell not in sounding)
        try:
            rung = lay(log, piece)
        except NothingHeard:
            continue
        right = float((rung.bells == rung.piece.rows).sum()) / max(len(log), int((rung.strike >= 0).sum()))
        tried.append((right, log, silent))
    tried.sort(key=lambda one: one[0], reverse=True)
    if not tried or tried[0][0] < FITS or (len(tried) > 1 and tried[1][0] > tried[0][0] - APART):
        return None
    return tried[0][1], tried[0][2]
