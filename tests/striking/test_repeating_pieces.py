"""A piece that comes back to its own rows dozens of times is laid on its own repetition, however roughly it was heard.

Truth is what was put into the log: every blow knows its own place.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, hunt, plain_bob
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.striking import StrikeLog, lay


def as_meant(strike: NDArray, blow_of_place: NDArray) -> bool:
    """Whether no blow is more than a row from its own place, and all but 1 in 50, or two rows of them, are in it.

    Where two of a few bells are mistaken in one row, it can be laid in more ways than one.
    """
    bells = strike.shape[1]
    laid, meant = (
        {blow: at for at, blow in enumerate(one.ravel().tolist()) if blow >= 0} for one in (strike, blow_of_place)
    )
    strayed = [abs(at // bells - meant[blow] // bells) for blow, at in laid.items() if blow in meant]
    return max(strayed) <= 1 and int((strike != blow_of_place).sum()) <= max(2 * bells, strike.size // 50)


def again_and_again(piece: Piece, times: int) -> Piece:
    """The changes of a piece rung so many times without a stop."""
    changes = piece.rows[piece.opening :]
    return replace(piece, rows=np.concatenate([piece.rows[: piece.opening], np.tile(changes, (times, 1))]))


def roughly_heard(piece: Piece, seed: int, *, lost: float, added: float, exchanged: float) -> tuple[StrikeLog, NDArray]:
    """A log with such shares of its blows lost, too many and exchanged with the next; and the blow of each place."""
    random, log = np.random.default_rng(seed), human(piece, seed, spread_ms=15)
    bells = log.bells.copy()
    for blow in np.flatnonzero(random.random(len(log) - 1) < exchanged).tolist():
        bells[[blow, blow + 1]] = bells[[blow + 1, blow]]
    kept = np.flatnonzero(random.random(len(log)) >= lost)
    extra_s = log.times_s[np.flatnonzero(random.random(len(log)) < added)] + 0.15
    times_s = np.concatenate([log.times_s[kept], extra_s])
    struck = np.concatenate([bells[kept], random.integers(1, piece.bells + 1, len(extra_s))]).astype(np.int8)
    order = np.argsort(times_s, kind="stable")
    blow_of_place = np.full(piece.rows.size, -1)
    blow_of_place[kept] = np.argsort(order)[: len(kept)]
    return StrikeLog(times_s[order], struck[order], np.zeros(len(order))), blow_of_place.reshape(piece.rows.shape)


@given(
    seed=st.integers(0, 10_000),
    bells=st.integers(3, 16),
    leads=st.integers(1, 3),
    times=st.integers(2, 30),
    lost=st.sampled_from([0.0, 0.01, 0.02]),
    added=st.sampled_from([0.0, 0.01]),
    exchanged=st.sampled_from([0.0, 0.01, 0.02]),
)
@settings(max_examples=40, deadline=None)
def test_it_is_laid_on_its_own_rows(
    seed: int, bells: int, leads: int, times: int, lost: float, added: float, exchanged: float
) -> None:
    piece = again_and_again(plain_bob(bells, leads), max(2, min(times, 700 // (2 * bells * leads))))
    log, meant = roughly_heard(piece, seed, lost=lost, added=added, exchanged=exchanged)
    assert as_meant(lay(log, piece).strike, meant)


@pytest.mark.parametrize("bells", [3, 5, 8])
def test_a_peal_of_the_same_few_rows_is_laid_on_its_own_rows(bells: int) -> None:
    """Plain hunting alone: on five bells the same ten rows 252 times."""
    piece = hunt(bells, 2520)
    log, meant = roughly_heard(piece, bells, lost=0.01, added=0.0, exchanged=0.0)
    assert as_meant(lay(log, piece).strike, meant)


@given(seed=st.integers(0, 10_000), rung_times=st.integers(1, 11))
@settings(max_examples=10, deadline=None)
def test_one_that_was_stopped_is_laid_from_the_beginning(seed: int, rung_times: int) -> None:
    course = plain_bob(6, 5)
    whole, rung = again_and_again(course, 12), again_and_again(course, rung_times)
    log, meant = roughly_heard(rung, seed, lost=0.01, added=0.0, exchanged=0.01)
    strike = lay(log, whole).strike
    assert as_meant(strike[: len(meant)], meant)
    assert (strike[len(meant) + 2 :] < 0).all()


@given(seed=st.integers(0, 10_000), at=st.integers(60, 600))
@settings(max_examples=10, deadline=None)
def test_a_lead_left_out_of_one_is_the_only_jump(seed: int, at: int) -> None:
    piece = again_and_again(plain_bob(6, 5), 12)
    kept = np.delete(np.arange(len(piece.rows)), np.arange(at, at + 12))
    log, meant = roughly_heard(replace(piece, rows=piece.rows[kept].copy()), seed, lost=0.01, added=0.0, exchanged=0.0)
    strike = lay(log, piece).strike
    far = np.r_[0 : at - 24, at + 36 : len(piece.rows)]  # near the join either lead may be the one left out
    meant_of_row = np.full(piece.rows.shape, -1)
    meant_of_row[kept] = meant
    assert as_meant(strike[far], meant_of_row[far])
    assert abs(int((strike < 0).all(axis=1).sum()) - 12) <= 1
