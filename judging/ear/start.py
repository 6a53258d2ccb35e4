"""Which blow is the first of a row: every answer is tried, and the piece itself decides.

A start wrong by one blow renames every bell while everything else still looks healthy. So each blow of a whole pull is
tried as the first: the bells' voices are learnt from the opening rows under that reading, the next rows are decoded
*without* the piece, and what comes out is asked three things. Do its rows agree with the piece's own (under the right
reading nearly everywhere, under one a blow off hardly anywhere)? Do its bells go down the scale? Do its blows fit the
rows, with the handstroke gap where it says?
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.ear.beside import lay_beside
from judging.ear.features import FRAME_S
from judging.ear.follow import Walk, follow
from judging.ear.lessons import Lesson, learn, lessons_from, own_rows, rows_as_rung
from judging.ear.pitch import descent, rising_spectra
from judging.ear.pulls import follow_touches
from judging.ear.rows import Pace, Rows, rows_from
from judging.ear.voices import Voices, usual_answers
from judging.piece.piece import Piece

#: Rows after the opening that are decoded to judge a start.
_TRIAL_ROWS = 20
#: And where those were all rounds.
_LONG_TRIAL_ROWS = 100
#: So many changes say something by themselves; a row that agrees in more than this share of its places is one.
_FEWEST_CHANGES, _AGREES = 4, 0.6
#: Weights of what speaks for a start: rows that agree, going down the scale, fit of a blow, blows struck at all.
_AGREE, _DESCEND, _FIT, _STRUCK = 2.0, 25.0, 2.0, 10.0
#: Blows before the followed whole pull that are tried too: with a wide handstroke gap it may begin a blow late.
_BEFORE = 2
#: The widest handstroke gap believed, and the usual one with its spread, in gaps (values from memory).
_WIDEST_GAP, _USUAL_GAP = 2.0, (0.8, 0.4)
#: A start whose rows agree this far needs no other lesson and no other pace.
_PLAIN = 0.85
#: Nor does one that is so much better supported than any other.
_FAR_AHEAD = 12.0
#: Further lessons are tried at the paces that did best with the first.
_HOPEFUL = 2


@dataclass(frozen=True, slots=True)
class Start:
    """One reading of where rows begin, and what speaks for it.

    Parameters
    ----------
    slot : int
        Which blow of the followed whole pulls is taken as the first of a handstroke row, from 0.
    pulls : Rows
        The followed whole pulls.
    lesson : Lesson
        What its voices were learnt from.
    voices : Voices
        One detector a bell.
    taught_s : ndarray of float64, shape (rows, bells)
        The blows they were learnt from.
    first_s : float
        Time of the first blow of the first row.
    agreement : float
        Share of places in which the trial rows and the piece agree, less what slips cost.
    rows, changes : int
        How many trial rows there were, and how many of them are changes of the piece.
    descent : float
        How well its bells go down the scale.
    fit : float
        How well a blow fits, in natural-log units.
    onsets : float
        Share of the blows learnt from at which something was struck at all.
    kept : bool
        Whether the voices were given, and not learnt from these blows.
    """

    slot: int
    pulls: Rows
    lesson: Lesson
    voices: Voices
    taught_s: NDArray[np.float64]
    first_s: float
    agreement: float
    rows: int
    changes: int
    descent: float
    fit: float
    onsets: float
    kept: bool = False

    @property
    def support(self) -> float:
        """All that speaks for it, in about natural-log units."""
        return _AGREE * self.agreement * self.rows + _DESCEND * self.descent + _FIT * self.fit + _STRUCK * self.onsets

    def paces(self) -> list[Pace]:
        """Guesses at the pace: of the blows learnt from, as they lie within their rows; and as it was followed.

        The handstroke gap is what is left of a whole pull, and the poorer the striking, the less certain; so it is
        weighed against what bands usually leave.
        """
        bells = self.taught_s.shape[1]
        centred = self.lesson.places[: len(self.taught_s)] - (bells - 1) / 2
        within = self.taught_s - self.taught_s.mean(axis=1, keepdims=True)
        gap_s = float((within * centred).sum() / (centred**2).sum())
        stray = float((within - gap_s * centred).std() / np.sqrt((centred**2).sum()))
        steps = np.diff(self.pulls.starts_s)
        pull_s = float(np.median(steps)) if len(steps) else self.pulls.pull_s
        seen, doubt = pull_s / gap_s - 2 * bells, 2 * bells * stray / gap_s
        usual, spread = _USUAL_GAP
        extra = (seen / doubt**2 + usual / spread**2) / (1 / doubt**2 + 1 / spread**2)
        extra = float(np.clip(extra, 0.0, _WIDEST_GAP))
        followed = float(np.median(self.pulls.gaps_s))
        return [
            Pace(pull_s / (2 * bells + extra), extra, 0.0),
            Pace(followed, max(0.0, pull_s / followed - 2 * bells), 0.0),
        ]


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
        One a slot, at one pace and from one lesson; the best supported first. Empty where no lesson fits the length.
    """
    best: list[Start] = []
    hopeful: list[Start] = []
    for number, lesson in enumerate(lessons_from(piece) if known is None else [own_rows(piece)]):
        unheard = (pulls for pace in paces for pulls in follow_touches(rises, piece.bells, pace))
        for pulls in unheard if number == 0 else [start.pulls for start in hopeful[:_HOPEFUL]]:
            if lesson.first + 2 > 2 * len(pulls):
                continue
            starts = _try(loud, rises, pulls, lesson, piece, _TRIAL_ROWS, known)
            if starts[0].agreement > _PLAIN and not are_plain(starts, piece):
                starts = _try(loud, rises, pulls, lesson, piece, _LONG_TRIAL_ROWS, known)
            if number == 0:
                hopeful.append(starts[0])
            if not best or _merit(starts[0], piece) > _merit(best[0], piece):
                best = starts
            if are_plain(best, piece):
                return best
        hopeful.sort(key=lambda start: -_merit(start, piece))
    return best


