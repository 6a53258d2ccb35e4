"""Place notation as the Framework for Method Ringing (App. A) writes it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece import SYMBOLS, read_notation, read_row, row_text


def _after(row: str, notation: str) -> str:
    """Row after every change of a notation."""
    bells = read_row(row, where="row")
    for change in read_notation(notation, len(row)):
        bells = bells[change]
    return row_text(bells)


def test_the_frameworks_example_makes_1sts_and_4ths() -> None:
    assert _after("214365", "14") == "241356"


@pytest.mark.parametrize("cross", ["x", "X", "-"])
def test_a_cross_is_written_three_ways(cross: str) -> None:
    assert _after("123456", cross) == "214365"


def test_first_and_last_places_that_must_be_made_are_understood() -> None:
    for short, full in [("4", "14"), ("3", "36"), ("2", "12"), ("5", "56"), ("14", "14")]:
        assert np.array_equal(read_notation(short, 6), read_notation(full, 6))
    assert np.array_equal(read_notation("14", 5), read_notation("145", 5))


def test_places_go_up_to_sixteen() -> None:
    assert _after("1234567890ETABCD", "90ET") == "214365879" + "0ET" + "BADC"
    assert _after("1234567890ET", "9T") == "21436587" + "9" + "E0" + "T"


def test_a_dot_parts_changes_and_needs_not_stand_beside_a_cross() -> None:
    assert np.array_equal(read_notation("x.16.x.16", 6), read_notation("x16x16", 6))
    assert len(read_notation("5.1.5", 5)) == 3


def test_each_side_of_a_comma_is_rung_forward_and_back() -> None:
    assert np.array_equal(read_notation("3,1.5.1.5.1", 5), read_notation("3.1.5.1.5.1.5.1.5.1", 5))
    assert np.array_equal(read_notation("x14x36x56,12", 6), read_notation("x14x36x56x36x14x12", 6))


def test_spaces_and_small_letters_do_not_matter() -> None:
    assert np.array_equal(read_notation(" x 1t x 1T ", 12), read_notation("x1Tx1T", 12))


@pytest.mark.parametrize(
    ("notation", "stage", "message"),
    [
        ("x16x16x1", 5, r"^notation, change 1: 'x' leaves the bell in 5ths alone.*a cross needs an even number"),
        ("x14x36x136", 6, r"^notation, change 6: '136' leaves the bell in 2nds alone.*did you mean '1236'\?"),
        ("5.1.5.1.5,18", 5, r"^notation, change 6: '18' makes place 8, but only 5 bells change"),
        ("x1614", 6, r"^notation, change 2: '1614' is not in rising order: is a dot missing"),
        ("x.114", 6, r"^notation, change 2: '114' is not in rising order"),
        ("x1*", 6, r"^notation, change 2: '1\*' has '\*', which is no place"),
        ("x.16..x", 6, r"^notation: a dot with no change before it \(after 2 changes\): one too many\?"),
        ("x16x16.", 6, r"^notation: ends with a dot after change 4: is the last change missing\?"),
        ("x16,12,12", 6, r"^notation: 'x16,12,12' has 2 commas"),
        ("x16,", 6, r"^notation: no place notation here"),
        pytest.param("x16" * 60_000, 6, r"^notation: 120,000 changes in one lead; the most is", id="endless"),
        ("", 6, r"^notation: no place notation here"),
    ],
)
def test_a_change_that_cannot_be_rung_is_named(notation: str, stage: int, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_notation(notation, stage)


@st.composite
def _changes(draw: st.DrawFn) -> tuple[str, int]:
    """A notation and its stage: changes made by choosing, from the lead on, to make a place or to swap a pair."""
    stage = draw(st.integers(3, 16))
    written = []
    for _ in range(draw(st.integers(1, 12))):
        place, places = 1, ""
        while place <= stage:
            if place == stage or draw(st.booleans()):
                places += SYMBOLS[place - 1]
                place += 1
            else:
                place += 2
        written.append(places or "x")
    comma = draw(st.integers(0, len(written) - 1))
    if comma:
        return ".".join(written[:comma]) + "," + ".".join(written[comma:]), stage
    return ".".join(written), stage


@settings(max_examples=150, deadline=None)
@given(_changes())
def test_every_change_swaps_neighbours_only_and_undoes_itself(case: tuple[str, int]) -> None:
    notation, stage = case
    for change in read_notation(notation, stage):
        assert sorted(change.tolist()) == list(range(stage))
        assert np.array_equal(change[change], np.arange(stage))
        assert np.abs(change - np.arange(stage)).max() <= 1


@settings(max_examples=100, deadline=None)
@given(_changes())
def test_a_notation_with_a_comma_is_the_same_backwards_on_each_side(case: tuple[str, int]) -> None:
    notation, stage = case
    sides = notation.split(",")
    if len(sides) == 1:
        return
    changes = read_notation(notation, stage)
    first = 2 * len(read_notation(sides[0], stage)) - 1
    assert np.array_equal(changes[:first], changes[:first][::-1])
    assert np.array_equal(changes[first:], changes[first:][::-1])
