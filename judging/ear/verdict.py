"""Is this ringing of this piece at all: an answer before anything is forced onto it.

Asked of blows decoded without the piece, in rows that nothing was learnt from.
"""

import numpy as np
from numpy.typing import NDArray

from judging.ear.beside import Beside
from judging.ear.follow import Walk
from judging.ear.reading import Start
from judging.errors import NothingHeard
from judging.piece.piece import Piece

#: So many rows say something by themselves.
_FEWEST, _WHOLE_PULL = 4, 2
#: Share of places that must agree in the changes; in rows of a piece that has none, where agreeing is easier; and
#: where there are no other rows than those learnt from.
_CHANGES_AGREE, _ROWS_AGREE, _FEW_AGREE = 0.55, 0.75, 0.9
#: How much better blows must be explained than any other way, as a rule, in natural-log units: blows of bells 6 and
#: more, noise 1, music 3.
_PLAIN = 3.5
#: Where no change speaks for ringing: how well the bells must go down the scale (bells 0.45 and more, noise, music and
#: talk up to 0.5), and how clearly something must be struck.
_DESCENDS, _STRUCK = 0.42, 0.4


def hardly_a_change(piece: Piece, beside: Beside, told: NDArray[np.bool_]) -> bool:
    """Whether the piece has changes, but next to none of them in the rows that may be told from; shape (rows,)."""
    moved = (piece.rows != piece.rows[0]).any(axis=1)
    return bool(moved.sum() >= _FEWEST > (told & moved[beside.row]).sum())


def check_ringing(
    name: str,
    piece: Piece,
    start: Start,
    walk: Walk,
    beside: Beside,
    learnt: NDArray[np.bool_],
    other_number: int | None,
) -> None:
    """Refuse what is not ringing, or not ringing of this piece.

    Parameters
    ----------
    name : str
        The recording's, for messages.
    piece : Piece
        What should have been rung.
    start : Start
        The best supported start.
    walk : Walk
        The blows, decoded without the piece.
    beside : Beside
        Their rows beside the piece's.
    learnt : ndarray of bool, shape (rows,)
        Rows that voices were learnt from.
    other_number : int, optional
        After how many blows the same bells sound again, where that is plainly another number than the piece's.

    Raises
    ------
    NothingHeard
        Saying what was heard instead.
    """
    title = piece.title or "this piece"
    rung = np.isfinite(walk.times_s).sum(axis=1) * 2 >= piece.bells
    fair = rung & ~learnt
    several = fair.sum() >= _FEWEST
    told = fair if several else rung
    if rung.sum() < _WHOLE_PULL or np.median(walk.margin[told]) < _PLAIN:
        raise NothingHeard(
            name, f"holds no ringing of {piece.bells} bells that can be followed; is it something else, or other bells?"
        )
    moved = (piece.rows != piece.rows[0]).any(axis=1)
    changes = fair & moved[beside.row]
    if changes.sum() >= _FEWEST:
        _check_agreement(name, title, piece.bells, float(beside.alike[changes].mean()), _CHANGES_AGREE)
        return
    if other_number is not None and not start.kept:
        raise NothingHeard(
            name,
            f"holds ringing in which the same bells sound again after about {other_number} blows, not {piece.bells}; "
            f"is it on another number of bells than {piece.bells}?",
        )
    goes_down = start.kept or start.descent >= _DESCENDS  # voices that are known need not prove which bell is which
    if not goes_down or start.onsets < _STRUCK or not (several or start.agreement >= _FEW_AGREE):
        raise NothingHeard(name, f"holds no ringing of {piece.bells} bells going down the scale")
    if moved.sum() >= _FEWEST:
        raise NothingHeard(
            name, f"holds rounds on {piece.bells} bells, but none of the changes of {title}; is it the right recording?"
        )
    if several:
        _check_agreement(name, title, piece.bells, float(beside.alike[fair].mean()), _ROWS_AGREE)


def _check_agreement(name: str, title: str, bells: int, agreement: float, least: float) -> None:
    if agreement < least:
        raise NothingHeard(
            name,
            f"no ringing of {title} on {bells} bells was heard: the rows that can be made out agree with it in "
            f"{100 * agreement:.0f} % of their places; is it the right recording?",
        )
