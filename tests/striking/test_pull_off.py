import numpy as np
from made_bands import human, ideal, joined, made_log, out, plain_bob, rounds

from judging.striking import StrikeLog, count_striking
from judging.striking.pull_off import pull_offs, series_in_words


def practice(spreads_ms: list[float], *, rows: int = 2, seed: int = 0) -> StrikeLog:
    """A log of pull-offs with silence between."""
    piece, logs = rounds(6, rows), []
    for index, spread_ms in enumerate(spreads_ms):
        log = human(piece, seed + index, spread_ms=spread_ms)
        logs.append(StrikeLog(log.times_s + 60 * index, log.bells.copy(), log.spread_ms.copy()))
    return joined(*logs)


def test_a_pull_off_that_is_together_is_said_to_be() -> None:
    piece = plain_bob(6, 2)
    count = count_striking(human(piece, 1, spread_ms=5), piece)
    assert count.pull_off.startswith("The pull-off was together: ")
    assert len(count.pull_offs) == 1


def test_each_bell_has_its_early_and_late_at_hand_and_back() -> None:
    piece = rounds(6, 12)
    (pulled,) = pull_offs(out(piece, {(0, 3): 90, (1, 5): -75}), piece)
    assert np.abs(pulled.late_ms[0, 2] - 90) < 6
    assert np.abs(pulled.late_ms[1, 4] + 75) < 6
    assert pulled.bells.tolist() == [[1, 2, 3, 4, 5, 6]] * 2
    assert pulled.sentence.startswith("In the pull-off 3 was 9")
    assert "late at handstroke, 5 was 7" in pulled.sentence
    assert "early at backstroke; " in pulled.sentence


def test_the_pull_off_is_measured_against_the_pace_that_the_band_settles_to() -> None:
    piece = rounds(6, 14)
    times = ideal(piece)
    times[0, 3:] += 0.12
    (pulled,) = pull_offs(made_log(piece, times), piece)
    assert np.abs(pulled.late_ms[0] - [0, 0, 0, 120, 120, 120]).max() < 15


def test_a_practice_of_pull_offs_is_a_series() -> None:
    piece = rounds(6, 2)
    log = practice([40, 35, 45, 30, 20])
    count = count_striking(log, piece)
    assert len(count.pull_offs) == 5
    assert [round(pulled.time_s) for pulled in count.pull_offs] == [5, 65, 125, 185, 245]
    assert count.pull_off.startswith("5 pull-offs, ")
    assert "5 pull-offs were found; the faults are those of the piece alone" in count.notes


def test_few_pull_offs_are_too_few_to_tell() -> None:
    series = pull_offs(practice([45, 40, 35]), rounds(6, 2))
    assert "too few to tell whether they become better" in series_in_words(series)


def test_many_pull_offs_show_a_band_becoming_better() -> None:
    """From 45 to 35 ms takes about 125 blows on each side to be told surely; here are 168."""
    series = pull_offs(practice([50] * 14 + [30] * 14), rounds(6, 2))
    assert "they become better, from " in series_in_words(series)


def test_a_band_that_does_not_change_is_seldom_said_to() -> None:
    said = 0
    for seed in range(0, 2000, 100):
        series = pull_offs(practice([40] * 10, seed=seed), rounds(6, 2))
        said += ": they become" in series_in_words(series)
    assert said <= 4  # one in twenty is chance


def test_the_same_pull_off_over_and_over_cannot_be_compared_to_nothing() -> None:
    piece = rounds(6, 2)
    even = [out(piece, {}) for _ in range(2)]
    log = joined(even[0], StrikeLog(even[1].times_s + 60, even[1].bells.copy(), even[1].spread_ms.copy()))
    assert "ms from even on average" in series_in_words(pull_offs(log, piece))


def test_a_log_that_begins_in_the_middle_of_a_row_has_no_pull_off() -> None:
    piece = rounds(6, 12)
    log = human(piece, 1)
    late = StrikeLog(log.times_s[3:].copy(), log.bells[3:].copy(), log.spread_ms[3:].copy())
    assert pull_offs(late, piece) == ()
    assert series_in_words(()) == ""


def test_a_lone_blow_after_the_end_is_no_pull_off() -> None:
    piece = rounds(6, 12)
    log = human(piece, 1)
    knock = StrikeLog(np.array([log.times_s[-1] + 30]), np.array([1], dtype=np.int8), np.zeros(1))
    assert len(pull_offs(joined(log, knock), piece)) == 1


def test_changes_from_the_very_first_whole_pull_on_leave_the_whole_pull_to_itself() -> None:
    piece = plain_bob(6, 2, opening=2)
    assert len(pull_offs(human(piece, 1, spread_ms=10), piece)) == 1


def test_the_pull_off_of_a_piece_written_without_its_opening_rounds_is_found() -> None:
    written, rung = plain_bob(6, 2, opening=0), plain_bob(6, 2, opening=6)
    count = count_striking(human(rung, 1, spread_ms=5), written)
    assert count.pull_off.startswith("The pull-off was together: ")
