from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, hunt, ideal, joined, made_log, out, plain_bob, relabelled, rounds, without
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.piece.piece import Label, Piece
from judging.striking import Rung, StrikeLog, count_striking, lay


def shifted(log: StrikeLog, by_s: float) -> StrikeLog:
    return replace(log, times_s=log.times_s + by_s)


def told(rung: Rung) -> list[str]:
    return [event.sentence for event in rung.events]


def in_order(piece: Piece) -> NDArray[np.int64]:
    """Blow of each place when nothing is missing."""
    return np.arange(piece.rows.size).reshape(piece.rows.shape)


@pytest.mark.parametrize("bells", range(3, 17))
def test_a_clean_log_is_laid_blow_for_blow_on_any_number_of_bells(bells: int) -> None:
    piece = hunt(bells, 4 * bells)
    rung = lay(human(piece, bells, spread_ms=20), piece)
    assert np.array_equal(rung.strike, in_order(piece))
    assert rung.events == ()
    assert rung.extra == ()


@given(seed=st.integers(0, 10_000), bells=st.sampled_from([5, 6, 8]))
@settings(max_examples=25, deadline=None)
def test_blows_lost_anywhere_are_found_missing_where_they_were(seed: int, bells: int) -> None:
    piece = plain_bob(bells, 4)
    random = np.random.default_rng(seed)
    lost = random.choice(np.arange(2 * bells, piece.rows.size - 2 * bells, 2 * bells), 4, replace=False)
    lost = lost + random.integers(bells)
    rung = lay(without(human(piece, seed, spread_ms=20), *lost.tolist()), piece)
    assert np.flatnonzero(rung.strike.ravel() < 0).tolist() == sorted(lost.tolist())
    assert [event.kind for event in rung.events] == ["missing blow"] * 4


@given(
    seed=st.integers(0, 10_000),
    bells=st.sampled_from([6, 8, 10]),
    early=st.integers(2, 3),
    place=st.integers(3, 5),
    lost=st.integers(0, 5),
)
@settings(max_examples=25, deadline=None)
def test_a_bell_some_places_from_its_own_is_laid_alike_where_a_blow_of_the_next_row_was_not_heard(
    seed: int, bells: int, early: int, place: int, lost: int
) -> None:
    piece = plain_bob(bells, 4)
    own = 20 * bells + place
    log = human(piece, seed, spread_ms=10)
    times_s = log.times_s.copy()
    times_s[own] = (times_s[own - early] + times_s[own - early - 1]) / 2  # the others keep their time
    order = np.argsort(times_s)
    log = replace(log, times_s=times_s[order], bells=log.bells[order])
    heard = lay(log, piece)
    unheard = 21 * bells + lost
    rung = lay(without(log, unheard), piece)
    assert np.array_equal(heard.strike, in_order(piece))
    assert np.flatnonzero(rung.bells.ravel() != heard.bells.ravel()).tolist() == [unheard]


@given(seed=st.integers(0, 10_000), bells=st.sampled_from([5, 6, 8]))
@settings(max_examples=25, deadline=None)
def test_exchanged_bells_keep_their_places_in_time(seed: int, bells: int) -> None:
    piece = plain_bob(bells, 4)
    random = np.random.default_rng(seed)
    rows = random.choice(np.arange(4, len(piece.rows) - 4, 3), 3, replace=False)
    first = rows * bells + random.integers(0, bells - 1)
    log = human(piece, seed, spread_ms=20)
    swapped = {int(blow): int(log.bells[blow + 1]) for blow in first}
    swapped |= {int(blow + 1): int(log.bells[blow]) for blow in first}
    rung = lay(relabelled(log, swapped), piece)
    assert np.array_equal(rung.strike, in_order(piece))
    assert [(event.kind, event.first_row) for event in rung.events] == [("exchanged", row) for row in sorted(rows)]


