import numpy as np
import pytest
from made_bands import ideal, made_log, plain_bob
from numpy.typing import NDArray
from scipy.linalg import lstsq

from judging.striking import count_striking
from judging.striking.passing_on import OUT_GAPS, SHARE_PRIOR, shares
from judging.striking.values import Count, Habit

PIECE = plain_bob(6, 20)


def band(share: dict[int, float], usual: float, seed: int, *, spread_ms: float = 35) -> Count:
    """A band in which each bell takes on a share of the lateness of the blow before it."""
    random = np.random.default_rng(seed)
    own, bells = random.normal(scale=spread_ms / 1000, size=PIECE.rows.size), PIECE.rows.ravel()
    late = own.copy()
    for blow in range(1, late.size):
        late[blow] += share.get(int(bells[blow]), usual) * late[blow - 1]
    times = ideal(PIECE) + late.reshape(PIECE.rows.shape)
    return count_striking(made_log(PIECE, np.sort(times.ravel()).reshape(times.shape)), PIECE)


def told(count: Count) -> list[Habit]:
    words = ("goes with the bell before", "the next goes with it", "steadies the band")
    return [habit for habit in count.habits if any(word in habit.sentence for word in words)]


@pytest.mark.parametrize("seed", range(3))
def test_shares_are_those_of_ridge_regression_solved_by_scipy(seed: int) -> None:
    """A normal prior is as many made-up blows: least squares of both together, by a general solver."""
    random = np.random.default_rng(seed)
    before = random.normal(scale=0.1, size=(300, 2))
    bell = random.integers(1, 6, size=300)
    late = before @ [0.4, 0.1] + random.normal(scale=0.1, size=300)
    found = shares(late, before, bell)
    noise = max(np.var(late), OUT_GAPS**2 / 4)
    weight = np.sqrt(noise) / SHARE_PRIOR

    def solved(rows: NDArray[np.bool_], prior: NDArray[np.float64]) -> NDArray[np.float64]:
        made_up = np.vstack([before[rows], weight * np.eye(2)])
        return np.asarray(lstsq(made_up, np.concatenate([late[rows], weight * prior]))[0])

    assert found.band == pytest.approx(solved(np.ones(300, dtype=bool), np.zeros(2)))
    for which in range(1, 6):
        assert found.bells[which] == pytest.approx(solved(bell == which, found.band))
        inverse = np.linalg.inv(before[bell == which].T @ before[bell == which] + weight**2 * np.eye(2))
        assert found.bells_se[which] == pytest.approx(np.sqrt(noise * np.diag(inverse)))
    assert found.bells[0] == pytest.approx(found.band)  # nothing is known of a bell that never struck


def test_intervals_hold_the_true_share_as_often_as_they_say() -> None:
    inside = []
    for seed in range(200):
        random = np.random.default_rng(seed)
        before, bell = random.normal(scale=0.1, size=(720, 2)), random.integers(1, 7, size=720)
        true = 0.3 + SHARE_PRIOR * random.normal(size=(7, 2))
        late = (before * true[bell]).sum(axis=1) + random.normal(scale=0.1, size=720)
        found = shares(late, before, bell)
        inside += (np.abs(found.bells - true) < 1.96 * found.bells_se)[1:].ravel().tolist()
    assert np.mean(inside) == pytest.approx(0.95, abs=0.03)


def test_ten_bands_in_which_each_rings_for_himself_are_told_nothing() -> None:
    assert [habit.sentence for seed in range(10) for habit in told(band({}, 0.0, seed))] == []


def test_the_bell_that_goes_with_the_one_before_is_named_with_an_interval_and_its_rows() -> None:
    named = [habit for seed in range(5) for habit in told(band({4: 0.7}, 0.0, seed))]
    assert {habit.bells for habit in named} == {(4,)}
    assert len(named) >= 4
    assert all(habit.rows and not habit.praise for habit in named)
    assert named[0].sentence.startswith("4 goes with the bell before when that is late or early: by ")


def test_a_band_that_passes_lateness_on_is_told_so_once_and_not_bell_by_bell() -> None:
    for seed in range(5):
        first, *rest = told(band({}, 0.5, seed))
        assert first.bells == ()
        assert first.sentence.startswith("When a bell is late or early the next goes with it: by ")
        assert len(rest) <= 1


def test_who_steadies_such_a_band_is_praised() -> None:
    praised = [
        habit.bells for seed in range(5) for habit in told(band({6: 0.0}, 0.6, seed, spread_ms=30)) if habit.praise
    ]
    assert len(praised) >= 4
    assert set(praised) == {(6,)}


def test_a_bell_that_is_always_late_teaches_nothing_about_who_goes_with_whom() -> None:
    random = np.random.default_rng(1)
    late = random.normal(scale=0.02, size=PIECE.rows.shape) + np.where(PIECE.rows == 2, 0.09, 0.0)
    late += np.where(PIECE.rows == 5, 0.09, 0.0)
    assert told(count_striking(made_log(PIECE, ideal(PIECE) + late), PIECE)) == []
