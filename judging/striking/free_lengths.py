"""How long each row of a call-change piece was held, from the log itself.

The piece gives the order of its rows, not how long they last. Wherever a row is found whole in the log, it says which
row was being rung then; the way through the rows, never backwards, that most of these agree with gives each row its
share of the blows.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.piece.piece import Label, Piece
from judging.striking.alignment import heard_bells
from judging.striking.strike_log import StrikeLog

#: Price of leaving a row of the piece out, in rows found.
LEFT_OUT = 2.0


def filled_in(piece: Piece, log: StrikeLog) -> Piece:
    """Piece with each row as often as it was rung.

    Parameters
    ----------
    piece : Piece
        With free lengths: each row once.
    log : StrikeLog
        What was heard.

    Returns
    -------
    Piece
        With fixed lengths; labels moved to the first row of what they named.

    Raises
    ------
    NothingHeard
        Where no row of the piece is found whole.
    """
    sounding = np.isin(piece.rows, heard_bells(log.bells.astype(np.int64), piece.rows[0].astype(np.int64)))
    width = int(sounding[0].sum())
    if width < 2 or len(log) < width:
        raise NothingHeard("", f"nothing in the strike log is {piece.title}")
    rows = piece.rows[sounding].reshape(-1, width)
    found = np.lib.stride_tricks.sliding_window_view(log.bells, width)
    matches = np.zeros((len(found), len(rows)), dtype=np.bool_)
    for index, row in enumerate(rows):
        matches[:, index] = (found == row).all(axis=1)
    blows = np.flatnonzero(matches.any(axis=1))
    if not len(blows):
        raise NothingHeard("", f"no row of {piece.title} was heard whole: was another piece rung?")
    at = _way(matches[blows])
    lengths = _lengths(blows, at, len(rows), width)
    return _with_lengths(piece, lengths)


def _way(matches: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Row of the piece at each found row, never going back, that agrees with most of them."""
    count, rows = matches.shape
    index = np.arange(rows)
    score = matches[0] - LEFT_OUT * index
    came = np.empty((count, rows), dtype=np.int64)
    for step in range(1, count):
        # From row e to row j, j - e - 1 rows are left out: the best e has the most score + price · e.
        ahead = score + LEFT_OUT * index
        best = np.maximum.accumulate(ahead)
        source = np.maximum.accumulate(np.where(ahead == best, index, 0))
        moved = np.append(-np.inf, best[:-1] - LEFT_OUT * index[:-1])
        stays = score >= moved
        came[step] = np.where(stays, index, np.append(0, source[:-1]))
        score = np.where(stays, score, moved) + matches[step]
    at = np.empty(count, dtype=np.int64)
    at[-1] = int(score.argmax())
    for step in range(count - 1, 0, -1):
        at[step - 1] = came[step, at[step]]
    return at


def _lengths(blows: NDArray[np.int64], at: NDArray[np.int64], rows: int, width: int) -> NDArray[np.int64]:
    """How often each row was rung: half the blows between its last finding and the next row's first belong to each."""
    lengths = np.zeros(rows, dtype=np.int64)
    held = np.unique(at)
    first = {int(row): int(blows[at == row].min()) for row in held}
    last = {int(row): int(blows[at == row].max()) + width for row in held}
    begin = first[int(held[0])] % width
    for row, later in zip(held.tolist(), [*held[1:].tolist(), None], strict=True):
        if later is None:
            end = last[row]
        else:
            end = (last[row] + first[later]) // 2 if first[later] > last[row] else first[later]
        lengths[row] = max(1, round((end - begin) / width))
        begin = end
    return lengths


def _with_lengths(piece: Piece, lengths: NDArray[np.int64]) -> Piece:
    """Repeat the rows; what comes after the first row that returns is closing."""
    starts = np.concatenate([[0], np.cumsum(lengths)])
    last_changes = len(lengths) - 1 - piece.closing
    closing = int(lengths[last_changes + 1 :].sum())
    if last_changes > piece.opening and (piece.rows[last_changes] == piece.rows[0]).all():
        closing += max(int(lengths[last_changes]) - 1, 0)
    return replace(
        piece,
        rows=np.repeat(piece.rows, lengths, axis=0),
        opening=int(lengths[: piece.opening].sum()),
        closing=closing,
        labels=tuple(Label(int(starts[label.row]), label.kind, label.text) for label in piece.labels),
        free_lengths=False,
    )
