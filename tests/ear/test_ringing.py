"""What real ringing and real recordings do: every kind once, on made-up bells, against the true times.

The benchmark (`tests/bench/bench_ear.py`) measures the same over many seeds; here each must simply come out right.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from judging.errors import NothingHeard
from judging.piece import Piece
from judging.sounding import Character, Mistake, human_log, ring, ring_of_bells
from judging.striking.strike_log import StrikeLog

from .conftest import BAND, hunting

pytestmark = pytest.mark.slow

RATE = 22_050

#: Sounds a touch, and says what was struck; see the fixture `sound`.
Sounder = Callable[..., Any]


def rounds(bells: int, rows: int) -> Piece:
    return Piece("rounds", np.tile(np.arange(1, bells + 1, dtype=np.int8), (rows, 1)))


@pytest.mark.parametrize("bells", [8, 10, 12])
def test_more_bells_are_told_apart(sound: Sounder, bells: int) -> None:
    piece = hunting(bells, 20)
    made = sound(piece)
    assert made.right(made.heard_as(piece)) >= 0.99


def test_closed_leads_have_no_gap_to_go_by_and_are_followed_all_the_same(sound: Sounder) -> None:
    piece = hunting(6, 24)
    made = sound(piece, gap=0.0, room="church")
    heard = made.heard_as(piece)
    assert made.right(heard) >= 0.99
    assert heard.start_is_sure


def test_rounds_alone_start_with_the_highest_bell(sound: Sounder) -> None:
    """Every start fits rounds on closed leads; only the pitch of the bells says which is the treble."""
    made = sound(rounds(6, 20), gap=0.0)
    heard = made.heard_as(rounds(6, 20))
    assert made.right(heard) >= 0.99
    assert heard.start_is_sure


@pytest.mark.parametrize("bells", [6, 8])
def test_one_whole_pull_is_enough(sound: Sounder, bells: int) -> None:
    made = sound(rounds(bells, 2))
    assert made.right(made.heard_as(rounds(bells, 2))) >= 0.93


def test_a_start_from_queens_is_followed(sound: Sounder) -> None:
    piece = Piece("queens", np.tile(np.array([1, 3, 5, 2, 4, 6], np.int8), (16, 1)))
    made = sound(piece)
    assert made.right(made.heard_as(piece)) >= 0.99


def test_call_changes_are_followed_however_long_each_is_held(sound: Sounder) -> None:
    rows = np.array([[1, 2, 3, 4, 5, 6], [1, 3, 2, 4, 5, 6], [1, 3, 5, 2, 4, 6], [1, 3, 5, 2, 4, 6]], np.int8)
    piece = Piece("call changes", rows[:3].copy(), free_lengths=True)
    rung = Piece("call changes", np.repeat(rows[:3], [8, 10, 8], axis=0))
    made = sound(rung)
    assert made.right(made.heard_as(piece)) >= 0.99


@pytest.mark.parametrize("cut_blows", [1, 5, 9])
def test_a_recording_that_begins_in_the_middle_of_the_opening_is_not_a_bell_out(sound: Sounder, cut_blows: int) -> None:
    piece = hunting(6, 24, opening=8)
    made = sound(piece)
    cut_s = float(made.true.times_s[cut_blows]) - 0.05
    kept = made.true.times_s > cut_s
    made.samples = made.samples[int(cut_s * RATE) :]
    made.true = StrikeLog(made.true.times_s[kept] - cut_s, made.true.bells[kept], made.true.spread_ms[kept].copy())
    assert made.right(made.heard_as(piece)) >= 0.98


def test_practice_and_a_stand_before_the_piece_are_left_out(sound: Sounder) -> None:
    piece = hunting(6, 24)
    made = sound(piece)
    practice = made.samples[: int(made.true.times_s[36] * RATE)]
    quiet = np.random.default_rng(1).normal(0, 0.002, 8 * RATE)
    made.samples = np.concatenate([practice, quiet, made.samples])
    moved_s = (len(practice) + len(quiet)) / RATE
    made.true = replace(made.true, times_s=made.true.times_s + moved_s)
    heard = made.heard_as(piece)
    assert made.right(heard) >= 0.99
    assert (heard.log.times_s > moved_s).all()


def test_bells_that_change_places_are_told_as_they_rang(sound: Sounder) -> None:
    """Two bells do each other's work for five rows; what was rung is written down, not what should have been."""
    piece = hunting(8, 28)
    made = sound(piece, band=replace(BAND, mistakes=(Mistake(12, (3, 6), 5),)))
    assert made.right(made.heard_as(piece)) >= 0.99


