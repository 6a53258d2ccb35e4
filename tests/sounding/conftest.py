from collections.abc import Callable

import numpy as np
import pytest

from judging.piece.piece import Piece


def hunt(bells: int, *, rows: int, opening: int = 4) -> Piece:
    """Plain hunting on all the bells, after opening rounds: a piece simple enough to be written here."""
    row = list(range(1, bells + 1))
    rung = [row] * opening
    for change in range(rows):
        row = row.copy()
        for p in range(change % 2, bells - 1, 2):
            row[p], row[p + 1] = row[p + 1], row[p]
        rung.append(row)
    return Piece(f"{rows} changes of plain hunt", np.array(rung, np.int8), opening=opening)


@pytest.fixture(scope="session")
def hunting() -> Callable[..., Piece]:
    return hunt