def are_plain(starts: list[Start], piece: Piece) -> bool:
    """Whether the best of these agrees so well, with changes where the piece has any, that no others need be tried."""
    best = starts[0]
    enough = best.changes >= min(_FEWEST_CHANGES, _changes_in(piece))
    return enough and (best.agreement > _PLAIN or (best.changes > 0 and margin(starts, piece.bells) > _FAR_AHEAD))


def margin(starts: list[Start], bells: int) -> float:
    """How much better the best is supported than any that names the bells otherwise."""
    best = starts[0]
    return best.support - max((start.support for start in starts if (start.slot - best.slot) % bells), default=-np.inf)


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
    moved = (piece.rows != piece.rows[0]).any(axis=1)
    starts = []
    for number, (slot, rows) in enumerate(zip(slots, readings, strict=True)):
        if rows.starts_s[0] - 1 >= (len(loud) - 1) * FRAME_S:  # beyond the end of a very short recording
            continue
        trial = rows.cut(slice(lesson.first, lesson.first + max(piece.opening, len(lesson.places)) + length))
        if known is None:
            voice, rung, times = voices[number], lesson, taught[:, number]
            walk = _decode_trial(loud, voice, trial, times)
        else:
            voice, walk = known, _decode_trial(loud, known, trial)
            rung, times = rows_as_rung(walk, trial)
        beside = lay_beside(walk, piece)
        starts.append(
            Start(
                slot=slot,
                pulls=pulls,
                lesson=rung,
                voices=voice,
                taught_s=times,
                first_s=float(trial.starts_s[0]),
                agreement=beside.score / len(trial),
                rows=len(trial),
                changes=int((moved[beside.row] & (beside.alike > _AGREES)).sum()),
                descent=descent(rising_spectra(loud, times)),
                fit=walk.score / walk.times_s.size,
                onsets=_onsets_at(rises, times),
                kept=known is not None,
            )
        )
    return sorted(starts, key=lambda start: -start.support)


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


def _onsets_at(rises: NDArray[np.float32], times_s: NDArray[np.float64]) -> float:
    frame = np.round(times_s / FRAME_S).astype(np.int64)[..., None] + np.arange(-3, 4)
    return float(rises[np.clip(frame, 0, len(rises) - 1)].max(axis=-1).mean())
