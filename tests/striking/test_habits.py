from decimal import Decimal

import numpy as np
import pytest
from made_bands import human, ideal, made_log, plain_bob, rounds
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.striking import count_striking, leads_of
from judging.striking.values import Count, Habit

PIECE = plain_bob(8, 8)


def struck(late: NDArray[np.float64], seed: int = 1, spread_ms: float = 20.0, piece: Piece = PIECE) -> Count:
    """Count of a band with independent errors besides what is late."""
    times = ideal(piece, gap_s=0.24) + late
    times += np.random.default_rng(seed).normal(scale=spread_ms / 1000, size=times.shape)
    return count_striking(made_log(piece, np.sort(times.ravel()).reshape(times.shape)), piece)


def work(count: Count) -> list[Habit]:
    return [habit for habit in count.habits if not habit.praise]


def test_ten_bands_without_a_habit_have_none() -> None:
    told = [habit.sentence for seed in range(10) for habit in work(struck(np.zeros(PIECE.rows.shape), seed, 25))]
    assert told == []


def test_a_bell_that_leads_late_at_handstroke_is_told_with_its_leads() -> None:
    late = np.zeros(PIECE.rows.shape)
    late[PIECE.is_hand, 0] = np.where(PIECE.rows[PIECE.is_hand, 0] == 5, 0.075, 0)
    first = work(struck(late))[0]
    leads = int(((PIECE.rows[:, 0] == 5) & PIECE.is_hand & PIECE.is_change).sum())
    assert first.sentence.startswith("5 leads late at handstroke: ")
    assert f" of {leads} leads, " in first.sentence
    assert first.bells == (5,)
    assert first.saves > 0


def test_a_bell_early_hunting_down_is_told_so() -> None:
    place = np.argsort(PIECE.rows, axis=1)
    down = np.zeros(PIECE.rows.shape, dtype=bool)
    for row in range(1, len(PIECE.rows)):
        down[row] = place[row, PIECE.rows[row] - 1] < place[row - 1, PIECE.rows[row] - 1]
    late = np.where((PIECE.rows == 3) & down, -0.07, 0.0)
    assert work(struck(late))[0].sentence.startswith("3 strikes early hunting down: ")


def test_a_bell_late_after_another_is_told_so() -> None:
    after = np.zeros(PIECE.rows.shape, dtype=bool)
    after[:, 1:] = (PIECE.rows[:, 1:] == 4) & (PIECE.rows[:, :-1] == 7)
    first = work(struck(np.where(after, 0.09, 0.0)))[0]
    assert first.sentence.startswith("4 strikes late after 7: ")
    assert first.bells == (4, 7)


def test_habits_come_in_the_order_of_faults_saved_and_each_once() -> None:
    late = np.where(PIECE.rows == 8, 0.09, 0.0) + np.where((PIECE.rows == 2) & PIECE.is_hand[:, None], 0.07, 0.0)
    habits = work(struck(late))
    assert habits[0].sentence.startswith("8 strikes late: ")
    assert habits[1].sentence.startswith("2 strikes late at handstroke: ")
    assert habits[0].saves > habits[1].saves
    assert sum(habit.bells == (8,) for habit in habits) == 1


def test_faults_saved_are_never_more_than_were_charged() -> None:
    late = np.where(PIECE.rows == 8, 0.12, 0.0)
    count = struck(late, spread_ms=40)
    assert Decimal(0) < sum(habit.saves for habit in work(count)) <= count.total


def test_the_rows_of_a_habit_are_those_that_show_it() -> None:
    late = np.where(PIECE.rows == 8, 0.09, 0.0)
    habit = work(struck(late))[0]
    assert set(habit.rows) <= set(np.flatnonzero(PIECE.is_change).tolist())
    assert len(habit.rows) > 0.9 * PIECE.is_change.sum()


def test_a_bell_that_goes_with_the_one_before_is_told_with_an_interval() -> None:
    random = np.random.default_rng(3)
    late = random.normal(scale=0.035, size=PIECE.rows.shape)
    for row in range(len(PIECE.rows)):
        for place in range(1, 8):
            if PIECE.rows[row, place] == 6:
                late[row, place] = 0.8 * late[row, place - 1] + random.normal(scale=0.01)
    told = [habit for habit in work(struck(late, spread_ms=1)) if "goes with the bell before" in habit.sentence]
    assert [habit.bells for habit in told] == [(6,)]


def test_a_pace_that_quickens_is_told() -> None:
    gaps = np.linspace(0.25, 0.23, len(PIECE.rows))
    starts = np.concatenate([[0.0], np.cumsum((8 + np.append(PIECE.is_hand[1:], np.False_)) * gaps)[:-1]])
    count = count_striking(made_log(PIECE, starts[:, None] + np.arange(8) * gaps[:, None]), PIECE)
    assert work(count)[0].sentence.startswith("The pace quickened by ")
    assert count.total == 0


