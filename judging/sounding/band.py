"""A band rings: its character, a seed and a piece → the times of its blows, and the truth about them.

The band is causal: each ringer strikes by the rhythm felt so far and partly by the bell in front, so that errors are
partly carried; the felt rhythm itself is dragged by what was rung. The truth (where the rhythm was felt, what each
blow added) stays with the touch. Constants below are ours; common practice, no source.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding.chance import chance
from judging.sounding.character import Character
from judging.sounding.steady import gap_s, row_starts_in_gaps
from judging.striking.strike_log import StrikeLog

#: A bell leading follows nobody closely: share of `Character.follow` that is left.
FOLLOW_AT_LEAD: Final = 0.4

#: Share of a row's mean lateness that the felt rhythm takes over.
DRAG: Final = 0.25

#: Pace returns to what was meant: share kept from row to row.
PACE_KEPT: Final = 0.97

#: Blows round a mistake are this much rougher, and for so many rows after it.
ROUGHER: Final = 2.2
RECOVERY_ROWS: Final = 3

#: How much larger the spread of a slip is.
SLIP: Final = 3.0

#: Raggedness of the pull-off left after each row that follows the first whole pull.
PULL_OFF_KEPT: Final = 0.6

#: Where a clipped blow falls, in gaps before its time.
CLIP_GAPS: Final = (0.45, 0.75)

#: Quickest two blows of one bell can follow each other, in rows.
QUICKEST_ROW: Final = 0.55


@dataclass(frozen=True, slots=True)
class Touch:
    """What was rung, and the truth about it.

    Parameters
    ----------
    log : StrikeLog
        Every blow, in order of time.
    is_hand : ndarray of bool, shape (N,)
        Stroke of each blow of the log.
    row, place : ndarray of int64, shape (N,)
        Row (from 0) and place (from 1) of each blow of the log.
    times_s : ndarray of float64, shape (R, n)
        When each place of each row was struck, on the log's clock.
    bells : ndarray of int8, shape (R, n)
        The bell that struck there.
    felt_s : ndarray of float64, shape (R, n)
        When the band's own rhythm, as felt then, put that place.
    own_ms : ndarray of float64, shape (R, n)
        What each blow added of its own, + late: chance, habit and mishap, but nothing carried.
    gap_s : ndarray of float64, shape (R,)
        Gap meant in each row.
    wrong_rows : tuple of int
        Rows in which bells were exchanged.
    """

    log: StrikeLog
    is_hand: NDArray[np.bool_]
    row: NDArray[np.int64]
    place: NDArray[np.int64]
    times_s: NDArray[np.float64]
    bells: NDArray[np.int8]
    felt_s: NDArray[np.float64]
    own_ms: NDArray[np.float64]
    gap_s: NDArray[np.float64]
    wrong_rows: tuple[int, ...]

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for array in (
            self.is_hand,
            self.row,
            self.place,
            self.times_s,
            self.bells,
            self.felt_s,
            self.own_ms,
            self.gap_s,
        ):
            array.setflags(write=False)


def human_log(
    piece: Piece, character: Character, *, peal_minutes: float, handstroke_gap: float = 1.0, seed: int
) -> Touch:
    """Ring the piece as this band would.

    Parameters
    ----------
    piece : Piece
        What is rung.
    character : Character
        By whom.
    peal_minutes : float
        Pace meant, as the time that 5040 rows would take.
    handstroke_gap : float
        Handstroke gap meant, in gaps.
    seed : int
        Of everything left to chance.

    Returns
    -------
    Touch
        The log, first blow near 0, and the truth.

    Raises
    ------
    InputError
        For a habit or a mistake of a bell or change that the piece does not have.
    """
    _check(piece, character)
    rng = chance(seed, "band")
    rows, bells = piece.rows.shape
    rung, wrong_rows = _rung_rows(piece, character)
    gap = gap_s(bells, peal_minutes=peal_minutes, handstroke_gap=handstroke_gap) * _pace(rows, character, rng)
    own_s = _own_errors_s(piece, rung, character, wrong_rows=wrong_rows, gap=gap, rng=rng)
    wait = np.diff(row_starts_in_gaps(piece, handstroke_gap=handstroke_gap)) * gap[:-1]
    held_s = np.zeros(rows)
    for stop in character.held_up:
        held_s[piece.opening + stop.change - 1] += stop.late_ms / 1000
    felt_s, times_s = np.empty((rows, bells)), np.empty((rows, bells))
    start, error = 0.0, 0.0
    for r in range(rows):
        start += held_s[r]
        felt_s[r] = start + gap[r] * np.arange(bells)
        for p in range(bells):
            error = error * character.follow * (FOLLOW_AT_LEAD if p == 0 else 1.0) + own_s[r, p]
            times_s[r, p] = felt_s[r, p] + error
        if r + 1 < rows:
            start += wait[r] + DRAG * float(np.mean(times_s[r] - felt_s[r]))
    times_s = _as_bells_can(times_s, rung, gap)
    order = np.argsort(times_s, axis=None, kind="stable")
    row, place = np.divmod(order, bells)
    return Touch(
        log=StrikeLog(times_s.ravel()[order], rung.ravel()[order], np.zeros(order.size), "made-up ringing"),
        is_hand=piece.is_hand[row],
        row=row,
        place=place + 1,
        times_s=times_s,
        bells=rung,
        felt_s=felt_s,
        own_ms=1000 * own_s,
        gap_s=gap,
        wrong_rows=wrong_rows,
    )


def _check(piece: Piece, character: Character) -> None:
    """Refuse habits and mistakes that this piece has no room for."""
    changes = len(piece.rows) - piece.opening
    for number in [late.bell for late in character.late] + [bell for m in character.mistakes for bell in m.bells]:
        if not 1 <= number <= piece.bells:
            raise InputError("character", f"names bell {number}, but {piece.title} has {piece.bells} bells")
    for first, last in [(m.change, m.change + m.rows - 1) for m in character.mistakes] + [
        (h.change, h.change) for h in character.held_up
    ]:
        if not 1 <= first <= last <= changes:
            raise InputError(
                "character", f"names changes {first} to {last}, but {piece.title} has changes 1 to {changes}"
            )


def _rung_rows(piece: Piece, character: Character) -> tuple[NDArray[np.int8], tuple[int, ...]]:
    """Rows with the mistakes made, and which they are."""
    rung = piece.rows.copy()
    wrong: list[int] = []
    for mistake in character.mistakes:
        one, other = mistake.bells
        first = piece.opening + mistake.change - 1
        for r in range(first, first + mistake.rows):
            at_one, at_other = rung[r] == one, rung[r] == other
            rung[r, at_one], rung[r, at_other] = other, one
            wrong.append(r)
    return rung, tuple(sorted(set(wrong)))


def _pace(rows: int, character: Character, rng: np.random.Generator) -> NDArray[np.float64]:
    """Gap of each row relative to the one meant."""
    pace = np.empty(rows)
    drift = 0.0
    for r, step in enumerate(rng.normal(0, character.pace_drift, rows)):
        drift = PACE_KEPT * drift + step
        pace[r] = drift
    return np.asarray(np.exp(pace + character.pace_trend * np.linspace(-0.5, 0.5, rows)))


def _own_errors_s(
    piece: Piece,
    rung: NDArray[np.int8],
    character: Character,
    *,
    wrong_rows: tuple[int, ...],
    gap: NDArray[np.float64],
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Draw what each blow adds of its own, in seconds, + late; shape (R, n)."""
    rows, bells = rung.shape
    rough = np.full(rows, character.spread_ms)
    fade = np.maximum(0, np.arange(rows) - 1)
    rough = np.hypot(rough, character.pull_off_ms * PULL_OFF_KEPT**fade)
    for r in wrong_rows:
        rough[max(0, r - 1) : r + 1 + RECOVERY_ROWS] = character.spread_ms * ROUGHER
    own_ms = rng.normal(0, 1, (rows, bells)) * rough[:, None]
    own_ms[rng.uniform(size=(rows, bells)) < character.slips] *= SLIP
    for late in character.late:
        stroke = {"hand": piece.is_hand, "back": ~piece.is_hand, "both": np.ones(rows, bool)}[late.stroke]
        hit = (rung == late.bell) & stroke[:, None]
        if late.leads_only:
            hit[:, 1:] = False
        own_ms[hit] += late.late_ms
    leader_ms = rng.normal(0, 1, bells + 1) * character.uneven_leads_ms / np.sqrt(2)
    chance_ms = rng.normal(0, 1, rows) * character.uneven_leads_ms / np.sqrt(2)
    own_ms[:, 0] += piece.is_hand * (leader_ms[rung[:, 0]] + chance_ms)
    changes = np.flatnonzero(piece.is_change)
    for _ in range(character.clips):
        r, p = int(rng.choice(changes)), int(rng.integers(1, bells))
        own_ms[r, p] -= 1000 * gap[r] * rng.uniform(*CLIP_GAPS)
    own_ms[0, 0] = 0.0  # the first blow is where the touch begins
    return np.asarray(own_ms / 1000)


def _as_bells_can(
    times_s: NDArray[np.float64], rung: NDArray[np.int8], gap: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Hold back blows so that no bell is struck again sooner than a bell can swing."""
    times_s = times_s.copy()
    for bell in range(1, rung.shape[1] + 1):
        row, place = np.nonzero(rung == bell)
        last = -np.inf
        for r, p in zip(row, place, strict=True):
            times_s[r, p] = last = max(times_s[r, p], last + QUICKEST_ROW * rung.shape[1] * gap[r])
    return times_s