def test_a_whole_touch_of_slips_is_still_laid_right() -> None:
    """A row in three with two bells exchanged, a row in ten with a blow lost, 3 % of the bells not known."""
    piece = plain_bob(8, 6)
    wrong = places = 0
    for seed in range(6):
        random = np.random.default_rng(seed)
        log = human(piece, seed, spread_ms=25)
        bells, blows = log.bells.copy(), in_order(piece)
        for row in np.flatnonzero(random.random(len(piece.rows)) < 0.33).tolist():
            at = row * 8 + int(random.integers(7))
            bells[[at, at + 1]] = bells[[at + 1, at]]
        bells[random.random(len(bells)) < 0.03] = 0
        lost = [int(row * 8 + random.integers(8)) for row in range(5, len(piece.rows), 10)]
        numbers = np.full(piece.rows.size, -1)
        numbers[np.delete(np.arange(piece.rows.size), lost)] = np.arange(piece.rows.size - len(lost))
        rung = lay(without(replace(log, bells=bells), *lost), piece)
        wrong += int((rung.strike != numbers[blows]).sum())
        places += blows.size
    assert wrong <= places / 1000


def test_a_blow_too_many_belongs_to_no_place() -> None:
    piece = plain_bob(6, 4)
    log = human(piece, 2, spread_ms=10)
    twice = joined(log, StrikeLog(np.array([log.times_s[100] + 0.08]), log.bells[100:101].copy(), np.zeros(1)))
    order = np.argsort(twice.times_s, kind="stable")
    rung = lay(StrikeLog(twice.times_s[order], twice.bells[order], twice.spread_ms[order]), piece)
    assert rung.extra == (101,)
    assert told(rung) == [f"Change 13: {log.bells[100]} was heard once too often"]


def test_two_bells_that_change_over_and_back_are_one_event_with_its_recovery() -> None:
    piece = plain_bob(6, 4)
    log = human(piece, 4, spread_ms=10)
    rows = piece.rows.copy()
    for row in range(20, 25):
        three, four = rows[row] == 3, rows[row] == 4
        rows[row][three], rows[row][four] = 4, 3
    rung = lay(replace(log, bells=rows.ravel().copy()), piece)
    (event,) = rung.events
    assert (event.kind, event.first_row, event.last_row, event.bells) == ("out of course", 20, 24, (3, 4))
    assert event.sentence == "Changes 17 to 21: 3 and 4 were out of course, right again at change 22 (5 rows)"


def test_the_last_bell_after_the_next_lead_is_an_exchange_over_two_rows() -> None:
    piece = plain_bob(6, 4)
    log = human(piece, 4, spread_ms=1)
    at = 20 * 6 + 5
    rung = lay(relabelled(log, {at: int(log.bells[at + 1]), at + 1: int(log.bells[at])}), piece)
    (event,) = rung.events
    assert (event.kind, event.first_row, event.last_row) == ("exchanged", 20, 21)


def test_more_opening_rounds_than_the_piece_has_are_put_before_it() -> None:
    piece, rung_piece = plain_bob(6, 3, opening=2), plain_bob(6, 3, opening=10)
    rung = lay(human(rung_piece, 1), piece)
    assert rung.rows_before == 8
    assert rung.piece.opening == 10
    assert np.array_equal(rung.strike, in_order(rung_piece))
    assert rung.piece.change_of(10) == 1


def test_opening_rounds_before_a_piece_that_has_none_are_put_before_it() -> None:
    piece, rung_piece = plain_bob(8, 3, opening=0), plain_bob(8, 3, opening=5)
    rung = lay(human(rung_piece, 1), piece)
    assert (rung.rows_before, rung.piece.opening) == (5, 5)
    assert rung.piece.is_hand[5]


def test_a_log_that_begins_and_ends_within_the_piece_says_so() -> None:
    piece = plain_bob(6, 5)
    log = human(piece, 1)
    rung = lay(without(log, *range(150), *range(300, len(log))), piece)
    assert np.flatnonzero(rung.is_rung).tolist() == list(range(25, 50))
    assert told(rung) == [
        "The log begins at change 22, with 21 changes before it",
        "The ringing ended after change 46, 14 changes short",
    ]


