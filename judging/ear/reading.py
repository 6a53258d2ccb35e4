"""One reading of where rows begin, and what speaks for it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.ear.beside import lay_beside
from judging.ear.candidates import SILENCE
from judging.ear.features import FRAME_S
from judging.ear.follow import Walk
from judging.ear.lessons import Lesson
from judging.ear.pitch import descent, rising_spectra
from judging.ear.rows import Pace, Rows
from judging.ear.voices import Voices
from judging.piece.piece import Piece

#: A row that agrees with a change of the piece in more than this share of its places is one.
_AGREES = 0.6
#: Weights of what speaks for a start: rows that agree, going down the scale, fit of a blow, blows struck at all.
_AGREE, _DESCEND, _FIT, _STRUCK = 2.0, 25.0, 2.0, 10.0
#: The widest handstroke gap believed, and the usual one with its spread, in gaps (values from memory).
_WIDEST_GAP, _USUAL_GAP = 2.0, (0.8, 0.4)
#: Blows this near, in gaps, are the same blow.
_SAME = 0.3


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

    def names_as(self, other: "Start") -> bool:
        """Whether another reading gives the blows to the same bells; so it is where it is about other blows."""
        if other.pulls is self.pulls:
            return not (other.slot - self.slot) % self.taught_s.shape[1]
        near_s = _SAME * float(np.median(self.pulls.gaps_s))
        mine, theirs = self.taught_s, other.taught_s
        same = np.abs(mine[:, None, :] - theirs[None, :, :]).min(axis=1) < near_s
        any_bell = np.abs(mine[:, :, None] - theirs.ravel()).min(axis=2) < near_s
        return bool(same.sum() * 2 >= any_bell.sum())


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a reading decodes with.

    Parameters
    ----------
    voices : Voices
        One detector a bell.
    lesson : Lesson
        What is taken to have been rung in the blows below.
    taught_s : ndarray of float64, shape (rows, bells)
        The blows that the voices were learnt from.
    kept : bool
        Whether the voices were given instead.
    """

    voices: Voices
    lesson: Lesson
    taught_s: NDArray[np.float64]
    kept: bool = False


def judge(
    loud: NDArray[np.float32],
    rises: NDArray[np.float32],
    piece: Piece,
    learnt: Learnt,
    walk: Walk,
    rows: Rows,
    pulls: Rows,
    slot: int,
) -> Start:
    """Ask what speaks for a reading, given the rows decoded under it without the piece."""
    beside = lay_beside(walk, piece)
    moved = (piece.rows != piece.rows[0]).any(axis=1)
    return Start(
        slot=slot,
        pulls=pulls,
        lesson=learnt.lesson,
        voices=learnt.voices,
        taught_s=learnt.taught_s,
        first_s=float(rows.starts_s[0]),
        agreement=beside.score / len(rows),
        rows=min(len(rows), len(piece.rows)),
        changes=int((moved[beside.row] & (beside.alike > _AGREES)).sum()),
        descent=descent(rising_spectra(loud, learnt.taught_s)),
        fit=walk.score / walk.times_s.size if learnt.kept else _fit_where_rung(walk),
        onsets=_onsets_at(rises, learnt.taught_s),
        kept=learnt.kept,
    )


def _fit_where_rung(walk: Walk) -> float:
    """How well a blow fits; rows that were not rung say nothing of voices that were learnt from them."""
    heard = np.isfinite(walk.times_s)
    bells = heard.shape[1]
    rung = heard.sum(axis=1) * 2 >= bells
    unheard = int((~heard[~rung]).sum())
    return float((walk.score - SILENCE * unheard) / max(bells, bells * int(rung.sum())))


def _onsets_at(rises: NDArray[np.float32], times_s: NDArray[np.float64]) -> float:
    frame = np.round(times_s / FRAME_S).astype(np.int64)[..., None] + np.arange(-3, 4)
    return float(rises[np.clip(frame, 0, len(rises) - 1)].max(axis=-1).mean())
