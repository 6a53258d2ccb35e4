from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding import Character, HeldUp, Lateness, Mistake, Touch, human_log, ideal_log
from judging.sounding.steady import gap_s

PERFECT = Character(spread_ms=0, follow=0, pace_drift=0, pull_off_ms=0)
PACE = {"peal_minutes": 170.0, "handstroke_gap": 1.0}


def lateness_ms(touch: Touch) -> np.ndarray:
    """How late each blow was against the rhythm the band felt."""
    return np.asarray(1000 * (touch.times_s - touch.felt_s))


def test_a_band_without_faults_rings_ideally(hunting: Callable[..., Piece]) -> None:
    piece = hunting(6, rows=40)
    touch = human_log(piece, PERFECT, **PACE, seed=3)
    ideal = ideal_log(piece, **PACE)

    assert touch.log.times_s == pytest.approx(ideal.times_s, abs=1e-9)
    assert np.array_equal(touch.log.bells, ideal.bells)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**31), st.integers(3, 12), st.floats(5, 60))
def test_log_and_truth_tell_the_same_blows_in_order_of_time(seed: int, bells: int, spread_ms: float) -> None:
    rows = np.array([np.roll(np.arange(1, bells + 1), r) for r in range(8)], np.int8)
    piece = Piece("rotations", rows, opening=1)
    touch = human_log(piece, Character(spread_ms=spread_ms, clips=2, slips=0.1), **PACE, seed=seed)

    assert (np.diff(touch.log.times_s) >= 0).all()
    assert np.array_equal(touch.log.times_s, touch.times_s[touch.row, touch.place - 1])
    assert np.array_equal(touch.log.bells, touch.bells[touch.row, touch.place - 1])
    assert np.array_equal(touch.is_hand, piece.is_hand[touch.row])
    assert len(set(zip(touch.row, touch.place, strict=True))) == rows.size
    for bell in range(1, bells + 1):
        own = touch.log.bells == bell
        assert np.array_equal(touch.row[own], np.arange(len(rows)))
        assert (np.diff(touch.log.times_s[own]) > 0.5 * bells * touch.gap_s.min()).all()


def test_the_same_seed_gives_the_same_touch_and_another_seed_another(hunting: Callable[..., Piece]) -> None:
    one, same, other = (human_log(hunting(6, rows=20), Character(), **PACE, seed=seed) for seed in (1, 1, 2))

    assert np.array_equal(one.log.times_s, same.log.times_s)
    assert not np.array_equal(one.log.times_s, other.log.times_s)


def test_spread_and_what_is_carried_are_as_asked(hunting: Callable[..., Piece]) -> None:
    """A share ``follow`` of the error in front is carried: it correlates neighbours, and widens the spread."""
    character = replace(PERFECT, spread_ms=25.0, follow=0.5)
    touch = human_log(hunting(8, rows=800), character, **PACE, seed=5)
    late_ms = lateness_ms(touch)

    assert touch.own_ms.std() == pytest.approx(25, rel=0.05)
    assert np.corrcoef(late_ms[:, 2:-1].ravel(), late_ms[:, 3:].ravel())[0, 1] == pytest.approx(0.5, abs=0.05)
    assert late_ms[:, 4:].std() == pytest.approx(25 / np.sqrt(1 - 0.5**2), rel=0.06)


def test_a_late_tenor_is_late_at_its_stroke_and_nowhere_else(hunting: Callable[..., Piece]) -> None:
    piece = hunting(6, rows=300)
    habit = (Lateness(6, "back", 38.0),)
    touch = human_log(piece, Character(spread_ms=20, late=habit, pull_off_ms=0), **PACE, seed=2)
    of_tenor = touch.bells == 6
    at_back = ~piece.is_hand[:, None]

    assert touch.own_ms[of_tenor & at_back].mean() == pytest.approx(38, abs=5)
    assert touch.own_ms[of_tenor & ~at_back].mean() == pytest.approx(0, abs=5)
    assert touch.own_ms[~of_tenor].mean() == pytest.approx(0, abs=3)


def test_a_bell_late_only_when_it_leads_is_late_only_there(hunting: Callable[..., Piece]) -> None:
    habit = (Lateness(3, "hand", 50.0, leads_only=True),)
    touch = human_log(hunting(6, rows=120), replace(PERFECT, late=habit), **PACE, seed=2)
    row, place = np.nonzero(touch.own_ms)

    assert set(place) == {0}
    assert (touch.bells[row, place] == 3).all()
    assert touch.own_ms[row, place] == pytest.approx(np.full(len(row), 50.0))
    assert len(row) > 5


def test_uneven_leads_depend_on_who_leads(hunting: Callable[..., Piece]) -> None:
    """Half of the variance belongs to the bell, half to chance; backstrokes and inner places keep even."""
    piece = hunting(6, rows=1200)
    touch = human_log(piece, replace(PERFECT, uneven_leads_ms=60.0), **PACE, seed=4)
    leads, leaders = touch.own_ms[piece.is_hand, 0], touch.bells[piece.is_hand, 0]
    means = np.array([leads[leaders == bell].mean() for bell in range(1, 7) if (leaders == bell).any()])

    assert np.ptp(means) > 30
    assert (leads - means[np.searchsorted(np.unique(leaders), leaders)]).std() == pytest.approx(
        60 / np.sqrt(2), rel=0.1
    )
    assert not touch.own_ms[~piece.is_hand].any()
    assert not touch.own_ms[:, 1:].any()


