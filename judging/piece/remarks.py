"""What a reader of a piece should look at again: nothing wrong, but seldom meant."""

from judging.piece.piece import Piece
from judging.piece.rows import rounds


def remarks(piece: Piece) -> tuple[str, ...]:
    """What is seldom meant in a piece.

    Parameters
    ----------
    piece : Piece
        Any piece.

    Returns
    -------
    tuple of str
        One sentence each; empty where all is as usual.
    """
    as_rounds = (piece.rows[piece.opening :] == rounds(piece.bells)).all(axis=1)
    if as_rounds.all() or not as_rounds[0]:
        return ()
    rows = int(as_rounds.argmin())
    counts = "Change 1 is rounds" if rows == 1 else f"Changes 1 to {rows} are rounds"
    mend = "leave them out of its rows" if piece.opening else f"leave them out and say opening_rows = {rows}"
    return (f"{counts}, and marked like any other: if they are opening rounds, {mend}",)
