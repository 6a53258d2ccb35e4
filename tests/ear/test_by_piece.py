"""Where rows begin, by the piece's own order: followed through striking in which no row can be seen."""

from dataclasses import replace

import numpy as np
import pytest

from judging.ear.by_piece import rows_by_piece
from judging.ear.features import FRAME_S
from judging.ear.rows import Pace

from .conftest import hunting

GAP_S, FIRST_S = 0.25, 2.0
PACE = Pace(GAP_S, 1.0, 0.0)


PIECE = hunting(8, 60)


def begun(rows: int, bells: int) -> np.ndarray:
    """When even ringing begins its rows, with open handstroke leads."""
    row = np.arange(rows)
    return FIRST_S + (row * bells + (row + 1) // 2 - (row % 2)) * GAP_S


def answers_to(rung: np.ndarray, starts_s: np.ndarray, stray_gaps: float, silent: float = 0.0) -> np.ndarray:
    """What detectors answer to rows rung like that: a bump a blow, and knocks besides."""
    chance = np.random.default_rng(4)
    rows, bells = rung.shape
    times = starts_s[:, None] + (np.argsort(rung, axis=1) + chance.normal(0, stray_gaps, rung.shape)) * GAP_S
    heard = chance.random(rung.shape) >= silent
    frames = np.arange(int((starts_s[-1] + (bells + 8) * GAP_S) / FRAME_S))
    answers = np.zeros((len(frames), bells), np.float32)
    for bell in range(bells):
        for time_s in [*times[heard[:, bell], bell], *chance.uniform(0, frames[-1] * FRAME_S, rows // 4)]:
            answers[:, bell] += np.exp(-0.5 * ((frames - time_s / FRAME_S) / 2) ** 2)
    return answers


@pytest.mark.parametrize("silent", [0.0, 0.2])
def test_rows_are_found_though_blows_stray_a_quarter_of_a_gap(silent: float) -> None:
    starts_s = begun(len(PIECE.rows), 8)
    pulls = rows_by_piece(answers_to(PIECE.rows, starts_s, 0.25, silent), PIECE, PACE, FIRST_S - 0.6 * GAP_S)
    assert pulls is not None
    assert len(pulls) == len(PIECE.rows) // 2
    assert np.abs(pulls.starts_s - starts_s[::2]).max() < 0.6 * GAP_S


def test_a_longer_opening_and_a_row_rung_twice_are_followed() -> None:
    rung = np.vstack([PIECE.rows[:1], PIECE.rows[:1], PIECE.rows[:30], PIECE.rows[29:]])[:-1]
    starts_s = begun(len(rung), 8)
    pulls = rows_by_piece(answers_to(rung, starts_s, 0.2), PIECE, PACE, FIRST_S)
    assert pulls is not None
    assert np.abs(pulls.starts_s - starts_s[: 2 * len(pulls) : 2]).max() < 0.6 * GAP_S


def test_rows_rung_as_no_change_of_the_piece_are_passed_over() -> None:
    rung = PIECE.rows.copy()
    rung[30:34] = rung[30:34, ::-1]
    starts_s = begun(len(rung), 8)
    pulls = rows_by_piece(answers_to(rung, starts_s, 0.2), PIECE, PACE, FIRST_S)
    assert pulls is not None
    assert len(pulls) == len(rung) // 2
    assert np.abs(pulls.starts_s[18:] - starts_s[36::2]).max() < 0.6 * GAP_S


def test_a_piece_too_long_to_look_through_is_left_to_the_blows() -> None:
    peal = replace(PIECE, rows=np.tile(PIECE.rows, (80, 1)))
    assert rows_by_piece(np.zeros((200_000, 8), np.float32), peal, PACE, FIRST_S) is None
