"""Which blow is the first of a row: every answer is tried, and the piece itself decides.

A start wrong by one blow renames every bell while everything else still looks healthy. So each blow of a whole pull is
tried as the first: the bells' voices are learnt from the opening rows under that reading, the next rows are decoded
*without* the piece, and what comes out is asked three things. Do its rows agree with the piece's own (under the right
reading nearly everywhere, under one a blow off hardly anywhere)? Do its bells go down the scale? Do its blows fit the
rows, with the handstroke gap where it says?
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk, follow
from judging.ear.lessons import OWN, Lesson, learn, lessons_from, own_rows, rows_as_rung
from judging.ear.pace import LONGEST_ROW_S, SHORTEST_ROW_S
from judging.ear.pulls import follow_touches
from judging.ear.reading import Learnt, Start, judge
from judging.ear.repeats import row_length_s
from judging.ear.rows import Pace, Rows, rows_from
from judging.ear.settling import settle
from judging.ear.voices import Voices, usual_answers
from judging.piece.piece import Piece

#: Rows after the opening that are decoded to judge a start.
_TRIAL_ROWS = 20
#: And where those were all rounds.
_LONG_TRIAL_ROWS = 100
#: So many changes say something by themselves.
_FEWEST_CHANGES = 4
#: Blows before the followed whole pull that are tried too: with a wide handstroke gap it may begin a blow late.
_BEFORE = 2
#: A start whose rows agree this far needs no other lesson and no other pace.
_PLAIN = 0.85
#: Nor does one that is so much better supported than any other.
_FAR_AHEAD = 12.0
#: Further lessons are tried at the paces that did best with the first.
_HOPEFUL = 2
#: How many times longer or shorter a row may be than was heard: in fifty whole pulls, each within a factor of 1.06.
_ABOUT = 1.08
_WHOLE_PULL = 2
#: Where none is plain, so many of the best are settled.
_SETTLED = 4


def find_starts(
    loud: NDArray[np.float32],
    rises: NDArray[np.float32],
    paces: list[Pace],
    piece: Piece,
    known: Voices | None = None,
) -> list[Start]:
    """Try every blow of a whole pull as the first of a row, at every possible pace.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets.
    paces : list of Pace
        Possible paces, the likeliest first.
    piece : Piece
        What should be rung.
    known : Voices, optional
        The bells' voices, kept from another recording; nothing need be learnt then.

    Returns
    -------
    list of Start
        The best supported first, others after it. Empty where no lesson fits the length.
    """
    all_learnt = known is None and _all_learnt(piece)
    if all_learnt:
        paces = _of_a_row(loud, rises, paces, piece)
    tried: list[list[Start]] = []
    for starts in _every(loud, rises, paces, piece, known):
        tried.append(starts)
        if are_plain(starts, piece):
            break
    if all_learnt:
        return sorted((start for starts in tried for start in starts), key=lambda start: -start.support)
    best = max(tried, key=lambda starts: _merit(starts[0], piece), default=[])
    if known is not None or not best or best[0].agreement > _PLAIN:
        return best
    settled = _settled(loud, rises, tried, piece)
    return settled if _merit(settled[0], piece) > _merit(best[0], piece) else best


def _every(
    loud: NDArray[np.float32], rises: NDArray[np.float32], paces: list[Pace], piece: Piece, known: Voices | None
) -> Iterator[list[Start]]:
    """All readings at one pace and from one lesson, the best supported first; then at another, or from another."""
    hopeful: list[Start] = []
    for number, lesson in enumerate(lessons_from(piece) if known is None else [own_rows(piece)]):
        unheard = (pulls for pace in paces for pulls in follow_touches(rises, piece.bells, pace))
        for pulls in unheard if number == 0 else [start.pulls for start in hopeful[:_HOPEFUL]]:
            if lesson.first + 2 > 2 * len(pulls):
                continue
            starts = _try(loud, rises, pulls, lesson, piece, _TRIAL_ROWS, known)
            if not starts:
                continue
            if starts[0].agreement > _PLAIN and not are_plain(starts, piece):
                starts = _try(loud, rises, pulls, lesson, piece, _LONG_TRIAL_ROWS, known)
            if number == 0:
                hopeful.append(starts[0])
            yield starts
        hopeful.sort(key=lambda start: -_merit(start, piece))


def are_plain(starts: list[Start], piece: Piece) -> bool:
    """Whether the best of these agrees so well, with changes where the piece has any, that no others need be tried."""
    best = starts[0]
    if _all_learnt(piece) and not best.kept:
        return False
    enough = best.changes >= min(_FEWEST_CHANGES, _changes_in(piece))
    return enough and (best.agreement > _PLAIN or (best.changes > 0 and margin(starts) > _FAR_AHEAD))


def margin(starts: list[Start]) -> float:
    """How much better the best is supported than any that names the bells otherwise."""
    best = starts[0]
    return best.support - max((start.support for start in starts if not best.names_as(start)), default=-np.inf)


def _all_learnt(piece: Piece) -> bool:
    """Whether voices are learnt from every row that there is, so that rows must agree, whatever they are."""
    return len(piece.rows) <= OWN and not _changes_in(piece)


def _of_a_row(loud: NDArray[np.float32], rises: NDArray[np.float32], paces: list[Pace], piece: Piece) -> list[Pace]:
    """Paces at which a row takes as long as it takes the same bells to sound again; all, where that is not plain."""
    row_s = row_length_s(loud, rises, SHORTEST_ROW_S, LONGEST_ROW_S)
    if row_s is None:
        return paces
    several = len(piece.rows) > _WHOLE_PULL  # then it may be the row with the handstroke gap that is heard again

    def fits(pace: Pace) -> bool:
        shortest, longest = piece.bells, piece.bells + pace.handstroke_gap * several
        return shortest / _ABOUT < row_s / pace.gap_s < longest * _ABOUT

    return [pace for pace in paces if fits(pace)] or paces


def _merit(start: Start, piece: Piece) -> float:
    """How far its rows agree, first of all in changes, where the piece has any."""
    return start.agreement + (start.changes >= min(_FEWEST_CHANGES, _changes_in(piece)))


def _changes_in(piece: Piece) -> int:
    return int((piece.rows != piece.rows[0]).any(axis=1).sum())


def _try(
    loud: NDArray[np.float32],
    rises: NDArray[np.float32],
    pulls: Rows,
    lesson: Lesson,
    piece: Piece,
    length: int,
    known: Voices | None,
) -> list[Start]:
    bells = piece.bells
    lesson = Lesson(lesson.places[: 2 * len(pulls) - lesson.first], lesson.first)
    slots = range(-_BEFORE, 2 * bells)
    readings = [rows_from(pulls, slot, bells) for slot in slots]
    voices, taught = ([], np.zeros((0, 0, 0))) if known else learn(loud, rises, lesson, readings)
    starts = []
    for number, (slot, rows) in enumerate(zip(slots, readings, strict=True)):
        trial = rows.cut(slice(lesson.first, lesson.first + max(piece.opening, len(lesson.places)) + length))
        if trial.starts_s[0] - 1 >= (len(loud) - 1) * FRAME_S:  # beyond the end of a very short recording
            continue
        if known is None:
            learnt = Learnt(voices[number], lesson, taught[:, number])
            walk = _decode_trial(loud, learnt.voices, trial, learnt.taught_s)
        else:
            walk = _decode_trial(loud, known, trial)
            learnt = Learnt(known, *rows_as_rung(walk, trial), kept=True)
        starts.append(judge(loud, rises, piece, learnt, walk, trial, pulls, slot))
    return sorted(starts, key=lambda start: -start.support)


def _settled(
    loud: NDArray[np.float32], rises: NDArray[np.float32], tried: list[list[Start]], piece: Piece
) -> list[Start]:
    """Settle the best of all that was tried; return those, and all others after them."""
    ordered = sorted((start for starts in tried for start in starts), key=lambda start: -start.support)
    settled: list[Start] = []
    for start in ordered[:_SETTLED]:
        rows = rows_from(start.pulls, start.slot, piece.bells).cut(slice(0, start.rows // 2 * 2))
        voices, rows, walk = settle(loud, start.voices, start.taught_s, rows)
        learnt = Learnt(voices, *rows_as_rung(walk, rows))
        pull_s = float(np.median(np.diff(rows.starts_s[::2]))) if len(rows) > 2 else start.pulls.pull_s
        pulls = Rows(rows.starts_s[::2], rows.gaps_s[::2], pull_s)
        settled.append(judge(loud, rises, piece, learnt, walk, rows, pulls, 0))
    settled.sort(key=lambda start: -start.support)
    return settled + ordered[_SETTLED:]


def _decode_trial(
    loud: NDArray[np.float32], voices: Voices, rows: Rows, taught_s: NDArray[np.float64] | None = None
) -> Walk:
    """Decode rows without the piece; voices that were kept already answer a usual blow with 1."""
    first = max(0, int((rows.starts_s[0] - 1) / FRAME_S))
    last = min(len(loud), int((rows.starts_s[-1] + (len(voices.bias) + 2) * rows.gaps_s[-1]) / FRAME_S))
    answers = voices.answer(loud, first, last)
    if taught_s is not None:
        answers /= usual_answers(answers, taught_s, first)
    return follow(answers, first, rows)
