"""A strike log as a Standard MIDI File, and from one: each note is a blow, the highest note the treble."""

import io
from collections.abc import Iterator, Mapping

import mido
import numpy as np

from judging.errors import InputError
from judging.striking.log_text import LATEST_S, MOST_BLOWS
from judging.striking.strike_log import StrikeLog

#: Of a file that is written: clock, how long a note is held, how hard it is struck, General MIDI's tubular bells (15,
#: counted from 1), and notes in semitones above the tenor, which is middle C.
_TICKS_A_SECOND, _SOUNDS_TICKS, _FORCE, _TUBULAR_BELLS = 10_000, 1_000, 100, 14
_TENOR, _MAJOR = 60, (0, 2, 4, 5, 7, 9, 11)

#: Largest file read: the longest peal on sixteen bells is a third of it, and an event takes some 400 bytes of memory.
MOST_BYTES = 2_000_000
#: Frames a second where a file counts time by them: what its header calls 29 is 30 of 1.001 s (SMPTE 12M drop frame).
_FRAMES = {-24: 24.0, -25: 25.0, -29: 30_000 / 1001, -30: 30.0}


def log_from_midi(data: bytes, *, name: str, bells: int, notes: Mapping[int, int] | None = None) -> StrikeLog:
    """Strike log from the bytes of a Standard MIDI File.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What it is called, for messages.
    bells : int
        Bells of the piece.
    notes : mapping of int to int, optional
        Bell of each note number; by default the notes that occur, from the highest down, are 1, 2, 3 ...

    Returns
    -------
    StrikeLog
        Blows in order of time.

    Raises
    ------
    InputError
        Where the file is damaged, too large, holds no note or notes of more bells than the piece has.
    """
    blows = _struck(data, name)
    used = sorted({note for _, note in blows}, reverse=True)
    if notes is None:
        if len(used) > bells:
            raise InputError(
                name,
                f"{len(used)} different notes, but the piece is for {bells} bells: is it of another ring, or "
                "another piece, or is there a note in it that is no bell?",
            )
        notes = {note: index for index, note in enumerate(used, 1)}
    for note in used:
        if note not in notes or not 1 <= notes[note] <= bells:
            raise InputError(name, f"note {note} has no bell from 1 to {bells} in the map of notes")
    times = np.array([time for time, _ in blows])
    rung = np.array([notes[note] for _, note in blows], dtype=np.int8)
    return StrikeLog(times, rung, np.zeros(len(times)), source=name)


def notes_in(data: bytes, *, name: str) -> tuple[int, ...]:
    """Return the note numbers that occur in a Standard MIDI File, from the highest down.

    Raises
    ------
    InputError
        As `log_from_midi`.
    """
    return tuple(sorted({note for _, note in _struck(data, name)}, reverse=True))


def midi_from_log(log: StrikeLog, bells: int) -> bytes:
    """Standard MIDI File of a strike log, for any program that plays notes.

    Parameters
    ----------
    log : StrikeLog
        The blows; those of unknown bells are left out, since no note stands for them.
    bells : int
        How many ring: the tenor is the C below the treble's octave, the others a major scale above it.

    Returns
    -------
    bytes
        One track, whose clock ticks ten times a millisecond; its zero is the log's.
    """
    file = mido.MidiFile(type=0, ticks_per_beat=_TICKS_A_SECOND)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))  # a beat is a second
    track.append(mido.Message("program_change", program=_TUBULAR_BELLS))
    first_s = min(0.0, float(log.times_s[0])) if len(log) else 0.0
    moments = []
    for time_s, bell in zip(log.times_s.tolist(), log.bells.tolist(), strict=True):
        if bell:
            note, at = _note(bell, bells), round((time_s - first_s) * _TICKS_A_SECOND)
            moments += [(at, 1, note), (at + _SOUNDS_TICKS, 0, note)]
    now = 0
    for at, is_struck, note in sorted(moments):
        track.append(mido.Message("note_on", note=note, velocity=_FORCE * is_struck, time=at - now))
        now = at
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _note(bell: int, bells: int) -> int:
    octave, step = divmod(bells - bell, len(_MAJOR))
    return _TENOR + 12 * octave + _MAJOR[step]


def _struck(data: bytes, name: str) -> list[tuple[float, int]]:
    """Time and note of every blow, in order of time."""
    if len(data) > MOST_BYTES:
        raise InputError(name, f"{len(data)} bytes of MIDI, but at most {MOST_BYTES} are read")
    try:
        file = mido.MidiFile(file=io.BytesIO(_tracks_alone(data)), clip=True)
        if file.type == 2:
            raise InputError(
                name, "is a MIDI file of type 2, whose tracks are pieces of their own; export one as type 0"
            )
        blows, now = [], 0.0
        for message, step_s in _timed(file, name):
            now += step_s
            if message.type == "note_on" and message.velocity > 0:
                blows.append((now, message.note))
            if now > LATEST_S or len(blows) > MOST_BLOWS:
                raise InputError(
                    name, f"the MIDI file is longer than a week or {MOST_BLOWS} blows; is its tempo damaged?"
                )
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError, AttributeError, ZeroDivisionError) as error:
        raise InputError(
            name, f"the MIDI file is damaged or cut short ({str(error) or type(error).__name__})"
        ) from error
    if not blows:
        raise InputError(name, "the MIDI file holds no notes: was the wrong track exported?")
    return blows


def _timed(file: mido.MidiFile, name: str) -> Iterator[tuple[mido.Message, float]]:
    """Messages in order of time, each with the seconds since the one before."""
    division = file.ticks_per_beat
    if division > 0:
        for message in file:
            yield message, message.time
        return
    frames, ticks = _FRAMES.get(division >> 8), division & 0xFF  # the header's number is a pair here
    if not frames or not ticks:
        raise InputError(name, "its clock does not run: the header has no ticks; export it again")
    for message in mido.merge_tracks(file.tracks):
        yield message, message.time / (frames * ticks)


def _tracks_alone(data: bytes) -> bytes:
    """Header and tracks, without the chunks of other kinds that a reader is to skip (Standard MIDI Files 1.0)."""
    at, tracks = 8 + int.from_bytes(data[4:8]), []
    while at + 8 <= len(data):
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8])
        if data[at : at + 4] == b"MTrk":
            tracks.append(data[at:end])
        at = end
    if not tracks:
        return data
    return b"MThd" + (6).to_bytes(4) + data[8:10] + len(tracks).to_bytes(2) + data[12:14] + b"".join(tracks)
