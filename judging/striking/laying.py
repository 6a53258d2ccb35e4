"""STRIKE LOG + PIECE → RUNG: each blow laid on the place of the row that it fills.

The piece is laid where it agrees with the bells that were heard. More opening rounds than the piece has are put before
it; blows of an attempt that was broken off, or beyond the end, belong to no place. A log of some other piece is said to
be so and not forced onto this one.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.piece.piece import Label, Piece
from judging.striking.alignment import align
from judging.striking.free_lengths import filled_in
from judging.striking.happenings import happenings
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Rung

#: The log is this piece where at least this share of the blows in changes is the bell expected there (two methods that
#: begin alike and hunt alike agree in some 55 %, two bells exchanged throughout on six leave 67 %), ...
AGREEMENT = 0.62

#: ... or this share of the changes is rung right, or so many were before it went wrong.
RIGHT_SHARE, RIGHT_AT_FIRST = 0.4, 24


def lay(log: StrikeLog, piece: Piece) -> Rung:
    """Blows of a log laid on the places of a piece.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    piece : Piece
        What should have been rung.

    Returns
    -------
    Rung
        What was rung, row by row, with everything that happened to the method named.

    Raises
    ------
    NothingHeard
        Where the log is empty, or is not this piece.
    """
    if not len(log):
        raise NothingHeard("", "the strike log holds no blow: was the recording silent, or the wrong file chosen?")
    if log.bells.max(initial=0) > piece.bells:
        raise NothingHeard(
            "",
            f"bell {log.bells.max()} was heard, but {piece.title} is for {piece.bells} bells: "
            "is this a log of another ring, or another piece?",
        )
    piece = filled_in(piece, log) if piece.free_lengths else piece
    strike, piece, before = _laid(log, piece)
    present = strike >= 0
    rung = Rung(
        piece=piece,
        times_s=np.where(present, log.times_s[strike], np.nan),
        bells=np.where(present, np.where(log.bells[strike] > 0, log.bells[strike], piece.rows), 0).astype(np.int8),
        spread_ms=np.where(present, log.spread_ms[strike], np.nan),
        strike=strike,
        extra=tuple(np.setdiff1d(np.arange(len(log)), strike[present]).tolist()),
        rows_before=before,
    )
    _refuse_another_piece(log, rung)
    rung = replace(rung, events=happenings(log, rung))
    for array in (rung.times_s, rung.bells, rung.spread_ms, rung.strike):
        array.setflags(write=False)
    return rung


def _laid(log: StrikeLog, piece: Piece) -> tuple[NDArray[np.int64], Piece, int]:
    """Blow of each place, the piece with the opening rows that were really rung, and how many were put before it."""
    bells = log.bells.astype(np.int64)
    strike = align(bells, log.times_s, piece.rows.astype(np.int64), _clock(piece))
    first = int(strike[strike >= 0].min()) if (strike >= 0).any() else 0
    heard_rows = np.flatnonzero((strike >= 0).any(axis=1))
    if not len(heard_rows) or heard_rows[0] > 0:
        return strike, piece, 0
    opening_row = piece.rows[0] if piece.opening else np.arange(1, piece.bells + 1, dtype=np.int8)
    changing = not (piece.rows == piece.rows[0]).all()
    width = len(np.setdiff1d(bells[bells > 0], [])) if bells.all() else piece.bells
    before = round(first / width) if changing else 0
    if before == 0 or not _is_opening(bells[:first], opening_row):
        return strike, piece, 0
    longer = replace(
        piece,
        rows=np.concatenate([np.tile(opening_row, (before, 1)), piece.rows]),
        opening=piece.opening + before,
        labels=tuple(Label(label.row + before, label.kind, label.text) for label in piece.labels),
    )
    return align(bells, log.times_s, longer.rows.astype(np.int64), _clock(longer)), longer, before


def _is_opening(bells: NDArray[np.int64], row: NDArray[np.int8]) -> bool:
    """Whether the blows go round in the order of the row, for the most part."""
    after = np.zeros(17, dtype=np.int64)
    after[row] = np.roll(row, -1)
    known = (bells[:-1] > 0) & (bells[1:] > 0)
    return not known.any() or bool((after[bells[:-1]] == bells[1:])[known].mean() > 0.5)


def _clock(piece: Piece) -> NDArray[np.float64]:
    """When each place is due in steady ringing with open leads, in gaps; shape (R, n)."""
    steps = piece.bells + piece.is_hand[1:].astype(float)
    starts = np.concatenate([[0.0], np.cumsum(steps)])
    return starts[:, None] + np.arange(piece.bells)


def _refuse_another_piece(log: StrikeLog, rung: Rung) -> None:
    """Say so where the log does not hold this piece."""
    piece = rung.piece
    present = rung.strike >= 0
    known = present & (np.where(present, log.bells[rung.strike], 0) > 0)
    right = known & (rung.bells == piece.rows)
    if not known.any():
        if present.any() and not log.bells.any():
            return  # a log of times alone is laid by counting
        raise NothingHeard("", f"nothing in the strike log is {piece.title}")
    changes = piece.is_change & (piece.rows != piece.rows[0]).any(axis=1) if piece.opening else piece.is_change
    whole = (right | ~known).all(axis=1) & known.any(axis=1)
    rung_changes = changes & present.any(axis=1)
    if changes.any() and not rung_changes.any():
        raise NothingHeard("", f"only rounds were heard: the changes of {piece.title} never begin")
    if not changes.any():
        rung_changes = present.any(axis=1)
    share = right[rung_changes].sum() / max(known[rung_changes].sum(), 1)
    right_changes = int((whole & rung_changes).sum())
    at_first = int(np.cumprod(whole[rung_changes]).sum())
    if share >= AGREEMENT or right_changes >= RIGHT_SHARE * rung_changes.sum() or at_first >= RIGHT_AT_FIRST:
        return
    raise NothingHeard(
        "",
        f"this is not {piece.title}: of {int(rung_changes.sum())} changes heard only {right_changes} are its rows, "
        f"and {100 * share:.0f} % of the blows its bells; was another piece rung, or the wrong one chosen?",
    )
