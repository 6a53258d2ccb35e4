"""Ways to say a piece briefly in a test."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from judging.piece import Piece, read_piece, rows_text

sys.path.insert(0, str(Path(__file__).parent))  # for the facts and the slow generator, which are no tests

Read = Callable[[str], Piece]


def changes_of(piece: Piece) -> list[str]:
    """Texts of the changes, opening and closing left out."""
    return rows_text(piece.rows[piece.is_change])


@pytest.fixture(scope="session")
def read() -> Read:
    """Reader of a piece from its keys, the version left out."""
    return lambda keys: read_piece(f"piece = 1\n{keys}", name="p.toml")


@pytest.fixture(scope="session")
def changes(read: Read) -> Callable[[str], list[str]]:
    """Texts of the changes of a piece given by its keys."""
    return lambda keys: changes_of(read(keys))