def test_what_is_done_well_is_said() -> None:
    spread = np.where(PIECE.rows == 1, 0.3, 1.0)
    late = np.random.default_rng(2).normal(scale=0.04, size=PIECE.rows.shape) * spread
    count = struck(late, spread_ms=1)
    praise = [habit.sentence for habit in count.habits if habit.praise]
    assert praise[0].startswith("1 is the steadiest bell: ")
    assert "1 is the steadiest bell" in count.summary


@pytest.mark.parametrize("rows", [2, 6])
def test_so_few_rows_have_no_habits(rows: int) -> None:
    piece = rounds(6, rows)
    assert [habit for habit in count_striking(human(piece, 1, spread_ms=30), piece).habits if not habit.praise] == []


def test_in_rounds_a_bell_is_a_place_and_is_told_once() -> None:
    piece = rounds(6, 60)
    late = np.where(piece.rows == 4, 0.08, 0.0)
    habits = work(struck(late, piece=piece))
    assert [habit.sentence.split(":")[0] for habit in habits] == ["4 strikes late"]


@pytest.mark.parametrize(("begins", "ends", "word"), [(0.6, 1.3, "opened"), (1.2, 0.6, "closed")])
def test_a_handstroke_gap_that_changes_is_told(begins: float, ends: float, word: str) -> None:
    gaps = np.linspace(begins, ends, len(PIECE.rows))
    lengths = 0.24 * (8 + np.append(PIECE.is_hand[1:], np.False_) * gaps)
    starts = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    times = starts[:, None] + np.arange(8) * 0.24 + np.random.default_rng(1).normal(scale=0.02, size=PIECE.rows.shape)
    told = [habit.sentence for habit in work(count_striking(made_log(PIECE, times), PIECE))]
    assert any(
        sentence.startswith(f"The handstroke gap {word} from {begins + (ends - begins) / 6:.1f}") for sentence in told
    )


def places_of(piece: Piece) -> NDArray[np.int64]:
    """Place of each bell in each row, from 1."""
    return np.argsort(piece.rows, axis=1) + 1


def test_a_bell_late_in_its_dodges_is_told_so() -> None:
    place = places_of(PIECE)[:, 4]  # the 5th
    dodges = [
        row
        for row in range(PIECE.opening, len(PIECE.rows) - 1)
        if {place[row], place[row - 1]} == {place[row], place[row + 1]} == {place[row - 1], place[row - 2]}
        and place[row] != place[row - 1]
    ]
    late = np.zeros(PIECE.rows.shape)
    for row in {row for dodge in dodges for row in (dodge, dodge + 1)}:
        late[row, place[row] - 1] = 0.1
    first = work(struck(late, spread_ms=10))[0]
    assert first.sentence.startswith("5 strikes late dodging: ")


def test_a_bell_early_lying_behind_is_told_so() -> None:
    place = places_of(PIECE)[:, 3]  # the 4th
    late = np.zeros(PIECE.rows.shape)
    lies = [row for row in range(1, len(PIECE.rows)) if place[row] == place[row - 1] == 8]
    late[lies, 7] = -0.09
    first = work(struck(late, spread_ms=10))[0]
    assert first.sentence.startswith("4 strikes early lying behind: ")


def test_a_leader_is_told_the_handstroke_gap_that_comes_of_it() -> None:
    late = np.zeros(PIECE.rows.shape)
    late[PIECE.is_hand, 0] = np.where(PIECE.rows[PIECE.is_hand, 0] == 5, 0.096, 0)
    first = work(struck(late, spread_ms=10))[0]
    assert first.sentence.endswith("ms on average, a handstroke gap of 1.4 of a blow where the band's is 1.0")


def test_the_gap_before_each_bells_leads_is_measured_from_the_bands_own() -> None:
    times = ideal(PIECE, gap_s=0.24, handstroke_gap=0.8)
    times[PIECE.is_hand, 0] += np.where(PIECE.rows[PIECE.is_hand, 0] == 5, 0.06, 0)
    found = {(one.bell, one.is_hand): one for one in leads_of(count_striking(made_log(PIECE, times), PIECE))}
    for (bell, is_hand), one in found.items():
        times_led = ((PIECE.rows[:, 0] == bell) & (PIECE.is_hand == is_hand) & PIECE.is_change).sum()
        assert one.leads == times_led
        assert one.gap == pytest.approx(
            (0.8 if is_hand else 0.0) + (0.25 if (bell, is_hand) == (5, True) else 0.0), abs=0.03
        )
    assert len(found) == 16
