"""Which blow is the first of a row: every answer is tried, and the piece itself decides.

A start wrong by one blow renames every bell while everything else still looks healthy. So each blow of a whole pull is
tried as the first: the bells' voices are learnt from the opening rows under that reading, the next rows are decoded
*without* the piece, and the rows that come out are laid beside the piece's own. Under the right reading they agree
nearly everywhere; under a reading one blow off, hardly anywhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk, follow
from judging.ear.pace import Rows
from judging.ear.voices import School, Voices, bumps, usual_answers
from judging.piece.piece import Piece

#: Opening rows that are learnt from, at most; and how many of the piece's own where it has hardly any opening.
_MOST_LESSONS, _OWN_LESSONS = 16, 12
#: Rows decoded to judge a start.
_TRIAL_ROWS = 40
_ROUNDS_ALONE = 4
#: What it costs to say that a row was rung twice or left out, in rows that agree.
_SLIP = 1.0
#: Changes that say something about the piece by themselves.
_FEWEST_CHANGES = 4

Times = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lesson:
    """What is taken to be rung first, while voices are learnt.

    Parameters
    ----------
    places : ndarray of int64, shape (rows, bells)
        Place of each bell, from 0.
    pull : int
        Which of the followed whole pulls it begins with.
    """

    places: NDArray[np.int64]
    pull: int = 0


@dataclass(frozen=True, slots=True)
class Start:
    """One reading of where rows begin, and what came of it.

    Parameters
    ----------
    slot : int
        Which blow of the followed whole pulls is taken as the first of a handstroke row, from 0.
    first_s : float
        Time of that blow in the first whole pull.
    voices : Voices
        Learnt under this reading.
    taught_s : ndarray of float64, shape (rows, bells)
        The blows they were learnt from.
    taught : slice
        The rows they were learnt from, counted from the first followed whole pull.
    walk : Walk
        The trial rows, decoded without the piece.
    agreement : float
        Share of places in which the trial rows and the piece agree, less what slips cost.
    """

    slot: int
    first_s: float
    voices: Voices
    taught_s: Times
    taught: slice
    walk: Walk
    agreement: float


def try_starts(loud: NDArray[np.float32], rises: NDArray[np.float32], pulls: Rows, piece: Piece) -> list[Start]:
    """Try every blow of a whole pull as the first of a row.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets.
    pulls : Rows
        Followed whole pulls.
    piece : Piece
        What should be rung.

    Returns
    -------
    list of Start
        One a slot, best first.
    """
    best: dict[int, Start] = {}
    for lesson in _lessons(piece, len(pulls)):
        for start in _try_lesson(loud, rises, pulls, lesson, piece):
            if start.slot not in best or start.agreement > best[start.slot].agreement:
                best[start.slot] = start
        if max(start.agreement for start in best.values()) > 0.9:
            break
    return sorted(best.values(), key=lambda start: (-start.agreement, start.slot))


def _lessons(piece: Piece, pulls: int) -> Iterator[Lesson]:
    """Ways to learn: the opening rounds as the piece has them, other numbers of them, and the piece's own rows."""
    places = np.argsort(piece.rows, axis=1)
    opening = min(piece.opening, _MOST_LESSONS, 2 * pulls)
    if opening >= _ROUNDS_ALONE:
        yield Lesson(places[:opening])
    own = places[: min(_OWN_LESSONS, len(places), 2 * pulls)]
    if opening < _ROUNDS_ALONE:
        yield Lesson(own)
    if piece.opening:
        for count in (8, 4, 12):
            if count != opening and count <= 2 * pulls:
                yield Lesson(np.repeat(places[:1], count, axis=0))
    if opening < _ROUNDS_ALONE and pulls > 1:
        yield Lesson(own[: 2 * pulls - 2], 1)


def rows_from(pulls: Rows, slot: int, bells: int) -> Rows:
    """Rows of the followed whole pulls, if their blow number ``slot`` is the first of a handstroke row."""
    starts = np.empty(2 * len(pulls))
    starts[::2] = pulls.starts_s + slot * pulls.gaps_s
    starts[1::2] = starts[::2] + bells * pulls.gaps_s
    return Rows(starts, np.repeat(pulls.gaps_s, 2))


def _try_lesson(
    loud: NDArray[np.float32], rises: NDArray[np.float32], pulls: Rows, lesson: Lesson, piece: Piece
) -> Iterator[Start]:
    count, bells = lesson.places.shape
    grids = [rows_from(pulls, slot, bells) for slot in range(2 * bells)]
    taught = slice(2 * lesson.pull, 2 * lesson.pull + count)
    expected = np.stack(
        [grid.starts_s[taught, None] + lesson.places * grid.gaps_s[taught, None] for grid in grids], axis=1
    )
    gap = float(np.median(pulls.gaps_s))
    voices, times = _learn(loud, rises, expected.reshape(count, -1), gap)
    times = times.reshape(expected.shape)
    for slot, grid in enumerate(grids):
        mine = voices.only(np.arange(slot * bells, (slot + 1) * bells))
        trial = grid.cut(slice(2 * lesson.pull, 2 * lesson.pull + piece.opening + _TRIAL_ROWS))
        walk = _trial(loud, mine, times[:, slot], trial)
        agreement = lay_beside(walk, piece).score / len(trial)
        yield Start(slot, float(trial.starts_s[0]), mine, times[:, slot], taught, walk, agreement)


