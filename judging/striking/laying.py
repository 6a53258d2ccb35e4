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
from judging.striking.alignment import align, heard_bells
from judging.striking.free_lengths import filled_in
from judging.striking.happenings import happenings
from judging.striking.standing import stand_slips
from judging.striking.strike_log import StrikeLog
from judging.striking.values import ExtraBlow, Rung

#: The log is this piece where at least this share of the changes is rung right (two methods that begin alike and hunt
#: alike share a third of their rows in order at most; a band with a slip in every other row rings half of them right).
#: A jump to another part of it counts as so many changes wrong, a blow missing or too many as part of one, ...
RIGHT_SHARE, JUMP, LOOSE = 0.4, 8, 0.25

#: ... or where this share of the blows is in its place or the next (learners; two methods that differ: up to
#: 0.92), ...
NEAR_SHARE = 0.95

#: ... or where so many changes were right before it went wrong, ...
RIGHT_AT_FIRST = 24

#: ... or where exchanging bells throughout makes this share of the blows right.
EXCHANGED_SHARE = 0.85

#: Blows before the piece are opening rounds, and a log nothing but rounds, where this share of them goes round.
OPENING, ONLY_ROUNDS = 0.5, 0.9


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
    if len(log) < 2:
        raise NothingHeard("", "fewer than two blows were heard, so there is no rhythm to count by")
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
    rung = replace(rung, extra_blows=_extra_blows(log, rung), stand_slips=stand_slips(log, rung))
    rung = replace(rung, events=happenings(log, rung))
    for array in (rung.times_s, rung.bells, rung.spread_ms, rung.strike):
        array.setflags(write=False)
    return rung


def _extra_blows(log: StrikeLog, rung: Rung) -> tuple[ExtraBlow, ...]:
    """Blows between two that are laid, fewer together than a row of them."""
    row_of, place_of = np.nonzero(rung.strike >= 0)
    laid = rung.strike[row_of, place_of]
    between = np.diff(laid) - 1
    found: list[ExtraBlow] = []
    for after in np.flatnonzero((between > 0) & (between < rung.piece.bells)).tolist():
        found.extend(
            ExtraBlow(int(row_of[after]), int(place_of[after]) + 1, int(log.bells[blow]), float(log.times_s[blow]))
            for blow in range(laid[after] + 1, laid[after + 1])
        )
    return tuple(found)


def _laid(log: StrikeLog, piece: Piece) -> tuple[NDArray[np.int64], Piece, int]:
    """Blow of each place, the piece with the opening rows that were really rung, and how many were put before it."""
    bells = log.bells.astype(np.int64)
    strike = align(bells, log.times_s, piece.rows.astype(np.int64), piece.is_hand)
    first = int(strike[strike >= 0].min()) if (strike >= 0).any() else 0
    heard_rows = np.flatnonzero((strike >= 0).any(axis=1))
    if not len(heard_rows) or heard_rows[0] > 0:
        return strike, piece, 0
    opening_row = piece.rows[0] if piece.opening else np.arange(1, piece.bells + 1, dtype=np.int8)
    changing = not (piece.rows == piece.rows[0]).all()
    width = len(heard_bells(bells, piece.rows[0].astype(np.int64)))
    before = round(first / width) if changing else 0
    if before == 0 or _goes_round(bells[:first], opening_row) < OPENING:
        return strike, piece, 0
    longer = replace(
        piece,
        rows=np.concatenate([np.tile(opening_row, (before, 1)), piece.rows]),
        opening=piece.opening + before,
        labels=tuple(Label(label.row + before, label.kind, label.text) for label in piece.labels),
    )
    return align(bells, log.times_s, longer.rows.astype(np.int64), longer.is_hand), longer, before


def _goes_round(bells: NDArray[np.integer], row: NDArray[np.int8]) -> float:
    """Share of blows that follow each other as in the row rung over and over."""
    after = np.zeros(17, dtype=np.int64)
    after[row] = np.roll(row, -1)
    known = (bells[:-1] > 0) & (bells[1:] > 0)
    return float((after[bells[:-1]] == bells[1:])[known].mean()) if known.any() else 1.0


def _refuse_another_piece(log: StrikeLog, rung: Rung) -> None:
    """Say so where the log does not hold this piece."""
    piece, title = rung.piece, rung.piece.title
    present = rung.strike >= 0
    known = present & (log.bells[rung.strike] > 0)
    if not known.any():
        if present.any() and not log.bells.any():
            return  # a log of times alone is laid by counting
        raise NothingHeard("", f"nothing in the strike log is {title}")
    changes = piece.is_change if (piece.rows != piece.rows[0]).any() else np.ones(len(piece.rows), dtype=np.bool_)
    rows = np.flatnonzero(changes & rung.is_rung)
    if not len(rows):
        raise NothingHeard("", f"only rounds were heard: the changes of {title} never begin")
    right = ((rung.bells == piece.rows) | ~known).all(axis=1)
    jumps, beside, loose = _jumps(rung)
    span = int(rows[-1] - rows[0]) + 1 + beside
    if right[rows].sum() - JUMP * jumps - LOOSE * loose >= RIGHT_SHARE * span:
        return
    straight = not jumps and loose < span
    if straight and (_near(rung, known) >= NEAR_SHARE or _are_exchanged(rung, known)):
        return
    if np.cumprod(right[rows]).sum() >= RIGHT_AT_FIRST:
        return
    if _goes_round(log.bells, piece.rows[0]) > ONLY_ROUNDS:
        raise NothingHeard("", f"only rounds were heard: the changes of {title} never begin")
    share = (rung.bells == piece.rows)[known & changes[:, None]].mean()
    raise NothingHeard(
        "",
        f"this is not {title}: of {len(rows)} changes heard only {int(right[rows].sum())} are its rows in order, and "
        f"{100 * share:.0f} % of the blows its bells; was another piece rung, or the wrong one chosen?",
    )


def _jumps(rung: Rung) -> tuple[int, int, int]:
    """How often the ringing left the order of the rows, how many rows are not the piece's, and how many loose blows."""
    strikes = rung.strike[rung.strike >= 0]
    rows = np.flatnonzero(rung.is_rung)
    beside = np.diff(strikes) - 1
    extra_rows = beside // rung.piece.bells
    loose = int((beside % rung.piece.bells).sum()) + int((rung.strike[rows] < 0).sum())
    return int((np.diff(rows) > 1).sum() + (extra_rows > 0).sum()), int(extra_rows.sum()), loose


def _near(rung: Rung, known: NDArray[np.bool_]) -> float:
    """Share of blows within one place of where their bell was due."""
    due = np.argsort(rung.piece.rows, axis=1)
    away = np.take_along_axis(due, np.maximum(rung.bells.astype(np.int64) - 1, 0), axis=1) - np.arange(rung.piece.bells)
    return float((np.abs(away)[known] <= 1).mean())


def _are_exchanged(rung: Rung, known: NDArray[np.bool_]) -> bool:
    """Whether the piece was rung right, but for pairs of bells exchanged with each other throughout.

    A piece of one row tells nothing: any other row would be it, with its bells exchanged.
    """
    if not (rung.piece.rows != rung.piece.rows[0]).any():
        return False
    size = rung.piece.bells + 1
    met = np.bincount(rung.piece.rows[known].astype(np.int64) * size + rung.bells[known], minlength=size * size)
    table = met.reshape(size, size)[1:, 1:]
    takes = table.argmax(axis=1)
    in_pairs = bool((takes[takes] == np.arange(len(takes))).all())
    return in_pairs and bool(table.max(axis=1).sum() >= EXCHANGED_SHARE * known.sum())
