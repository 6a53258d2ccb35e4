"""Piece → what a page draws of it: each bell's path through the rows, as plain data.

A path is a line through the places of a bell, one row below the other. Straight stretches are drawn from corner to
corner, so that a line of a hundred rows takes a few dozen points.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.piece.rows import rows_text

Emphasis = Literal["treble", "chosen", "other"]


@dataclass(frozen=True, slots=True)
class BellPath:
    """One bell's way through the rows.

    Parameters
    ----------
    bell : int
        From 1.
    emphasis : {"treble", "chosen", "other"}
        How it is meant to stand out.
    places : tuple of int
        Its place, from 1, in each row.
    corners : tuple of (int, int)
        Row index and place wherever the line begins, bends or ends.
    """

    bell: int
    emphasis: Emphasis
    places: tuple[int, ...]
    corners: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything that a drawing of a piece shows.

    Parameters
    ----------
    bells : int
        How many bells: places across.
    rows : tuple of str
        The rows down.
    hand : tuple of bool
        Whether each row is a handstroke.
    first_change, last_change : int
        Row indices of the first change and the last; rows outside are opening and closing.
    paths : tuple of BellPath
        One a bell, in the order in which they are drawn: others first, then the treble, the chosen bell on top.
    ruled_below : tuple of int
        Row indices below which a line is ruled: the lead ends, and the last row before the first change.
    words : tuple of (int, str)
        Words beside rows: row index, and calls, part ends and named rows in order.
    """

    bells: int
    rows: tuple[str, ...]
    hand: tuple[bool, ...]
    first_change: int
    last_change: int
    paths: tuple[BellPath, ...]
    ruled_below: tuple[int, ...]
    words: tuple[tuple[int, str], ...]


def drawing(piece: Piece, *, chosen: int | None = None) -> Drawing:
    """What a page draws of a piece.

    Parameters
    ----------
    piece : Piece
        The piece.
    chosen : int or None
        The bell to follow; None for the heaviest that changes its place.

    Returns
    -------
    Drawing
        Paths, rules and words.

    Raises
    ------
    InputError
        Where the chosen bell does not ring.
    """
    if chosen is not None and not 1 <= chosen <= piece.bells:
        raise InputError("bell", f"{chosen} does not ring in {piece.title}; its bells are 1 to {piece.bells}")
    places = np.argsort(piece.rows, axis=1) + 1
    moving = np.flatnonzero((places != places[0]).any(axis=0)) + 1
    followed = chosen or (int(moving[-1]) if len(moving) else piece.bells)
    emphasis: dict[int, Emphasis] = {1: "treble", followed: "chosen"}
    order: dict[Emphasis, int] = {"other": 0, "treble": 1, "chosen": 2}
    paths = [_path(bell, emphasis.get(bell, "other"), places[:, bell - 1]) for bell in range(1, piece.bells + 1)]
    lead_heads = (label.row - 1 for label in piece.labels if label.kind == "lead head" and label.row > 0)
    before_first = (piece.opening - 1,) if piece.opening else ()
    words: dict[int, list[str]] = {}
    for label in piece.labels:
        if label.kind != "lead head":
            words.setdefault(label.row, []).append(label.text)
    return Drawing(
        bells=piece.bells,
        rows=tuple(rows_text(piece.rows)),
        hand=tuple(piece.is_hand.tolist()),
        first_change=piece.opening,
        last_change=len(piece.rows) - piece.closing - 1,
        paths=tuple(sorted(paths, key=lambda path: order[path.emphasis])),
        ruled_below=tuple(sorted({*lead_heads, *before_first})),
        words=tuple((row, ", ".join(texts)) for row, texts in sorted(words.items())),
    )


def _path(bell: int, emphasis: Emphasis, places: NDArray[np.int64]) -> BellPath:
    steps = np.diff(places)
    bends = np.flatnonzero(steps[1:] != steps[:-1]) + 1
    at = sorted({0, *bends.tolist(), len(places) - 1})
    return BellPath(bell, emphasis, tuple(places.tolist()), tuple((row, int(places[row])) for row in at))