def _trial(loud: NDArray[np.float32], voices: Voices, taught_s: Times, rows: Rows) -> Walk:
    first = max(0, int((rows.starts_s[0] - 1) / FRAME_S))
    last = min(len(loud), int((rows.starts_s[-1] + (taught_s.shape[1] + 2) * rows.gaps_s[-1]) / FRAME_S))
    answers = voices.answer(loud, first, last)
    return follow(answers / usual_answers(answers, taught_s, first), first, rows)


def _learn(
    loud: NDArray[np.float32], rises: NDArray[np.float32], expected: Times, gap_s: float
) -> tuple[Voices, Times]:
    """Teach detectors from roughly known times: first from onsets near them, then from their own clearest answers."""
    first = max(0, int((expected.min() - 1) / FRAME_S))
    last = min(len(loud), int((expected.max() + 1) / FRAME_S))
    school = School(loud, np.arange(first, last))
    near = np.arange(-int(0.5 * gap_s / FRAME_S), int(0.5 * gap_s / FRAME_S) + 1)
    centre = np.clip(np.round(expected / FRAME_S).astype(np.int64) - first, -near[0], last - first - 1 + near[0])
    frames = centre[:, :, None] + near
    astray = (frames + first) * FRAME_S - expected[:, :, None]
    onset = rises[first:last][frames] * np.exp(-0.5 * (astray / (0.18 * gap_s)) ** 2)
    onset /= np.maximum(onset.max(axis=2, keepdims=True), 1e-9)
    targets = np.zeros((last - first, expected.shape[1]), np.float32)
    detector = np.broadcast_to(np.arange(expected.shape[1])[None, :, None], frames.shape)
    np.maximum.at(targets, (frames, detector), onset.astype(np.float32))
    voices = school.teach(targets)
    for _ in range(3):
        answers = voices.answer(loud, first, last)[frames, detector]
        usual = np.maximum(np.median(answers.max(axis=2), axis=0), 1e-9)
        likely = answers / usual[None, :, None] - 2.4 * (astray / gap_s) ** 2
        chosen = likely.argmax(axis=2)[:, :, None]
        height = np.take_along_axis(answers, chosen, axis=2)[:, :, 0] / usual
        times: Times = (np.take_along_axis(frames, chosen, axis=2)[:, :, 0] + first) * np.float64(FRAME_S)
        voices = school.teach(bumps(times, np.clip(height, 0.2, 1.0), first, last - first))
    return voices, times


@dataclass(frozen=True, slots=True)
class Beside:
    """Decoded rows laid beside the piece's rows.

    Parameters
    ----------
    row : ndarray of int64, shape (rows,)
        Which row of the piece each decoded row is.
    alike : ndarray of float64, shape (rows,)
        Share of places in which the two agree.
    score : float
        Sum of ``alike``, less `_SLIP` for each row of the piece left out or rung twice where it is not held.
    """

    row: NDArray[np.int64]
    alike: NDArray[np.float64]
    score: float

    def agreement(self, piece: Piece, taught: slice) -> float:
        """Share of places that agree in rows that nothing was learnt from; in the changes, where there are some."""
        fair = np.ones(len(self.row), bool)
        fair[taught] = False
        changed = fair & (piece.rows[self.row] != piece.rows[0]).any(axis=1)
        for rows in (changed, fair):
            if rows.sum() >= _FEWEST_CHANGES:
                return float(self.alike[rows].mean())
        return float(self.alike.mean())


def lay_beside(walk: Walk, piece: Piece) -> Beside:
    """Lay decoded rows beside the piece's rows.

    Parameters
    ----------
    walk : Walk
        Decoded rows.
    piece : Piece
        What should have been rung; its opening and closing rows may be rung more or less often, and every row where
        the piece has free lengths.

    Returns
    -------
    Beside
    """
    alike: NDArray[np.float64] = (walk.order[:, None, :] == piece.rows[None]).mean(axis=2)
    count = len(piece.rows)
    index = np.arange(count)
    held = (index < piece.opening) | (index >= count - piece.closing) | piece.free_lengths
    skip = 0.0 if piece.free_lengths else _SLIP
    late = np.minimum(10.0, 0.5 * np.maximum(0, index - max(0, piece.opening - 1)))
    total = alike[0] - late
    came_from = np.zeros((len(alike), count), np.int64)
    for row in range(1, len(alike)):
        ways = np.full((3, count), -np.inf)
        ways[0, 1:] = total[:-1]
        ways[1] = total - np.where(held, 0.0, _SLIP)
        ways[2, 2:] = total[:-2] - np.where(held[1:-1], 0.0, skip)
        way = ways.argmax(axis=0)
        came_from[row] = index - np.array([1, 0, 2])[way]
        total = ways.max(axis=0) + alike[row]
    at = int(total.argmax())
    score = float(total[at])
    laid = np.empty(len(alike), np.int64)
    for row in range(len(alike) - 1, -1, -1):
        laid[row] = at
        at = int(came_from[row, at])
    return Beside(laid, alike[np.arange(len(alike)), laid], score)
