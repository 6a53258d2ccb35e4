"""What a tower does to every band alike, told from what a band does: on bands whose every lateness is known."""

import numpy as np
import pytest

from judging.errors import InputError
from judging.piece import Piece, read_piece
from judging.sounding import Character, Lateness, human_log
from judging.striking import count_striking
from judging.striking.installation import installation_of, without_delays
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count

PIECE = read_piece('piece = 1\nmethod = "Plain Bob Minor"\ncalling = "ppppp"\nopening_rows = 4\n', name="minor.toml")


def rung(seed: int, *, tower_ms: float = 0.0, own: tuple[Lateness, ...] = ()) -> StrikeLog:
    """A band's touch; bell 5 is late at handstroke by what the tower does."""
    touch = human_log(PIECE, Character(spread_ms=22, late=own), peal_minutes=165, seed=seed)
    late = np.where((touch.log.bells == 5) & touch.is_hand, tower_ms / 1000, 0.0)
    order = np.argsort(touch.log.times_s + late, kind="stable")
    return StrikeLog((touch.log.times_s + late)[order], touch.log.bells[order], np.zeros(len(late)))


def counted(log: StrikeLog, piece: Piece = PIECE) -> Count:
    return count_striking(log, piece)


def test_a_bell_that_is_late_for_everybody_is_the_towers() -> None:
    tower = installation_of([counted(rung(seed, tower_ms=60)) for seed in range(7)])
    # A row's yardstick gives way to a late bell by a sixth of it, and the other five seem early by that.
    assert tower.delay_ms[4, 0] == pytest.approx(50, abs=8)
    assert np.abs(np.delete(tower.delay_ms[:, 0], 4)).max() < 20
    assert np.abs(tower.delay_ms[:, 1]).max() < 12
    assert tower.se_ms[4, 0] < 8


def test_a_bell_that_is_late_in_one_band_is_that_bands_own() -> None:
    late = Lateness(bell=3, stroke="back", late_ms=70)
    logs = [rung(seed, own=(late,) if seed == 2 else ()) for seed in range(7)]
    assert abs(installation_of([counted(log) for log in logs]).delay_ms[2, 1]) < 8


def test_what_is_taken_out_gives_the_count_of_a_tower_without_it() -> None:
    with_it = [rung(seed, tower_ms=60) for seed in range(6)]
    counts = [counted(log) for log in with_it]
    tower = installation_of(counts)
    for seed, (log, count) in enumerate(zip(with_it, counts, strict=True)):
        plain, again = counted(rung(seed)).total, counted(without_delays(log, count.rung, tower)).total
        assert abs(again - plain) <= max(3, plain / 4)
        assert abs(again - plain) < abs(count.total - plain)


def test_taking_out_keeps_every_blow_and_its_bell() -> None:
    counts = [counted(rung(seed, tower_ms=60)) for seed in range(5)]
    log = rung(0, tower_ms=60)
    again = without_delays(log, counts[0].rung, installation_of(counts))
    assert sorted(again.bells) == sorted(log.bells)
    assert (np.diff(again.times_s) >= 0).all()


def test_four_bands_are_refused_with_the_number_that_is_needed() -> None:
    counts = [counted(rung(seed)) for seed in range(4)]
    with pytest.raises(InputError, match="4 bands cannot tell the tower from the people; at least 5 are needed"):
        installation_of(counts)


def test_bands_on_different_numbers_of_bells_are_refused() -> None:
    other = Piece("rounds", np.tile(np.arange(1, 6, dtype=np.int8), (20, 1)))
    fives = human_log(other, Character(spread_ms=22), peal_minutes=160, seed=1).log
    counts = [counted(rung(seed)) for seed in range(5)] + [counted(fives, other)]
    with pytest.raises(InputError, match=r"different numbers of bells \(5, 6\)"):
        installation_of(counts)


def test_the_order_of_bands_does_not_matter() -> None:
    counts = [counted(rung(seed, tower_ms=40)) for seed in range(6)]
    assert np.array_equal(installation_of(counts).delay_ms, installation_of(counts[::-1]).delay_ms)


def test_the_sentence_names_bell_stroke_size_and_doubt() -> None:
    told = installation_of([counted(rung(seed, tower_ms=60)) for seed in range(7)]).sentence
    assert "alike for all 7 bands" in told
    assert "bell 5 at handstroke" in told
    assert "ms late (± " in told
