"""The whole touch: every blow decoded at once, the voices learnt again from what was decoded, until nothing moves."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.ear.beside import lay_beside
from judging.ear.by_piece import rows_by_piece
from judging.ear.follow import Prior, Walk, follow, refit, stray_of
from judging.ear.number import another_number
from judging.ear.pulls import follow_whole_rows
from judging.ear.reading import Start
from judging.ear.rows import Rows, rows_from
from judging.ear.shadows import own_blows, shadows, without_shadows
from judging.ear.unlearnt import walk_unlearnt
from judging.ear.verdict import check_ringing, hardly_a_change
from judging.ear.voices import School, Voices, bumps, usual_answers
from judging.piece.piece import Piece

#: Voices are learnt again at least so often, and at most so often; it is enough when fewer than this share of the blows
#: are elsewhere than the time before, that is, more than 20 ms away.
_FEWEST_TURNS, _MOST_TURNS = 2, 6
_SETTLED, _ELSEWHERE_S = 0.002, 0.02
#: How many gaps the rows may be out before blows are decoded for the first time.
_SLACK = 0.5
#: Rows that agree with the piece this far need no other guess at the pace.
_PLAIN = 0.85
#: Frames this near an onset are learnt from, and one in ten of the others; more than so many teach no more.
_NEAR, _SHARE, _MOST_FRAMES = 12, 10, 40_000
_ONSET = 0.1


@dataclass(frozen=True, slots=True)
class Followed:
    """A touch, followed from end to end.

    Parameters
    ----------
    walk : Walk
        Every blow.
    answers : ndarray of float32, shape (frames, bells)
        Of the detectors that it was decoded from, a usual answer being 1.
    voices : Voices
        Those detectors, as learnt from the whole touch.
    shadows : tuple of (int, int)
        Bells that could not be told from another, indices from 0; they have no blows where the other struck.
    """

    walk: Walk
    answers: NDArray[np.float32]
    voices: Voices
    shadows: tuple[tuple[int, int], ...] = ()


def hear_touch(
    loud: NDArray[np.float32], rises: NDArray[np.float32], start: Start, piece: Piece, name: str
) -> Followed:
    """Decode a touch from its start.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets.
    start : Start
        Where rows begin, and the voices learnt from the first of them.
    piece : Piece
        What should have been rung.
    name : str
        The recording's, for messages.

    Returns
    -------
    Followed

    Raises
    ------
    NothingHeard
        It is not ringing of this piece.
    """
    voices, taught = start.voices, start.taught_s
    answers = voices.answer(loud)
    if not start.kept:
        answers /= usual_answers(answers, taught, 0)
    rows, walk = _first_walk(answers, start, piece)
    learnt = (rows.starts_s > taught.min() - rows.gaps_s[0]) & (rows.starts_s < taught.max()) & (not start.kept)
    judged = walk
    if not start.kept and hardly_a_change(piece, lay_beside(walk, piece), ~learnt):
        judged, learnt = walk_unlearnt(loud, taught, rows, _SLACK), np.zeros(len(rows), bool)
    check_ringing(name, piece, start, judged, lay_beside(judged, piece), learnt, another_number(loud, rises, start))
    school = School(loud, _telling_frames(rises))
    known = voices if start.kept else None
    for turn in range(_MOST_TURNS):
        beside = lay_beside(walk, piece)
        places = np.argsort(piece.rows[beside.row], axis=1)
        rows = refit(walk, rows, places)
        heights = np.clip(walk.height, 0.2, 1.0)
        followed = shadows(walk, rows, places)
        times = own_blows(walk, rises, rows, places, followed) if followed else walk.times_s
        voices = school.teach(bumps(times, heights, school.frames), known)
        answers = voices.answer(loud)
        usual = usual_answers(answers, times, 0)
        answers /= usual
        prior = Prior(places, beside.trust(), stray_of(walk, rows, places), noise=walk.noise)
        before, walk = walk, follow(answers, 0, rows, prior)
        if turn + 1 >= _FEWEST_TURNS and not followed and _moved(before, walk) < _SETTLED:
            break
    left = tuple(shadows(walk, rows, places))
    return Followed(without_shadows(walk, left), answers, voices.levelled(usual), left)


def _first_walk(answers: NDArray[np.float32], start: Start, piece: Piece) -> tuple[Rows, Walk]:
    """Decode without the piece, in rows by all blows; where that is not plain, in rows by the piece's own order too."""
    tried: list[tuple[float, Rows, Walk]] = []
    for pulls in _whole_pulls(answers, start, piece):
        rows = rows_from(pulls.one_more_each_end(), 0, piece.bells)
        walk = follow(answers, 0, rows, Prior(slack=_SLACK))
        beside = lay_beside(walk, piece)
        tried.append((beside.score, rows, walk))
        if beside.alike.mean() > _PLAIN:
            break
    _, rows, walk = max(tried, key=lambda one: one[0])
    return rows, walk


def _whole_pulls(answers: NDArray[np.float32], start: Start, piece: Piece) -> Iterator[Rows]:
    """Ways to follow whole pulls: at the pace that fits best, at each of them, and by the piece at each of them."""
    paces = start.paces()
    for guess in (paces, *([pace] for pace in paces)):
        yield follow_whole_rows(answers, piece.bells, guess, start.first_s)
    for pace in paces:
        by_piece = rows_by_piece(answers, piece, pace, start.first_s)
        if by_piece is not None:
            yield by_piece


def _moved(before: Walk, after: Walk) -> float:
    """Share of blows that are elsewhere than before."""
    same = np.isnan(before.times_s) & np.isnan(after.times_s)
    same |= np.abs(before.times_s - after.times_s) < _ELSEWHERE_S
    return float((~same).mean())


def _telling_frames(rises: NDArray[np.float32]) -> NDArray[np.int64]:
    """Frames near onsets, and an even share of all others, to learn from."""
    inner = rises[1:-1]
    peaks = np.flatnonzero((inner > rises[:-2]) & (inner >= rises[2:]) & (inner > _ONSET)) + 1
    told = np.zeros(len(rises), bool)
    told[::_SHARE] = True
    for offset in range(-_NEAR, _NEAR + 1):
        told[np.clip(peaks + offset, 0, len(rises) - 1)] = True
    frames = np.flatnonzero(told)
    return frames[:: 1 + len(frames) // _MOST_FRAMES] if len(frames) > _MOST_FRAMES else frames
