"""A MIDI log in which a bell is silent: taken for what alone it can be, and said; otherwise refused with a hint."""

from collections.abc import Sequence

import numpy as np
import pytest
from made_bands import human, plain_bob, rounds, without
from test_reading import midi

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.striking import StrikeLog, lay, note_map, read_log_of

#: A minor scale's notes, such as a ring of six might be given.
NOTES = (81, 79, 77, 76, 74, 72, 70, 69)


def as_midi(log: StrikeLog, notes: Sequence[int] = NOTES) -> bytes:
    waits = np.diff(np.round(log.times_s * 1000), prepend=0).astype(int)
    blows = [(int(wait), notes[bell - 1]) for wait, bell in zip(waits, log.bells, strict=True)]
    return midi(blows, tempo=1_000_000, ticks=1000)


def with_silent(piece: Piece, *bells: int) -> StrikeLog:
    log = human(piece, 1, spread_ms=15)
    return without(log, *np.flatnonzero(np.isin(log.bells, bells)).tolist())


@pytest.mark.parametrize("silent", range(1, 7))
def test_the_silent_bell_is_found_and_said(silent: int) -> None:
    piece = plain_bob(6, 5)
    log, remarks = read_log_of(as_midi(with_silent(piece, silent)), name="m.mid", piece=piece)
    assert remarks == (f"5 different notes for 6 bells: {silent} taken to be silent",)
    assert sorted(set(log.bells.tolist())) == [bell for bell in range(1, 7) if bell != silent]
    (event,) = lay(log, piece).events
    assert (event.kind, event.bells) == ("missing blow", (silent,))


def test_two_silent_bells_of_eight_are_found() -> None:
    piece = plain_bob(8, 4)
    _, remarks = read_log_of(as_midi(with_silent(piece, 3, 6)), name="m.mid", piece=piece)
    assert remarks == ("6 different notes for 8 bells: 3 and 6 taken to be silent",)


def test_with_every_note_there_is_nothing_to_say() -> None:
    piece = plain_bob(6, 2)
    log, remarks = read_log_of(as_midi(human(piece, 1)), name="m.mid", piece=piece)
    assert (remarks, len(log)) == ((), piece.rows.size)


def test_in_rounds_any_bell_might_be_the_silent_one_so_the_notes_are_asked_for() -> None:
    piece = rounds(6, 20)
    data = as_midi(with_silent(piece, 3))
    with pytest.raises(InputError, match=r"m\.mid: 5 different notes, .*give the note of each bell, treble first"):
        read_log_of(data, name="m.mid", piece=piece)
    log, remarks = read_log_of(
        data, name="m.mid", piece=piece, notes=note_map("81, 79, 77, 76, 74, 72", bells=6, where="--notes")
    )
    assert (sorted(set(log.bells.tolist())), remarks) == ([1, 2, 4, 5, 6], ())


def test_another_piece_with_a_silent_bell_is_refused() -> None:
    with pytest.raises(InputError, match="which bell was silent cannot be told"):
        read_log_of(as_midi(with_silent(rounds(6, 40), 2)), name="m.mid", piece=plain_bob(6, 5))


def test_far_too_few_notes_are_not_guessed_at() -> None:
    with pytest.raises(InputError, match="4 different notes, but the piece is for 16 bells"):
        read_log_of(as_midi(human(rounds(4, 9), 1)), name="m.mid", piece=rounds(16, 9))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "'' is no note from 0 to 127"),
        ("72,71,x", "'x' is no note"),
        ("72,71,128", "'128' is no note"),
        ("72,71,-1", "'-1' is no note"),
        ("72,71", "2 notes for a piece on 3 bells"),
        ("72,71,72", "gives two bells the same note"),
    ],
)
def test_a_map_of_notes_that_is_none_is_refused(text: str, says: str) -> None:
    with pytest.raises(InputError, match=f"--notes: .*{says}"):
        note_map(text, bells=3, where="--notes")


def test_notes_for_a_log_that_names_its_bells_are_refused() -> None:
    with pytest.raises(InputError, match="no MIDI file"):
        read_log_of(b"time_s,bell\n1,1\n", name="l.csv", piece=rounds(3, 2), notes={72: 1, 71: 2, 69: 3})
