"""Voices learnt from roughly known times: the opening rows, under every reading of where they begin."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk
from judging.ear.rows import Rows
from judging.ear.snapping import snap
from judging.ear.voices import School, Voices, bumps
from judging.piece.piece import Piece

#: Opening rows that are learnt from, at most; and how many of the piece's own where it has hardly any opening.
_MOST, OWN = 16, 12
#: Opening rows that are enough to learn from.
_ENOUGH = 4
#: Other numbers of opening rows that bands ring.
_OTHERS = (6, 4, 12, 2)
#: A blow is looked for within half a gap of its place, and believed less the further off it is (standard deviation of
#: the first look, and weight of the square later on, in gaps).
_WITHIN, _FIRST_LOOK, _LATER_LOOKS = 0.5, 0.18, 2.4
#: So few rows are learnt from onset by onset, in order.
_FEW = 2
_TURNS = 3

Times = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lesson:
    """What is taken to be rung first, while voices are learnt.

    Parameters
    ----------
    places : ndarray of int64, shape (rows, bells)
        Place of each bell, from 0.
    first : int
        Which of the followed rows it begins with.
    """

    places: NDArray[np.int64]
    first: int = 0

    @property
    def rows(self) -> slice:
        """The followed rows it is about."""
        return slice(self.first, self.first + len(self.places))


def lessons_from(piece: Piece) -> Iterator[Lesson]:
    """Ways to learn: the opening rows as the piece has them, its own first rows, other numbers of opening rows."""
    places = np.argsort(piece.rows, axis=1)
    opening = 0 if piece.free_lengths else min(piece.opening, _MOST)
    if opening >= _ENOUGH:
        yield Lesson(places[:opening])
    elif not piece.free_lengths:
        yield Lesson(places[:OWN])
    if piece.opening or piece.free_lengths:
        for count in _OTHERS:
            if count != opening:
                yield Lesson(np.repeat(places[:1], count, axis=0))
    if opening < _ENOUGH and not piece.free_lengths:
        yield Lesson(places[: OWN - 2], 2)


def own_rows(piece: Piece) -> Lesson:
    """The piece's own first rows."""
    return Lesson(np.argsort(piece.rows[:OWN], axis=1))


def rows_as_rung(walk: Walk, rows: Rows) -> tuple[Lesson, Times]:
    """First rows that were rung, as they were rung, where nothing need be taught; a silent bell is where expected."""
    rung = np.flatnonzero(np.isfinite(walk.times_s).sum(axis=1) * 2 >= walk.times_s.shape[1])[:OWN]
    rung = rung if len(rung) else np.arange(1)
    times, lesson = walk.times_s[rung], Lesson(np.argsort(walk.order[rung], axis=1))
    expected = rows.starts_s[rung, None] + lesson.places * rows.gaps_s[rung, None]
    return lesson, np.where(np.isnan(times), expected, times)


def learn(
    loud: NDArray[np.float32], rises: NDArray[np.float32], lesson: Lesson, readings: list[Rows]
) -> tuple[list[Voices], Times]:
    """Learn each bell's voice under each reading of where rows begin.

    All readings share the frames they learn from, so that many cost little more than one.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets.
    lesson : Lesson
        What is rung.
    readings : list of Rows
        When rows begin, under each reading.

    Returns
    -------
    voices : list of Voices
        One detector a bell, for each reading.
    times_s : ndarray of float64, shape (rows, readings, bells)
        The blows they were learnt from.
    """
    rows = lesson.rows
    count, bells = lesson.places.shape
    expected = np.stack([r.starts_s[rows, None] + lesson.places * r.gaps_s[rows, None] for r in readings], axis=1)
    gap_s = float(np.median(readings[0].gaps_s))
    begun = _begun(rises, lesson, expected, gap_s) if count <= _FEW else None
    voices, times = _teach(loud, rises, expected.reshape(count, -1), begun, gap_s)
    each = [voices.only(np.arange(number * bells, (number + 1) * bells)) for number in range(len(readings))]
    return each, times.reshape(expected.shape)


def _begun(rises: NDArray[np.float32], lesson: Lesson, expected: Times, gap_s: float) -> Times:
    """Onsets that the blows of a whole pull most likely are; shape (rows, readings * bells)."""
    count, readings, bells = expected.shape
    order = np.broadcast_to(np.argsort(lesson.places, axis=1)[:, None, :], expected.shape)
    in_order = np.take_along_axis(expected, order, axis=2).transpose(0, 2, 1).reshape(count * bells, readings)
    snapped = snap(rises, in_order, gap_s).reshape(count, bells, readings).transpose(0, 2, 1)
    places = np.broadcast_to(lesson.places[:, None, :], expected.shape)
    return np.take_along_axis(snapped, places, axis=2).reshape(count, -1)


def _teach(
    loud: NDArray[np.float32], rises: NDArray[np.float32], expected: Times, begun: Times | None, gap_s: float
) -> tuple[Voices, Times]:
    """Teach detectors: first from onsets near the expected times, then from their own clearest answers there.

    Where few blows are learnt from, none is outvoted by the others; so each must be right from the beginning, and
    ``begun`` says which onset it is.
    """
    first = max(0, int((expected.min() - 1) / FRAME_S))
    last = min(len(loud), int((expected.max() + 1) / FRAME_S))
    school = School(loud, np.arange(first, last))
    reach = int(_WITHIN * gap_s / FRAME_S)
    near = np.arange(-reach, reach + 1)
    centre = np.clip(np.round(expected / FRAME_S).astype(np.int64) - first, reach, last - first - 1 - reach)
    frames = centre[:, :, None] + near
    at = (frames + first) * FRAME_S
    detector = np.broadcast_to(np.arange(expected.shape[1])[None, :, None], frames.shape)
    if begun is None:
        begun = expected
        onset = rises[first:last][frames] * np.exp(-0.5 * ((at - expected[:, :, None]) / (_FIRST_LOOK * gap_s)) ** 2)
        onset /= np.maximum(onset.max(axis=2, keepdims=True), 1e-9)
        targets = np.zeros((last - first, expected.shape[1]), np.float32)
        np.maximum.at(targets, (frames, detector), onset.astype(np.float32))
    else:
        targets = bumps(begun, np.ones(begun.shape), np.arange(first, last))
    voices = school.teach(targets)
    astray = (at - begun[:, :, None]) / gap_s
    times = begun
    for _ in range(_TURNS):
        answers = voices.answer(loud, first, last)[frames, detector]
        usual = np.maximum(np.median(answers.max(axis=2), axis=0), 1e-9)
        best = (answers / usual[None, :, None] - _LATER_LOOKS * astray**2).argmax(axis=2)[:, :, None]
        height = np.take_along_axis(answers, best, axis=2)[:, :, 0] / usual
        times = (np.take_along_axis(frames, best, axis=2)[:, :, 0] + first).astype(np.float64) * FRAME_S
        voices = school.teach(bumps(times, np.clip(height, 0.2, 1.0), np.arange(first, last)))
    return voices, times
