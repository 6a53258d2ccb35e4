"""A test piece's page: every row once, every way drawn, what is proved said."""

import re

import numpy as np
import pytest

from judging.piece import Piece, drawing
from judging.web.piece_page import MOST_ROWS, _cut, piece_page

from .conftest import ADDRESS, Service, rows_piece


@pytest.mark.parametrize("rows", [1, 2, 39, 40, 41, 200])
def test_every_row_is_in_exactly_one_panel(rows: int) -> None:
    piece = Piece("Rounds", np.tile(np.arange(1, 7, dtype=np.int8), (rows, 1)), opening=min(2, rows - 1))

    panels = _cut(drawing(piece))

    assert [row for start, stop in panels for row in range(start, stop)] == list(range(rows))
    assert all(0 < stop - start <= MOST_ROWS for start, stop in panels)


def test_the_way_of_the_chosen_bell_is_told_place_by_place() -> None:
    page = piece_page(rows_piece(), 3)
    places = (np.argsort(rows_piece().rows, axis=1) + 1)[:, 2]

    told = re.findall(r"Places of 3: ([\d, ]+)\.", "".join(page.panels))

    first = [int(place) for place in told[0].split(",")]
    assert first == places[: len(first)].tolist()
    assert page.chosen == 3


def test_the_page_says_what_is_proved_and_follows_a_bell(finished: Service) -> None:
    client = finished.visitor()
    text = client.get(f"{ADDRESS}/pieces/bob").text

    assert "40 changes, true." in text
    assert "?bell=2#ways" in text
    assert '<strong aria-current="page">2</strong>' in client.get(f"{ADDRESS}/pieces/bob?bell=2").text


@pytest.mark.parametrize("address", ["pieces/none", "pieces/bob?bell=9", "pieces/bob?bell=0", "pieces/bob?bell=x"])
def test_a_piece_or_bell_that_is_not_there_is_told(finished: Service, address: str) -> None:
    assert finished.visitor().get(f"{ADDRESS}/{address}").status_code in {404, 422}