def test_ringing_on_in_rounds_after_the_end_is_nothing_to_speak_of() -> None:
    piece = plain_bob(6, 5)
    longer = replace(piece, rows=np.concatenate([piece.rows, np.tile(piece.rows[0], (6, 1))]))
    rung = lay(human(longer, 1), piece)
    assert rung.events == ()
    assert len(rung.extra) == 36


def test_ringing_on_in_changes_after_the_end_is_over_length() -> None:
    piece = plain_bob(6, 5)
    short = replace(piece, rows=piece.rows[:50].copy())
    rung = lay(human(piece, 1), short)
    assert [event.kind for event in rung.events] == ["over length"]
    assert told(rung) == ["14 more rows were rung after change 46"]


def test_a_lead_left_out_is_said_and_the_rest_is_laid() -> None:
    piece = plain_bob(6, 5)
    left_out = replace(piece, rows=np.delete(piece.rows, np.arange(28, 40), axis=0))
    rung = lay(human(left_out, 1), piece)
    assert told(rung) == ["Changes 25 to 36 were left out"]
    assert np.flatnonzero(~rung.is_rung).tolist() == list(range(28, 40))


@pytest.mark.parametrize(("silence_s", "why"), [(0.0, "Rows were left out"), (9.0, "The ringing stopped")])
def test_rows_left_out_are_a_stop_only_where_nothing_was_rung_meanwhile(silence_s: float, why: str) -> None:
    piece = plain_bob(6, 5)
    log = human(replace(piece, rows=np.delete(piece.rows, np.arange(28, 40), axis=0)), 1)
    late = np.arange(len(log)) >= 28 * 6
    count = count_striking(replace(log, times_s=log.times_s + silence_s * late), piece)
    assert f"{why} before change 37: the rhythm begins afresh there" in count.notes


def test_a_lead_rung_twice_is_rows_too_many() -> None:
    piece = plain_bob(6, 5)
    twice = replace(piece, rows=np.insert(piece.rows, 40, piece.rows[28:40], axis=0))
    rung = lay(human(twice, 1), piece)
    assert [event.kind for event in rung.events] == ["extra rows"]
    assert "12 rows more than the piece has" in told(rung)[0]


def test_a_broken_attempt_before_the_one_that_counts_is_a_restart() -> None:
    piece = plain_bob(6, 5)
    first = replace(piece, rows=piece.rows[:30].copy())
    attempt = human(first, 1)
    rung = lay(joined(attempt, shifted(human(piece, 2), 90)), piece)
    assert [event.kind for event in rung.events] == ["restart"]
    assert np.flatnonzero(rung.is_rung).tolist() == list(range(len(piece.rows)))
    assert rung.strike[0, 0] == 180


def test_ringing_that_never_comes_right_again_is_a_fire_out() -> None:
    piece = plain_bob(6, 10)
    random = np.random.default_rng(0)
    rows = piece.rows.copy()
    for row in range(90, 100):
        rows[row] = random.permutation(rows[row])
    fired = replace(piece, rows=rows[:100])
    rung = lay(made_log(fired, ideal(fired)), piece)
    assert "fire out" in [event.kind for event in rung.events]
    assert "short" in [event.kind for event in rung.events]


def test_a_bell_never_heard_is_one_event_and_the_others_keep_their_places() -> None:
    piece = plain_bob(6, 3)
    log = human(piece, 1, spread_ms=10)
    rung = lay(without(log, *np.flatnonzero(log.bells == 6).tolist()), piece)
    (event,) = rung.events
    assert (event.kind, event.bells, event.first_row, event.last_row) == ("missing blow", (6,), 0, len(piece.rows) - 1)
    assert np.array_equal(rung.bells > 0, piece.rows != 6)


