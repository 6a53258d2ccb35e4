"""Constructed stories of what happens in ringing, each with exactly the events, charges and sentences it should have.

All are sixty changes of Plain Bob on six bells with four rows of opening rounds, 300 ms between blows, perfect but for
the story. Row 25 is change 22 and reads 2 5 1 6 3 4 or so: the tests name places and look the bell up.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from made_bands import human, ideal, joined, made_log, out, plain_bob, relabelled, without
from numpy.typing import NDArray

from judging.striking import CountingRules, StrikeLog, count_striking
from judging.striking.rules import Marked
from judging.striking.values import Count

PIECE = plain_bob(6, 5)
ROW = 25
BELLS = PIECE.rows[ROW].tolist()
HALF, ONE = Decimal("0.5"), Decimal(1)


def charged(count: Count) -> list[tuple[int, int, str, Decimal]]:
    """Row, place, kind and charge of every fault that costs something."""
    return [(fault.row, fault.place, fault.kind, fault.charge) for fault in count.faults if fault.charge]


def sentences(count: Count) -> list[str]:
    return [fault.sentence for fault in count.faults if fault.charge]


def events(count: Count) -> list[str]:
    return [event.sentence for event in count.rung.events]


def rung_with(late_s: Callable[[NDArray[np.float64]], None]) -> Count:
    """Count of the piece with its times changed in place."""
    times = ideal(PIECE)
    late_s(times)
    return count_striking(made_log(PIECE, times), PIECE)


def with_rows(rows: Iterable[int], change: Callable[[NDArray[np.int8]], None]) -> StrikeLog:
    """Log of the piece with some rows rung in another order."""
    bells = PIECE.rows.copy()
    for row in rows:
        change(bells[row])
    return replace(out(PIECE, {}), bells=bells.ravel().copy())


def exchange(one: int, other: int) -> Callable[[NDArray[np.int8]], None]:
    def in_row(row: NDArray[np.int8]) -> None:
        first, second = row == one, row == other
        row[first], row[second] = other, one

    return in_row


def test_perfect_ringing() -> None:
    count = count_striking(out(PIECE, {}), PIECE)
    assert (charged(count), events(count), count.habits) == ([], [], ())
    assert count.summary == "Very steady ringing: no faults in 60 rows."
    assert count.notes == ()


def test_a_clip() -> None:
    count = count_striking(out(PIECE, {(ROW, 4): -130}), PIECE)
    assert charged(count) == [(ROW, 4, "early", ONE)]
    assert sentences(count) == [f"Change 22, backstroke: {BELLS[3]} struck 130 ms early, clipping {BELLS[2]}"]
    assert "first to listen to again: Change 22, backstroke" in count.summary


def test_a_late_blow() -> None:
    count = count_striking(out(PIECE, {(ROW, 4): 85}), PIECE)
    assert charged(count) == [(ROW, 4, "late", HALF)]
    assert sentences(count) == [
        f"Change 22, backstroke: {BELLS[3]} struck 85 ms late, leaving a wide gap after {BELLS[2]}"
    ]


def test_a_wide_handstroke_lead() -> None:
    count = count_striking(out(PIECE, {(ROW + 1, 1): 140}), PIECE)
    leader, before = PIECE.rows[ROW + 1, 0], BELLS[5]
    assert charged(count) == [(ROW + 1, 1, "late", ONE)]
    assert sentences(count) == [f"Change 23, handstroke: {leader} led 140 ms late, leaving a wide gap after {before}"]


def test_a_row_that_is_late_as_one_is_the_leaders_fault_alone() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[ROW + 1] += 0.14

    count = rung_with(late)
    assert charged(count) == [(ROW + 1, 1, "late", ONE)]
    assert sentences(count) == ["Change 23, handstroke: 1 led 138 ms late, leaving a wide gap after 2"]
    assert events(count) == []


def test_a_row_held_up_from_which_the_band_goes_on() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[ROW:] += 0.2

    count = rung_with(late)
    assert charged(count) == [(ROW, 1, "late", ONE)]
    assert sentences(count) == [f"Change 22, backstroke: {BELLS[0]} led 200 ms late, leaving a wide gap after 2"]
    assert events(count) == []


def test_a_blow_held_up_within_a_row_from_which_the_band_goes_on() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times.ravel()[ROW * 6 + 2 :] += 0.15

    count = rung_with(late)
    assert charged(count) == [(ROW, 3, "late", ONE)]
    assert sentences(count) == ["Change 22, backstroke: 6 struck 149 ms late, leaving a wide gap after 1"]
    assert events(count) == []


def test_a_late_blow_that_the_next_bells_carry() -> None:
    count = count_striking(out(PIECE, {(ROW, 2): 102, (ROW, 3): 102, (ROW, 4): 102}), PIECE)
    assert charged(count) == [(ROW, 2, "late", HALF)]
    assert sentences(count) == ["Change 22, backstroke: 1 struck 101 ms late, leaving a wide gap after 5"]


def test_a_creep_through_a_row() -> None:
    late = {(ROW, 2): 72, (ROW, 3): 144, (ROW, 4): 216, (ROW, 5): 288, (ROW, 6): 288}
    count = count_striking(out(PIECE, late), PIECE)
    assert charged(count) == [(ROW, 3, "late", ONE), (ROW, 5, "late", ONE)]
    assert sentences(count) == [
        "Change 22, backstroke: 6 struck 143 ms late, leaving a wide gap after 1",
        "Change 22, backstroke: 4 fell a further 144 ms behind, leaving a wide gap after 3",
    ]


def test_a_crunch_is_a_clash_charged_to_the_bell_that_made_it() -> None:
    count = count_striking(out(PIECE, {(ROW, 3): 110, (ROW, 4): -125}), PIECE)
    assert charged(count) == [(ROW, 3, "late", HALF), (ROW, 4, "clash", ONE)]
    assert sentences(count) == [
        f"Change 22, backstroke: {BELLS[2]} struck 110 ms late, leaving a wide gap after {BELLS[1]}",
        f"Change 22, backstroke: {BELLS[3]} struck 125 ms early, clashing with {BELLS[2]}",
    ]


def test_two_bells_exchanged_in_even_time_are_a_slip_of_the_method_and_no_fault_of_striking() -> None:
    count = count_striking(with_rows([ROW], exchange(BELLS[2], BELLS[3])), PIECE)
    assert charged(count) == []
    one, other = sorted(BELLS[2:4])
    assert events(count) == [f"Change 22: {one} and {other} struck the wrong way round"]


def test_a_bell_so_late_that_the_next_is_before_it() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[ROW, 2] += 0.33

    count = rung_with(late)
    assert charged(count) == [(ROW, 3, "clash", ONE)]
    assert sentences(count) == [
        f"Change 22, backstroke: {BELLS[3]} struck in {BELLS[2]}'s place, for {BELLS[2]} came 330 ms late"
    ]
    assert events(count) == ["Change 22: 3 and 6 struck the wrong way round"]


def test_a_trip_with_a_quick_recovery_is_one_event_and_is_praised() -> None:
    count = count_striking(with_rows(range(ROW, ROW + 3), exchange(2, 5)), PIECE)
    assert charged(count) == []
    assert events(count) == ["Changes 22 to 24: 2 and 5 were out of course, right again at change 25 (3 rows)"]
    assert "The slip at change 22 was put right within 3 rows" in count.summary


def test_a_tenor_late_all_through_is_one_habit() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[PIECE.rows == 6] += 0.09

    count = rung_with(late)
    assert count.total == 30
    assert {fault.bell for fault in count.faults} == {6}
    assert {fault.charge for fault in count.faults if fault.judged} == {HALF}
    assert sentences(count)[0] == "Change 1, handstroke: 6 struck 90 ms late, leaving a wide gap after 3"
    assert events(count) == []
    (habit,) = [habit for habit in count.habits if not habit.praise]
    assert habit.sentence == "6 strikes late: 60 of 60 blows, 90 ms on average"
    assert habit.saves == 30
    assert "First to work on: 6 strikes late" in count.summary
    assert "30 faults would be saved" in count.summary


def test_a_tenor_late_at_backstroke_is_told_so() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[(PIECE.rows == 6) & ~PIECE.is_hand[:, None]] += 0.09

    count = rung_with(late)
    assert count.habits[0].sentence == "6 strikes late at backstroke: 30 of 30 blows, 90 ms on average"
    assert count.total == 15


def test_leads_late_at_handstroke_whoever_leads() -> None:
    def late(times: NDArray[np.float64]) -> None:
        times[PIECE.is_hand, 0] += 0.08

    count = rung_with(late)
    assert count.habits[0].sentence == "Leads are late at handstroke: 30 of 30 leads, 80 ms on average"
    assert count.habits[0].bells == ()


def test_a_surge_is_no_fault_but_is_told() -> None:
    gaps = np.full(len(PIECE.rows), 0.3)
    gaps[28:40] *= 0.94
    starts = 5 + np.concatenate([[0.0], np.cumsum((6 + np.append(PIECE.is_hand[1:], np.False_)) * gaps)[:-1]])
    count = count_striking(made_log(PIECE, starts[:, None] + np.arange(6) * gaps[:, None]), PIECE)
    assert (charged(count), events(count)) == ([], [])
    assert [habit.sentence for habit in count.habits] == ["The pace surged: up to 6 % quicker in changes 23 to 38"]
    assert count.summary.endswith("First to work on: the pace surged: up to 6 % quicker in changes 23 to 38.")


def test_a_silent_bell_is_charged_once_and_noted() -> None:
    log = out(PIECE, {})
    count = count_striking(
        without(log, *np.flatnonzero((log.bells == 4) & (np.arange(len(log)) > 150)).tolist()), PIECE
    )
    assert charged(count) == [(ROW, 5, "missing blow", ONE)]
    assert sentences(count) == ["Change 22, backstroke: 4 was not heard in place 5"]
    # Of what was not heard nobody can say that it was clean.
    assert [habit.sentence for habit in count.habits] == ["Changes 1 to 21 without a fault"]
    assert count.notes == ("Not every blow was heard (bell 4): each silence is charged once",)
    assert events(count) == ["Changes 22 to 60: 4 was not heard for 39 rows"]


def test_one_blow_not_heard() -> None:
    count = count_striking(without(out(PIECE, {}), ROW * 6 + 2), PIECE)
    assert charged(count) == [(ROW, 3, "missing blow", ONE)]
    assert sentences(count) == [f"Change 22, backstroke: {BELLS[2]} was not heard in place 3"]
    assert events(count) == [f"Change 22: {BELLS[2]} was not heard"]


def test_a_ragged_pull_off_is_told_but_not_marked_unless_the_rules_mark_it() -> None:
    late = {(0, 2): 90, (0, 4): 130, (1, 5): -120}
    count = count_striking(out(PIECE, late), PIECE)
    assert count.total == 0
    assert count.pull_off == (
        "In the pull-off, 4 was 129 ms late at handstroke, 5 was 119 ms early at backstroke, 2 was 88 ms late at "
        "handstroke; all bells together were 59 ms from even on average"
    )
    marked = count_striking(out(PIECE, late), PIECE, CountingRules(marked=Marked(pull_off=True)))
    assert charged(marked) == [(0, 2, "late", HALF), (0, 4, "late", ONE), (1, 5, "early", ONE)]
    assert sentences(marked) == [
        "Opening row 1, handstroke: 2 struck 89 ms late, leaving a wide gap after 1",
        "Opening row 1, handstroke: 4 struck 129 ms late, leaving a wide gap after 3",
        "Opening row 2, backstroke: 5 struck 120 ms early, clipping 4",
    ]
    assert events(marked) == []


def test_a_piece_cut_short_is_counted_as_far_as_it_was_rung() -> None:
    short = replace(PIECE, rows=PIECE.rows[:50].copy())
    count = count_striking(out(short, {(ROW, 4): 130}), PIECE)
    assert charged(count) == [(ROW, 4, "late", ONE)]
    assert (count.rows_judged, count.changes_missing) == (46, 14)
    assert events(count) == ["The ringing ended after change 46, 14 changes short"]
    assert "14 marked rows were not rung" in count.notes[0]


def test_a_stop_and_a_second_beginning() -> None:
    first = replace(PIECE, rows=PIECE.rows[:30].copy())
    again = out(PIECE, {(ROW, 4): 130})
    log = joined(out(first, {(20, 3): 150}), replace(again, times_s=again.times_s + 120))
    count = count_striking(log, PIECE)
    assert charged(count) == [(ROW, 4, "late", ONE)]
    assert events(count) == ["30 rows were rung before the piece was begun again"]


def test_an_unsteady_band_is_spoken_to_kindly() -> None:
    count = count_striking(human(PIECE, 5, spread_ms=60), PIECE)
    assert count.total > 20
    assert not any(word in count.summary.lower() for word in ("bad", "poor", "wrong", "fail", "terrible"))
    assert count.summary.count(".") >= 2


def test_a_wrong_bell_that_is_late_too_has_both_its_event_and_its_fault() -> None:
    log = out(PIECE, {(ROW, 3): 100})
    at = ROW * 6 + 2
    swapped = relabelled(log, {at: int(log.bells[at + 1]), at + 1: int(log.bells[at])})
    count = count_striking(swapped, PIECE)
    assert charged(count) == [(ROW, 3, "late", HALF)]
    assert sentences(count) == ["Change 22, backstroke: 3 struck in 6's place, for 6 came 300 ms late"]
    assert events(count) == ["Change 22: 3 and 6 struck the wrong way round"]


@pytest.mark.parametrize("row", [4, 63])
def test_the_first_and_the_last_change_are_marked_like_any_other(row: int) -> None:
    count = count_striking(out(PIECE, {(row, 3): 130}), PIECE)
    assert charged(count) == [(row, 3, "late", ONE)]


def test_a_pull_off_with_a_bell_out_at_both_strokes_names_it_once() -> None:
    count = count_striking(out(PIECE, {(0, 6): 100, (1, 6): 110}), PIECE)
    assert count.pull_off.startswith("In the pull-off, 6 was 109 ms late at backstroke and 99 ms late at handstroke; ")


def test_a_blow_late_after_another_that_was_late_but_not_charged_is_told_so() -> None:
    count = count_striking(out(PIECE, {(ROW, 3): 50, (ROW, 4): 85}), PIECE)
    assert charged(count) == [(ROW, 4, "late", HALF)]
    assert sentences(count) == [
        f"Change 22, backstroke: {BELLS[3]} struck 85 ms late, close in front of {BELLS[4]}",
    ]
    third = count_striking(out(PIECE, {(ROW, 3): 50, (ROW, 4): 85, (ROW, 5): 40}), PIECE)
    assert sentences(third) == [
        f"Change 22, backstroke: {BELLS[3]} struck 84 ms late, {BELLS[2]} before it being late too"
    ]


def test_one_leader_whose_handstroke_leads_are_wide_is_told_the_gap() -> None:
    piece = plain_bob(6, 10)
    times = ideal(piece)
    times[piece.is_hand, 0] += np.where(piece.rows[piece.is_hand, 0] == 1, 0.12, 0.0)
    count = count_striking(made_log(piece, times), piece)
    leads = int(((piece.rows[:, 0] == 1) & piece.is_hand & piece.is_change).sum())
    (habit,) = [habit for habit in count.habits if not habit.praise]
    assert habit.sentence == (
        f"1 leads late at handstroke: {leads} of {leads} leads, 120 ms on average, "
        "a handstroke gap of 1.4 of a blow where the band's is 1.0"
    )
    assert len(charged(count)) == leads
    assert events(count) == []


def test_evenly_open_backstroke_leads_are_a_style_and_no_fault() -> None:
    """Consistently open backstroke leads drew no faults at a published contest."""
    times = ideal(PIECE)
    times += np.cumsum(~PIECE.is_hand)[:, None] * 0.06  # a fifth of a blow more before every backstroke
    count = count_striking(made_log(PIECE, times), PIECE)
    assert (charged(count), events(count)) == ([], [])


def test_a_closed_band_is_judged_by_its_own_style_and_by_a_declared_one_if_so_declared() -> None:
    log = made_log(PIECE, ideal(PIECE, handstroke_gap=0.0))
    assert count_striking(log, PIECE).total == 0
    assert count_striking(log, PIECE, CountingRules(handstroke_gap=0.0)).total == 0
    assert count_striking(log, PIECE, CountingRules(handstroke_gap=1.0)).total > 20
