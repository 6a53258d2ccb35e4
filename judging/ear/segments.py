"""Several touches in one recording: each is heard by itself, and the one that is the piece is told by how much of it.

A recorder left running holds practice, false starts and other touches too. Blows are decoded within one stretch of
ringing at a time; which stretch was meant, the share of the piece that was rung in it says. Where two say the same,
both are named, since only a person knows which counted. The stretch that is as long as the piece is heard first, and
the others with the voices learnt there: that takes a fraction of the time, and they are the same bells.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from judging.ear.beside import Beside
from judging.ear.heard import Heard, Segment
from judging.ear.stretches import Stretch
from judging.ear.voices import Voices
from judging.errors import NothingHeard
from judging.piece.piece import Piece

#: Around a stretch, so much is heard too, up to halfway to the next: where ringing begins is found to two seconds.
_AROUND_S = 10.0
#: One stretch alone is cut from a recording only where this much of it is something else.
_MUCH_ELSE_S = 300.0
#: A row in which more than this share of the places agree is a row of the piece.
_AGREES = 0.6
#: Another stretch with this share of what was rung in the fullest may as well be meant; one with this share of the
#: piece is worth a word.
_AS_FULL, _WORTH_A_WORD = 0.75, 0.05
#: More than so many others are not named one by one.
_MOST_NAMED = 4
#: Voices learnt from more than this share of the piece are used for the other stretches.
_MUCH = 0.3
#: A row takes about this long on any number of bells: 5,040 of them are rung in about three hours (value from memory).
_USUAL_ROW_S = 2.1

Progress = Callable[[float, str], None]
#: Hears the part of a recording between two times, on the whole recording's clock, with voices where there are any.
HearPart = Callable[[tuple[float, float], Voices | None, Progress], Heard]


def share_rung(beside: Beside, piece: Piece) -> float:
    """Share of the piece that was rung: of its changes, or where it has none, of its rows.

    Parameters
    ----------
    beside : Beside
        What was rung, laid beside the piece.
    piece : Piece
        What should have been rung.
    """
    alike = beside.row[beside.alike > _AGREES]
    moved = (piece.rows != piece.rows[0]).any(axis=1)
    if not moved.any():
        return min(1.0, len(alike) / len(moved))
    return len(np.unique(alike[moved[alike]])) / int(moved.sum())


def parts_of(stretches: Sequence[Stretch], seconds: float) -> list[tuple[float, float]]:
    """Part of the recording to be heard for each stretch.

    Parameters
    ----------
    stretches : sequence of Stretch
        Where bells ring, in order of time.
    seconds : float
        How long the recording is.

    Returns
    -------
    list of (float, float)
        In seconds; empty where the recording is best heard as a whole.
    """
    if not stretches or (len(stretches) == 1 and seconds - stretches[0].seconds < _MUCH_ELSE_S):
        return []
    halfway = [(one.end_s + other.begin_s) / 2 for one, other in pairwise(stretches)]
    begins, ends = [0.0, *halfway], [*halfway, seconds]
    return [
        (max(begin_s, stretch.begin_s - _AROUND_S), min(end_s, stretch.end_s + _AROUND_S))
        for stretch, begin_s, end_s in zip(stretches, begins, ends, strict=True)
    ]


def hear_segments(
    name: str, piece: Piece, stretches: Sequence[Stretch], seconds: float, hear: HearPart, tell: Progress
) -> Heard:
    """Hear each stretch; return the one in which most of the piece was rung, the last of several such.

    Parameters
    ----------
    name : str
        The recording's, for messages.
    piece : Piece
        What should have been rung.
    stretches : sequence of Stretch
        Where bells ring.
    seconds : float
        How long the recording is.
    hear : callable
        Hears a part.
    tell : callable
        Told the share done, from 0 to 1, and what is being done.

    Returns
    -------
    Heard
        With all segments, and with a note where another may be meant.

    Raises
    ------
    NothingHeard
        No stretch is the piece; it says where they are, and what is wrong with the longest.
    """
    heard: dict[int, Heard] = {}
    problems: dict[int, str] = {}
    parts = parts_of(stretches, seconds)
    whole, done = sum(end_s - begin_s for begin_s, end_s in parts), 0.0
    voices: Voices | None = None
    for count, number in enumerate(_likeliest_first(stretches, piece), 1):
        begin_s, end_s = parts[number]
        which = f" in {count} of {len(parts)} stretches" if len(parts) > 1 else ""
        within = _within(tell, done / whole, (done + end_s - begin_s) / whole, which)
        done += end_s - begin_s
        try:
            heard[number] = hear(parts[number], voices, within)
        except NothingHeard as told:
            problems[number] = told.problem
            continue
        if voices is None and heard[number].start_is_sure and heard[number].rung > _MUCH:
            voices = heard[number].voices
    if not heard:
        longest = max(problems, key=lambda number: stretches[number].seconds)
        if len(stretches) == 1:
            raise NothingHeard(name, problems[longest])
        raise NothingHeard(
            name,
            f"bells ring {len(stretches)} times in it ({_listed(stretches)}), and none of them is this piece; "
            f"the longest {problems[longest]}",
        )
    chosen = max(heard, key=lambda number: (round(heard[number].rung, 2), number))
    segments = tuple(
        Segment(stretch.begin_s, stretch.end_s, heard[number].rung if number in heard else 0.0, number == chosen)
        for number, stretch in enumerate(stretches)
    )
    best = heard[chosen]
    rivals = [segments[number] for number in sorted(heard) if number != chosen and heard[number].rung > _WORTH_A_WORD]
    unsure = [rival for rival in rivals if (rival.rung or 0.0) >= _AS_FULL * best.rung]
    note = _note(segments[chosen], unsure or rivals, is_sure=not unsure)
    return replace(
        best,
        notes=(*note, *best.notes),
        segments=segments if len(segments) > 1 else (),
        segment_is_sure=not unsure,
    )


def _likeliest_first(stretches: Sequence[Stretch], piece: Piece) -> list[int]:
    """Stretches by how nearly they last as long as the piece; the longest first where its lengths are free."""
    as_long_s = len(piece.rows) * _USUAL_ROW_S

    def unlike(number: int) -> float:
        seconds = stretches[number].seconds
        return -seconds if piece.free_lengths else abs(float(np.log(seconds / as_long_s)))

    return sorted(range(len(stretches)), key=unlike)


def _within(tell: Progress, first: float, last: float, which: str) -> Progress:
    """Tell the progress of a part as that of the whole."""
    return lambda share, step: tell(first + (last - first) * share, step + which)


def _note(chosen: Segment, rivals: Sequence[Segment], *, is_sure: bool) -> tuple[str, ...]:
    if not rivals:
        return ()
    also = "; ".join(f"from {clock(one.begin_s)} to {clock(one.end_s)}, {_share(one)}" for one in rivals[:_MOST_NAMED])
    also += f"; or {len(rivals) - _MOST_NAMED} more" if len(rivals) > _MOST_NAMED else ""
    told = f"from {clock(chosen.begin_s)} to {clock(chosen.end_s)}, {_share(chosen)}"
    if is_sure:
        return (f"the ringing {told} is counted; some of the piece was also rung {also}",)
    return (f"it is not sure which ringing is meant: {told}, is counted, but it may be {also}. Say which",)


def _share(segment: Segment) -> str:
    return f"{100 * (segment.rung or 0.0):.0f} % of the piece"


def _listed(stretches: Sequence[Stretch]) -> str:
    return ", ".join(f"{clock(stretch.begin_s)}–{clock(stretch.end_s)}" for stretch in stretches)


def clock(seconds: float) -> str:
    """Minutes and seconds, and hours where there are any, as a player shows them."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"
