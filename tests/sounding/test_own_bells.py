"""Bells measured from a recording of ringing: what was put in comes out, and what cannot be measured is refused."""

from dataclasses import dataclass

import numpy as np
import pytest

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding import (
    ROOMS,
    Bell,
    Character,
    Noise,
    RingOfBells,
    bells_of_recording,
    human_log,
    loudness_of,
    ring,
    ring_of_bells,
)
from judging.sounding.nominals import find_nominals
from judging.sounding.partials import is_hand
from judging.striking.strike_log import StrikeLog

RATE = 22_050


@dataclass(frozen=True)
class Rung:
    """A touch on bells that are known."""

    samples: np.ndarray
    log: StrikeLog
    bells: RingOfBells


@pytest.fixture(scope="module")
def rung() -> Rung:
    row, rows = list(range(1, 9)), [list(range(1, 9))] * 8
    for change in range(64):
        for place in range(change % 2, 7, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append(row.copy())
    touch = human_log(
        Piece("hunting", np.array(rows, np.int8), opening=8), Character(spread_ms=25), peal_minutes=178, seed=4
    )
    bells = ring_of_bells(8, seed=4)
    samples, log = ring(touch.log, bells, ROOMS["dry"], Noise("wind", 25), seed=5, rate=RATE, is_hand=touch.is_hand)
    return Rung(samples, log, bells)


@pytest.fixture(scope="module")
def measured(rung: Rung) -> RingOfBells:
    return bells_of_recording(rung.samples, RATE, rung.log, 8)


def loud(bell: Bell) -> list[int]:
    """Partials within 20 dB of a bell's loudest, clanks left out."""
    level_db = bell.level_db.mean(axis=0)
    return [
        i
        for i, name in enumerate(bell.names)
        if level_db[i] > level_db.max() - 20 and bell.hz[i] < 9000 and not name.startswith("other")
    ]


def pairs(rung: Rung, measured: RingOfBells) -> list[tuple[Bell, int, Bell, int]]:
    """Every loud partial with the measured one that lies nearest."""
    return [
        (true, i, found, int(np.abs(np.log(found.hz / true.hz[i])).argmin()))
        for true, found in zip(rung.bells.bells, measured.bells, strict=True)
        for i in loud(true)
    ]


def test_partials_lie_where_they_were_put(rung: Rung, measured: RingOfBells) -> None:
    cents = np.array([abs(1200 * np.log2(found.hz[k] / true.hz[i])) for true, i, found, k in pairs(rung, measured)])

    assert (cents < 25).mean() > 0.9
    assert np.median(cents) < 1.5
    assert np.quantile(cents[cents < 25], 0.8) < 5


def test_partials_sound_as_long_as_they_did(rung: Rung, measured: RingOfBells) -> None:
    off = np.array(
        [
            abs(np.log(found.t60_s[k] / true.t60_s[i]))
            for true, i, found, k in pairs(rung, measured)
            if abs(np.log2(found.hz[k] / true.hz[i])) < 0.02
        ]
    )

    assert np.median(off) < np.log(1.2)
    assert np.quantile(off, 0.75) < np.log(1.4)


def test_partials_are_as_loud_beside_each_other_and_at_hand_and_back(rung: Rung, measured: RingOfBells) -> None:
    both = [p for p in pairs(rung, measured) if abs(np.log2(p[2].hz[p[3]] / p[0].hz[p[1]])) < 0.02]
    off_db = np.array([f.level_db.mean(axis=0)[k] - t.level_db.mean(axis=0)[i] for t, i, f, k in both])
    apart = np.array([(np.diff(t.level_db[:, i])[0], np.diff(f.level_db[:, k])[0]) for t, i, f, k in both])

    assert np.median(np.abs(off_db - np.median(off_db))) < 1.5
    assert np.corrcoef(apart.T)[0, 1] > 0.5


def test_nominals_and_the_swing_of_the_bells_are_found(rung: Rung, measured: RingOfBells) -> None:
    for true, found in zip(rung.bells.bells, measured.bells, strict=True):
        assert found.nominal_hz == pytest.approx(true.nominal_hz, rel=0.005)
        assert found.names.count("nominal") == 1
    shift = np.array([bell.doppler for bell in measured.bells])
    assert (shift > 0).all()  # raised at handstroke
    assert np.median(shift) == pytest.approx(np.median([b.doppler for b in rung.bells.bells]), rel=0.35)


def test_the_same_recording_gives_the_same_bells(rung: Rung, measured: RingOfBells) -> None:
    again = bells_of_recording(rung.samples, RATE, rung.log, 8)

    for one, other in zip(measured.bells, again.bells, strict=True):
        np.testing.assert_array_equal(one.hz, other.hz)
        np.testing.assert_array_equal(one.level_db, other.level_db)


def test_rung_again_they_are_no_louder_than_the_recording_and_never_clipped(rung: Rung, measured: RingOfBells) -> None:
    for quieter in (1.0, 0.05):
        wanted = loudness_of(rung.samples * np.float32(quieter), RATE, rung.log)
        again, log = ring(rung.log, measured, seed=1, rate=RATE, loudness=wanted)

        assert loudness_of(again, RATE, log) <= wanted * 1.001
        assert np.abs(again).max() <= 10 ** (-3 / 20) * 1.001


def test_a_bell_struck_too_rarely_is_named(rung: Rung) -> None:
    few = (rung.log.bells != 5) | (np.cumsum(rung.log.bells == 5) <= 11)
    log = StrikeLog(rung.log.times_s[few], rung.log.bells[few], rung.log.spread_ms[few], "practice.csv")

    with pytest.raises(InputError, match=r"practice\.csv.*bell 5 was struck 11 times"):
        bells_of_recording(rung.samples, RATE, log, 8)


def test_noise_alone_has_no_bells(rung: Rung) -> None:
    noise = np.random.default_rng(1).normal(0, 0.1, len(rung.samples)).astype(np.float32)

    with pytest.raises(InputError, match="cannot be told apart"):
        bells_of_recording(noise, RATE, rung.log, 8)


def test_times_of_another_touch_are_refused(rung: Rung) -> None:
    """Blows at other times than the bells were struck: nothing rises with them."""
    rng = np.random.default_rng(2)
    times_s = np.sort(rng.uniform(rung.log.times_s[0], rung.log.times_s[-1], len(rung.log)))
    log = StrikeLog(times_s, rung.log.bells.copy(), rung.log.spread_ms.copy())

    with pytest.raises(InputError, match="cannot be told apart"):
        bells_of_recording(rung.samples, RATE, log, 8)


def test_a_rate_that_holds_no_bell_is_refused(rung: Rung) -> None:
    with pytest.raises(InputError, match="8,000 samples a second"):
        bells_of_recording(rung.samples, 8_000, rung.log, 8)


def test_a_blow_that_is_missing_is_a_stroke_all_the_same() -> None:
    np.testing.assert_array_equal(is_hand(np.array([0.0, 2.0, 4.1, 8.0, 10.0])), [True, False, True, True, False])


@pytest.mark.parametrize("hidden", [None, 3])
def test_the_nominal_is_found_by_the_pattern_even_where_it_is_hidden(hidden: int | None) -> None:
    """Ratios of an ideal bell, bells in a major scale; one nominal is not there to be seen."""
    ratios = np.array([0.25, 0.5, 0.6, 0.75, 1.0, 1.5, 2.05, 2.7])
    nominals_hz = 900 * 2 ** (np.array([9, 7, 5, 4, 2, 0]) / 12)
    bells = []
    for number, nominal_hz in enumerate(nominals_hz):
        own = np.column_stack([nominal_hz * ratios, [-3.0, -3, 5, -22, 0, -4, -8, -12]])
        bells.append(np.delete(own, 4, axis=0) if number == hidden else own)

    found = np.array(find_nominals(bells))

    assert np.abs(found / nominals_hz - 1).max() < 0.01