def test_a_missing_blow_is_missing_and_an_extra_one_is_heard(sound: Sounder) -> None:
    piece = hunting(6, 24)
    made = sound(piece)
    truth = human_log(piece, BAND, peal_minutes=165, seed=5)
    gone, twice = 6 * 14 + 2, 6 * 20 + 1
    times = np.append(np.delete(truth.log.times_s, gone), truth.log.times_s[twice] + 0.8)
    bells = np.append(np.delete(truth.log.bells, gone), truth.log.bells[twice])
    order = np.argsort(times)
    log = StrikeLog(times[order], bells[order], np.zeros(len(order)))
    made.samples, made.true = ring(log, ring_of_bells(6, seed=41), seed=5, rate=RATE)
    heard = made.heard_as(piece)
    assert made.right(heard) == 1.0
    assert len(heard.log) == len(log)
    assert any("1 of" in note and "not struck" in note for note in heard.notes)


def test_perfectly_even_ringing_is_followed(sound: Sounder) -> None:
    """Without the small errors of a band, every blow is as far from the next, whatever begins a row."""
    piece = hunting(8, 24)
    made = sound(piece, band=Character(spread_ms=0, pull_off_ms=0, pace_drift=0))
    assert made.right(made.heard_as(piece)) == 1.0


def test_a_recording_of_rounds_is_not_taken_for_the_piece(sound: Sounder) -> None:
    made = sound(rounds(6, 24))
    with pytest.raises(NothingHeard, match="holds rounds on 6 bells, but none of the changes of plain hunting"):
        made.heard_as(hunting(6, 24))


def test_ten_changes_after_one_whole_pull_of_rounds_are_enough(sound: Sounder) -> None:
    """Voices are learnt from every row there is, and each row is then proved by voices that have not heard it."""
    piece = hunting(6, 10, opening=2)
    made = sound(piece, room="church")
    heard = made.heard_as(piece)
    assert made.right(heard) == 1.0
    assert heard.start_is_sure


def test_ten_changes_of_something_else_are_refused(sound: Sounder) -> None:
    piece = hunting(6, 10, opening=2)
    other = np.vstack([piece.rows[:2], piece.rows[:1:-1]])
    made = sound(Piece("other", other[:, [0, 2, 1, 4, 3, 5]], 2), room="church")
    with pytest.raises(NothingHeard):
        made.heard_as(piece)


@pytest.mark.parametrize("said", [5, 7])
def test_one_whole_pull_said_to_be_on_another_number_of_bells_is_refused(sound: Sounder, said: int) -> None:
    """The same bells sound again after six blows, whatever number is said."""
    made = sound(rounds(6, 2), seed=2)
    with pytest.raises(NothingHeard, match=f"on {said} bells|of {said} bells|not {said}"):
        made.heard_as(rounds(said, 2))


@pytest.mark.parametrize("bells", [6, 10])
def test_ringing_on_another_number_of_bells_is_refused(sound: Sounder, bells: int) -> None:
    made = sound(hunting(8, 24))
    with pytest.raises(NothingHeard):
        made.heard_as(hunting(bells, 24))


def test_another_piece_is_said_to_be_another(sound: Sounder) -> None:
    """Plain hunting rung backwards from the first change on: the same bells, but hardly a place alike."""
    piece = hunting(6, 24)
    other = np.vstack([piece.rows[:6], piece.rows[:5:-1][::-1][11:], piece.rows[6:17]])
    made = sound(Piece("other", other[:, [0, 2, 1, 4, 3, 5]], 0))
    with pytest.raises(NothingHeard, match="plain hunting"):
        made.heard_as(piece)


def test_the_first_blow_can_be_set_by_hand(sound: Sounder) -> None:
    piece = hunting(6, 24)
    made = sound(piece)
    heard = made.heard_as(piece, first_blow_s=float(made.true.times_s[0]))
    assert heard.start_is_sure
    assert made.right(heard) >= 0.99


