"""Named rows against contest rules that print them, and the least number of swaps that each is away from rounds."""

import numpy as np
import pytest

from judging.errors import InputError
from judging.piece import NAMES, name_of, named_row, row_text

#: Youth, novice and call-change contests' rules for six and eight; ten and twelve from memory. Swaps = inversions.
PUBLISHED = [
    ("Queens", "135246", 3),
    ("Queens", "13572468", 6),
    ("Queens", "1357924680", 10),
    ("Queens", "13579E24680T", 15),
    ("Kings", "531246", 6),
    ("Kings", "75312468", 12),
    ("Kings", "9753124680", 20),
    ("Kings", "E9753124680T", 30),
    ("Tittums", "142536", 3),
    ("Tittums", "15263748", 6),
    ("Tittums", "1627384950", 10),
    ("Tittums", "172839405E6T", 15),
    ("Back rounds", "654321", 15),
    ("Back rounds", "87654321", 28),
    ("Back rounds", "0987654321", 45),
    ("Back rounds", "TE0987654321", 66),
    ("Whittingtons", "12753468", 6),
    ("Princes", "532146", 7),
]


@pytest.mark.parametrize(("name", "row", "swaps"), PUBLISHED)
def test_a_name_means_the_published_row(name: str, row: str, swaps: int) -> None:
    found = named_row(name, len(row))
    assert row_text(found) == row
    assert sum(int((found[at + 1 :] < bell).sum()) for at, bell in enumerate(found)) == swaps
    assert name_of(found) == name


def test_whittingtons_and_kings_are_one_row_on_six() -> None:
    assert np.array_equal(named_row("Whittingtons", 6), named_row("Kings", 6))


@pytest.mark.parametrize("name", ["Rounds", "Back rounds", "Queens", "Kings", "Tittums"])
@pytest.mark.parametrize("bells", range(4, 17))
def test_a_name_means_a_row_on_any_number_of_bells(name: str, bells: int) -> None:
    assert sorted(named_row(name, bells).tolist()) == list(range(1, bells + 1))


@pytest.mark.parametrize("name", ["Queens", "Kings", "Tittums"])
@pytest.mark.parametrize("bells", [5, 7, 9, 11])
def test_on_an_odd_number_the_row_is_that_with_a_tenor_behind(name: str, bells: int) -> None:
    assert named_row(name, bells + 1).tolist() == [*named_row(name, bells).tolist(), bells + 1]


def test_capitals_do_not_matter() -> None:
    assert row_text(named_row("back  ROUNDS", 4)) == "4321"


def test_a_name_without_one_agreed_row_is_refused() -> None:
    with pytest.raises(InputError, match=r"^row: Whittingtons is one agreed row only on 6 and 8 bells, not on 10"):
        named_row("Whittingtons", 10)
    with pytest.raises(InputError, match=r"^row: 'Jokers' is not a row that has a name here \(Rounds, Back rounds"):
        named_row("Jokers", 8)
    assert "Queens" in NAMES