def test_a_mistake_exchanges_two_bells_and_is_put_right_with_ragged_blows_around(hunting: Callable[..., Piece]) -> None:
    piece = hunting(6, rows=60)
    character = Character(spread_ms=15, pull_off_ms=0, mistakes=(Mistake(20, (2, 5), 4),))
    wrong = list(range(23, 27))
    rough, calm = [], []
    for seed in range(12):
        touch = human_log(piece, character, **PACE, seed=seed)
        differing = (touch.bells != piece.rows).any(axis=1)
        assert touch.wrong_rows == tuple(wrong)
        assert np.flatnonzero(differing).tolist() == wrong
        exchanged = {2: 5, 5: 2}
        for r in wrong:
            assert touch.bells[r].tolist() == [exchanged.get(bell, bell) for bell in piece.rows[r].tolist()]
        rough.append(touch.own_ms[22:30].std())
        calm.append(touch.own_ms[35:].std())

    assert np.mean(rough) > 1.7 * np.mean(calm)


def test_a_ragged_pull_off_settles_through_the_opening_rounds(hunting: Callable[..., Piece]) -> None:
    character = Character(spread_ms=15, pull_off_ms=120)
    touches = [human_log(hunting(6, rows=20, opening=10), character, **PACE, seed=seed) for seed in range(12)]
    first, sixth, later = (np.std([t.own_ms[rows] for t in touches]) for rows in (slice(0, 2), 5, slice(14, 30)))

    assert first == pytest.approx(120, rel=0.2)
    assert 15 < sixth < 60
    assert later == pytest.approx(15, rel=0.15)
    assert all(t.own_ms[0, 0] == 0 for t in touches)


def test_a_held_up_row_moves_all_that_follows_and_nothing_before(hunting: Callable[..., Piece]) -> None:
    """The band is causal: what happens later cannot move what was rung before."""
    piece = hunting(6, rows=40)
    plain, held = (human_log(piece, Character(held_up=stops), **PACE, seed=7) for stops in ((), (HeldUp(15, 200.0),)))
    moved_ms = 1000 * (held.times_s - plain.times_s)

    assert np.abs(moved_ms[: piece.opening + 14]).max() < 1e-6
    assert moved_ms[piece.opening + 14 :] == pytest.approx(np.full((26, 6), 200.0))


def test_clips_fall_close_to_the_bell_in_front(hunting: Callable[..., Piece]) -> None:
    touch = human_log(hunting(6, rows=200), replace(PERFECT, clips=9), **PACE, seed=7)
    gaps = np.diff(touch.times_s, axis=1) / touch.gap_s[:, None]
    clipped = (touch.own_ms < 0).sum()

    assert 7 <= clipped <= 9  # two may fall on one blow
    assert ((gaps < 0.6).sum()) == clipped
    assert touch.own_ms.min() > -0.76 * 1000 * touch.gap_s.max()


def test_slips_are_rare_and_large(hunting: Callable[..., Piece]) -> None:
    touch = human_log(hunting(6, rows=1000), replace(PERFECT, spread_ms=20.0, slips=0.02), **PACE, seed=7)

    assert (np.abs(touch.own_ms) > 70).mean() == pytest.approx(0.02 * 0.24, rel=0.5)  # P(|z| > 70 / 60) = 0.24
    assert np.median(np.abs(touch.own_ms)) == pytest.approx(0.674 * 20, rel=0.05)


def test_pace_drifts_and_trends_as_asked(hunting: Callable[..., Piece]) -> None:
    piece = hunting(8, rows=400)
    drifting = human_log(piece, replace(PERFECT, pace_drift=0.004), **PACE, seed=1).gap_s
    slowing = human_log(piece, replace(PERFECT, pace_trend=0.06), **PACE, seed=1).gap_s

    assert np.std(np.diff(np.log(drifting))) == pytest.approx(0.004, rel=0.15)
    assert np.abs(np.log(drifting / gap_s(8, **PACE))).max() < 0.08
    assert slowing[-1] / slowing[0] == pytest.approx(np.exp(0.06))


@pytest.mark.parametrize(
    ("character", "match"),
    [
        (Character(late=(Lateness(7, "back", 30),)), "bell 7"),
        (Character(mistakes=(Mistake(1, (2, 9), 2),)), "bell 9"),
        (Character(mistakes=(Mistake(39, (2, 3), 4),)), "changes 39 to 42"),
        (Character(mistakes=(Mistake(3, (2, 3), 0),)), "changes 3 to 2"),
        (Character(held_up=(HeldUp(0, 100),)), "changes 0"),
    ],
)
def test_a_character_that_does_not_fit_the_piece_is_refused(
    character: Character, match: str, hunting: Callable[..., Piece]
) -> None:
    with pytest.raises(InputError, match=match):
        human_log(hunting(6, rows=40), character, **PACE, seed=1)


@pytest.mark.parametrize(
    "given_as",
    [
        {"spread_ms": -1},
        {"follow": 1.0},
        {"spread_ms": float("nan")},
        {"clips": -1},
        {"pull_off_ms": 4000},
        {"slips": 2},
    ],
)
def test_a_character_no_band_has_is_refused_by_the_name_of_its_trait(given_as: dict[str, float]) -> None:
    with pytest.raises(InputError, match=next(iter(given_as))):
        Character(**given_as)