@pytest.mark.parametrize("seed", [16, 17])
def test_poor_striking_is_heard_no_worse_for_being_told_its_first_blow(sound: Sounder, seed: int) -> None:
    """At 65 ms in a church no reading of the opening need begin where the first blow was, until it is followed."""
    piece = hunting(6, 24)
    made = sound(piece, band=replace(BAND, spread_ms=65), room="church", seed=seed)
    assert made.right(made.heard_as(piece, first_blow_s=float(made.true.times_s[0]))) >= 0.99


def test_a_constant_delay_changes_nothing_but_the_clock(sound: Sounder) -> None:
    piece = hunting(6, 16)
    made = sound(piece)
    first = made.heard_as(piece).log
    made.samples = np.concatenate([made.samples[:0], np.zeros(440 * 5, np.float32), made.samples])
    later = made.heard_as(piece).log
    assert np.array_equal(first.bells, later.bells)
    assert np.abs((later.times_s - first.times_s) - 2200 / RATE).max() < 0.001


def test_a_bell_that_stops_is_not_given_blows_that_it_did_not_strike(sound: Sounder) -> None:
    piece = hunting(6, 36)
    made = sound(piece)
    log = human_log(piece, BAND, peal_minutes=165, seed=5).log
    rows = np.arange(len(log)) // 6
    kept = ~((log.bells == 4) & (rows >= 20) & (rows < 32))
    made.ring_again(log.times_s[kept], log.bells[kept])
    heard = made.heard_as(piece)
    assert made.right(heard) >= 0.99
    assert abs(len(heard.log) - int(kept.sum())) <= 1


def test_labels_are_right_again_within_two_rows_of_a_fire_out(sound: Sounder) -> None:
    """Three rows in which blows fall anywhere within a gap and a half of their places."""
    piece = hunting(6, 36)
    made = sound(piece)
    log = human_log(piece, BAND, peal_minutes=165, seed=5).log
    times = log.times_s.copy()
    times[120:138] += np.random.default_rng(3).normal(0, 0.45, 18)
    made.ring_again(times, log.bells)
    heard = made.heard_as(piece)
    after = made.true.times_s > times[138:144].max() - times.min() + made.true.times_s[0]
    late = made.true
    made.true = StrikeLog(late.times_s[after], late.bells[after], np.zeros(int(after.sum())))
    assert made.right(heard) >= 0.99


def test_a_band_that_stands_and_begins_again_is_heard_from_its_second_beginning(sound: Sounder) -> None:
    piece = hunting(6, 30)
    made = sound(piece)
    log = human_log(piece, BAND, peal_minutes=165, seed=5).log
    again_s = float(log.times_s[96]) + 9.0
    times = np.concatenate([log.times_s[:96], log.times_s - log.times_s[0] + again_s])
    made.ring_again(times, np.concatenate([log.bells[:96], log.bells]), again_s - 0.1)
    assert made.right(made.heard_as(piece)) >= 0.99


def test_of_several_touches_the_declared_one_is_chosen_even_where_another_is_longer(sound: Sounder) -> None:
    piece, other = hunting(6, 24), rounds(6, 60)
    made = sound(piece)
    first, log = (human_log(rung, BAND, peal_minutes=165, seed=5).log for rung in (other, piece))
    begin_s = float(first.times_s.max()) + 10.0
    times = np.concatenate([first.times_s, log.times_s - log.times_s[0] + begin_s])
    made.ring_again(times, np.concatenate([first.bells, log.bells]), begin_s - 0.1)
    heard = made.heard_as(piece)
    assert made.right(heard) >= 0.99
    assert heard.log.times_s[0] > begin_s - 5


@pytest.mark.parametrize("seed", [6, 7])
def test_learners_a_quarter_of_a_gap_out_are_followed_all_the_same(sound: Sounder, seed: int) -> None:
    """At 80 ms the opening rows teach voices half wrongly; they settle on what they decode before they are judged."""
    piece = hunting(6, 40)
    made = sound(piece, band=replace(BAND, spread_ms=80), seed=seed)
    assert made.right(made.heard_as(piece)) >= 0.99
