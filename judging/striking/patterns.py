"""The one tested set of patterns that habits are looked for in: every group of blows that has a name among ringers.

A family gives each blow the number of its group, so that all groups of a family are summed at once, however many.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.striking.values import Rung

Groups = NDArray[np.int64]

_STROKES = ("at backstroke", "at handstroke")
#: What a bell does, by number; leading is a family of its own.
_MOVES = ("hunting down", "making a place", "hunting up", "dodging", "lying behind")


@dataclass(frozen=True, slots=True)
class Family:
    """Groups of blows that are told in the same words.

    Parameters
    ----------
    group : ndarray of int64, shape (R, n)
        Number of each blow's group; -1 = in none.
    told : callable
        Group and ``"late"`` or ``"early"`` → who does what.
    bells : callable
        Group → the bells concerned.
    unit : str
        What is counted: ``"blows"`` or ``"leads"``.
    """

    group: Groups
    told: Callable[[int, str], str]
    bells: Callable[[int], tuple[int, ...]]
    unit: str = "blows"


def families(rung: Rung) -> Iterator[Family]:
    """Families of a band's blows, from the most general to the most particular.

    Parameters
    ----------
    rung : Rung
        What was rung.

    Yields
    ------
    Family
        By bell; bell and stroke; leads; a bell leading; place and stroke; bell and movement; bell and the one before.
    """
    bells = rung.bells.astype(np.int64)
    hand = np.broadcast_to(rung.piece.is_hand[:, None].astype(np.int64), bells.shape)
    places = np.broadcast_to(np.arange(rung.piece.bells), bells.shape)
    leads = places == 0
    follows = np.zeros_like(bells)
    follows.ravel()[1:] = bells.ravel()[:-1]

    yield Family(bells, lambda g, late: f"{g} strikes {late}", lambda g: (g,))
    yield Family(2 * bells + hand, lambda g, late: f"{g // 2} strikes {late} {_STROKES[g % 2]}", lambda g: (g // 2,))
    yield Family(
        np.where(leads, hand, -1), lambda g, late: f"Leads are {late} {_STROKES[g]}", lambda _: (), unit="leads"
    )
    yield Family(
        np.where(leads, 2 * bells + hand, -1),
        lambda g, late: f"{g // 2} leads {late} {_STROKES[g % 2]}",
        lambda g: (g // 2,),
        unit="leads",
    )
    if (rung.piece.rows == rung.piece.rows[0]).all():
        return  # in rounds a place is a bell, and nothing moves
    yield Family(
        np.where(leads, -1, 2 * places + hand),
        lambda g, late: f"Whoever is in place {g // 2 + 1} strikes {late} {_STROKES[g % 2]}",
        lambda _: (),
    )
    yield Family(
        _moves(rung.piece, bells),
        lambda g, late: f"{g // len(_MOVES)} strikes {late} {_MOVES[g % len(_MOVES)]}",
        lambda g: (g // len(_MOVES),),
    )
    yield Family(
        np.where(follows > 0, 17 * bells + follows, -1),
        lambda g, late: f"{g // 17} strikes {late} after {g % 17}",
        lambda g: (g // 17, g % 17),
    )


def _moves(piece: Piece, bells: Groups) -> Groups:
    """Bell and what it does there by the piece: hunts, dodges, makes a place or lies behind.

    A dodge is a step back and the step on again: a bell that turns twice in three changes. -1 for opening rows, wrong
    bells, leads, and bells that keep their place throughout.
    """
    place_of = np.argsort(piece.rows, axis=1)
    moved = np.zeros_like(place_of)
    moved[1:] = np.sign(np.diff(place_of, axis=0))
    turned = np.zeros(moved.shape, dtype=np.bool_)
    turned[1:] = moved[1:] * moved[:-1] < 0
    dodging = turned.copy()
    dodging[1:-1] &= turned[2:] | turned[:-2]
    dodging[-1] &= turned[-2]
    move = np.where(dodging, 3, moved + 1)
    behind = int(place_of[:, (place_of != place_of[0]).any(axis=0)].max())  # the last place that changes
    move[(move == 1) & (place_of == behind)] = 4
    by_place = np.take_along_axis(move, piece.rows.astype(np.int64) - 1, axis=1)
    placed = (bells == piece.rows) & piece.is_change[:, None]
    placed[:, 0] &= by_place[:, 0] != 1
    keeps = (place_of == place_of[0]).all(axis=0)
    placed &= ~np.take(keeps, piece.rows.astype(np.int64) - 1)
    return np.where(placed, len(_MOVES) * bells + by_place, -1)