def test_a_bell_that_falls_silent_half_way_is_one_event() -> None:
    piece = plain_bob(8, 5)
    log = human(piece, 1, spread_ms=10)
    silent = np.flatnonzero((log.bells == 5) & (np.arange(len(log)) >= 40 * 8))
    rung = lay(without(log, *silent.tolist()), piece)
    assert [(event.kind, event.bells, event.first_row) for event in rung.events] == [("missing blow", (5,), 40)]


def test_bells_exchanged_throughout_are_laid_and_said() -> None:
    piece = plain_bob(6, 5)
    log = human(piece, 1, spread_ms=10)
    exchange = np.array([0, 2, 1, 3, 4, 5, 6], dtype=np.int8)
    rung = lay(replace(log, bells=exchange[log.bells]), piece)
    assert np.array_equal(rung.strike, in_order(piece))
    assert {event.bells for event in rung.events} == {(1, 2)}


def test_a_log_of_times_alone_is_laid_by_counting() -> None:
    piece = plain_bob(6, 3)
    log = human(piece, 1, spread_ms=10)
    rung = lay(replace(log, bells=np.zeros(len(log), dtype=np.int8)), piece)
    assert np.array_equal(rung.strike, in_order(piece))
    assert np.array_equal(rung.bells, piece.rows)


def test_unknown_bells_fill_the_places_that_their_times_say() -> None:
    piece = plain_bob(8, 5)
    log = human(piece, 1, spread_ms=20)
    unknown = np.random.default_rng(1).random(len(log)) < 0.15
    rung = lay(replace(log, bells=np.where(unknown, 0, log.bells).astype(np.int8)), piece)
    assert np.array_equal(rung.strike, in_order(piece))


@pytest.mark.parametrize("missing", range(12))
def test_one_whole_pull_less_one_blow_is_laid_round_it(missing: int) -> None:
    piece = rounds(6, 2)
    rung = lay(without(out(piece, {}), missing), piece)
    assert np.flatnonzero(rung.strike.ravel() < 0).tolist() == [missing]


def test_rounds_alone_are_laid_from_the_first_treble() -> None:
    piece = rounds(6, 30)
    log = human(piece, 1)
    assert np.array_equal(lay(log, piece).strike, in_order(piece))
    assert lay(without(log, 0, 1), piece).strike[0].tolist() == [-1, -1, 0, 1, 2, 3]


def held(lengths: dict[str, int]) -> Piece:
    """Call changes with each row as often as it was rung."""
    rows = [[int(bell) for bell in row.split("x")[0]] for row, times in lengths.items() for _ in range(times)]
    return Piece("as rung", np.array(rows, dtype=np.int8), opening=next(iter(lengths.values())))


def test_call_changes_of_lengths_unknown_beforehand_are_filled_in() -> None:
    as_rung = held({"12345": 6, "12354": 4, "13254": 8, "13245": 2, "12345x": 4})
    once = Piece(
        "call changes",
        np.array([[1, 2, 3, 4, 5], [1, 2, 3, 5, 4], [1, 3, 2, 5, 4], [1, 3, 2, 4, 5], [1, 2, 3, 4, 5]], dtype=np.int8),
        opening=1,
        labels=(Label(2, "call", "2 to 3"),),
        free_lengths=True,
    )
    rung = lay(human(as_rung, 3, spread_ms=20), once)
    assert np.array_equal(rung.piece.rows, as_rung.rows)
    assert np.array_equal(rung.strike, in_order(as_rung))
    assert (rung.piece.opening, rung.piece.closing) == (6, 3)
    assert rung.piece.labels == (Label(10, "call", "2 to 3"),)
    assert not rung.piece.free_lengths


def test_call_changes_with_slips_are_filled_in_all_the_same() -> None:
    as_rung = held({"12345": 6, "12354": 8, "13254": 8, "13245": 6, "12345x": 4})
    once = Piece("call changes", as_rung.rows[[0, 6, 14, 22, 28]].copy(), opening=1, free_lengths=True)
    log = without(human(as_rung, 3, spread_ms=20), 47, 90)
    slipped = relabelled(log, {61: int(log.bells[62]), 62: int(log.bells[61])})
    rung = lay(slipped, once)
    assert np.array_equal(rung.piece.rows, as_rung.rows)
    assert int((rung.strike < 0).sum()) == 2


