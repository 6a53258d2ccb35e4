"""Bytes → STRIKE LOG, whichever of the two open forms they are in."""

from collections.abc import Mapping

from judging.errors import InputError
from judging.striking.log_midi import log_from_midi
from judging.striking.log_text import log_from_text
from judging.striking.strike_log import StrikeLog

#: First bytes of files that are often chosen by mistake, and what they are.
_OTHERS = {
    b"RIFF": "a WAV recording",
    b"fLaC": "a FLAC recording",
    b"OggS": "an Ogg recording",
    b"ID3": "an MP3 recording",
    b"PK\x03\x04": "a spreadsheet or a zip file",
    b"%PDF": "a PDF",
}


def read_log(data: bytes, *, name: str, bells: int, notes: Mapping[int, int] | None = None) -> StrikeLog:
    """Strike log from CSV text or a Standard MIDI File, told apart by content.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        What it is called, for messages.
    bells : int
        Bells of the piece it belongs to.
    notes : mapping of int to int, optional
        For MIDI: bell of each note number; by default the highest note is the treble.

    Returns
    -------
    StrikeLog
        Blows in order of time.

    Raises
    ------
    InputError
        With file, line, what was found and the likely cause.
    """
    if not data.strip():
        raise InputError(name, "the file is empty; a strike log begins with the header time_s,bell")
    if is_midi(data):
        return log_from_midi(data, name=name, bells=bells, notes=notes)
    for begin, what in _OTHERS.items():
        if data.startswith(begin):
            hint = "; listen to it first" if "recording" in what else "; save it as CSV"
            raise InputError(name, f"this is {what}, not a strike log{hint}")
    return log_from_text(data, name=name, bells=bells)


def is_midi(data: bytes) -> bool:
    """Whether some bytes begin like a Standard MIDI File."""
    return data.startswith(b"MThd")