@pytest.mark.parametrize(
    ("log", "piece", "says"),
    [
        (StrikeLog(np.zeros(0), np.zeros(0, dtype=np.int8), np.zeros(0)), rounds(6, 2), "no blow"),
        (human(rounds(8, 10), 1), plain_bob(6, 2), "bell 8 was heard, but 24 changes on 6 is for 6 bells"),
        (human(rounds(6, 40), 1), plain_bob(6, 2), "the changes of 24 changes on 6 never begin"),
        (human(plain_bob(6, 5), 1), hunt(6, 60, 4, dodging_every=10), "this is not 60 changes on 6"),
    ],
)
def test_a_log_that_is_not_the_piece_is_refused_with_the_reason(log: StrikeLog, piece: Piece, says: str) -> None:
    with pytest.raises(NothingHeard, match=says):
        lay(log, piece)


def test_free_lengths_of_another_piece_are_refused() -> None:
    once = Piece("calls", np.array([[2, 1, 4, 3, 5], [2, 1, 4, 5, 3]], dtype=np.int8), free_lengths=True)
    with pytest.raises(NothingHeard, match="no row of calls was heard whole"):
        lay(human(rounds(5, 12), 1), once)
    two = StrikeLog(np.array([0.0, 0.3]), np.array([1, 2], dtype=np.int8), np.zeros(2))
    with pytest.raises(NothingHeard, match="calls"):
        lay(two, once)


def test_a_silent_bell_for_which_a_few_blows_are_taken_is_silent_all_the_same() -> None:
    piece = plain_bob(6, 5)
    log = human(piece, 1, spread_ms=10)
    silent = without(log, *np.flatnonzero(log.bells == 4).tolist())
    rung = lay(relabelled(silent, {60: 4, 150: 4, 200: 0}), piece)
    assert np.array_equal(rung.bells > 0, piece.rows != 4)
    assert ("missing blow", (4,)) in [(event.kind, event.bells) for event in rung.events]


@pytest.mark.parametrize("slip", [27, 28])
def test_a_lead_left_out_with_a_slip_at_the_join_is_found(slip: int) -> None:
    piece = plain_bob(6, 5)
    kept = np.delete(np.arange(len(piece.rows)), np.arange(28, 40))
    left_out = replace(piece, rows=piece.rows[kept].copy())
    log = human(left_out, 1, spread_ms=10)
    at = slip * 6 + 2
    rung = lay(relabelled(log, {at: int(log.bells[at + 1]), at + 1: int(log.bells[at])}), piece)
    assert np.flatnonzero(~rung.is_rung).tolist() == list(range(28, 40))
    assert sorted(event.kind for event in rung.events) == ["exchanged", "missing rows"]


def test_rows_too_many_with_a_slip_at_the_join_are_found() -> None:
    piece = plain_bob(6, 5)
    more = replace(piece, rows=np.insert(piece.rows, 40, np.tile(piece.rows[0], (2, 1)), axis=0))
    log = human(more, 1, spread_ms=10)
    at = 39 * 6 + 2
    rung = lay(relabelled(log, {at: int(log.bells[at + 1]), at + 1: int(log.bells[at])}), piece)
    assert rung.is_rung.all()
    assert sorted(event.kind for event in rung.events) == ["exchanged", "extra rows"]
    assert any("2 rows more than the piece has" in sentence for sentence in told(rung))


def test_a_stop_in_the_middle_adds_no_rows() -> None:
    piece = plain_bob(6, 5)
    times = ideal(piece)
    times[30:] += 25
    log = made_log(piece, times)
    at = 29 * 6 + 2
    rung = lay(without(relabelled(log, {at: int(log.bells[at + 1]), at + 1: int(log.bells[at])}), 31 * 6), piece)
    assert rung.is_rung.all()
    assert sorted(event.kind for event in rung.events) == ["exchanged", "missing blow"]
