from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding import ideal_log

#: Bells, hours and minutes of 5040 rows, then row in s, whole pull in s, and the gap in ms at handstroke gaps of 1, 3/4
#: and 0. Arithmetic of ringers, done apart from this code: (2n + h) g = 2 x peal seconds / 5040.
PEAL_SPEEDS = [
    (6, (2, 30), 1.786, 3.571, 275, 280, 298),
    (6, (2, 40), 1.905, 3.810, 293, 299, 317),
    (6, (2, 50), 2.024, 4.048, 311, 317, 337),
    (8, (2, 50), 2.024, 4.048, 238, 242, 253),
    (8, (3, 0), 2.143, 4.286, 252, 256, 268),
    (10, (3, 0), 2.143, 4.286, 204, 207, 214),
    (10, (3, 10), 2.262, 4.524, 215, 218, 226),
    (12, (3, 10), 2.262, 4.524, 181, 183, 188),
    (12, (3, 20), 2.381, 4.762, 190, 192, 198),
]


def rounds(bells: int, rows: int) -> Piece:
    return Piece("rounds", np.tile(np.arange(1, bells + 1, dtype=np.int8), (rows, 1)))


@pytest.mark.parametrize("line", PEAL_SPEEDS)
def test_peal_speed_gives_the_gaps_that_arithmetic_gives(
    line: tuple[int, tuple[int, int], float, float, int, int, int],
) -> None:
    bells, peal, row_s, whole_pull_s, open_ms, three_quarters_ms, closed_ms = line
    for handstroke_gap, gap_ms in ((1.0, open_ms), (0.75, three_quarters_ms), (0.0, closed_ms)):
        log = ideal_log(rounds(bells, 5), peal_minutes=60 * peal[0] + peal[1], handstroke_gap=handstroke_gap)
        times_s = log.times_s.reshape(5, bells)

        assert times_s[2, 0] - times_s[0, 0] == pytest.approx(whole_pull_s, abs=0.0005)
        assert (times_s[2, 0] - times_s[0, 0]) / 2 == pytest.approx(row_s, abs=0.0005)
        assert 1000 * np.diff(times_s, axis=1) == pytest.approx(np.full((5, bells - 1), gap_ms), abs=0.51)
        assert times_s[2, 0] - times_s[1, -1] == pytest.approx((1 + handstroke_gap) * (times_s[0, 1] - times_s[0, 0]))
        assert times_s[1, 0] - times_s[0, -1] == pytest.approx(times_s[0, 1] - times_s[0, 0])


@pytest.mark.parametrize(
    ("bells", "minutes", "rows", "lasts_s"),
    [(6, 150, 120, 214), (6, 150, 224, 400), (6, 170, 120, 243), (8, 180, 224, 480), (12, 190, 224, 507)],
)
def test_a_test_piece_lasts_what_arithmetic_says(bells: int, minutes: float, rows: int, lasts_s: float) -> None:
    log = ideal_log(rounds(bells, rows + 1), peal_minutes=minutes, handstroke_gap=1.0)

    assert log.times_s[bells * rows] == pytest.approx(lasts_s, abs=0.51)


def test_the_worked_case_on_six_at_two_fifty_with_open_leads() -> None:
    """Hand 0, 311, ..., 1557 ms; back 1868 ... 3425; next hand lead 4048, 623 ms later."""
    ms = 1000 * ideal_log(rounds(6, 3), peal_minutes=170, handstroke_gap=1.0).times_s

    assert ms[[0, 1, 5, 6, 11, 12]] == pytest.approx([0, 311, 1557, 1868, 3425, 4048], abs=0.6)
    assert ms[12] - ms[11] == pytest.approx(623, abs=0.5)


@settings(max_examples=30, deadline=None)
@given(
    st.tuples(st.integers(3, 16), st.integers(1, 12), st.integers(0, 3)),
    st.tuples(st.floats(100, 240), st.floats(0, 2)),
    st.sampled_from(["hand", "back"]),
)
def test_every_blow_falls_where_the_closed_form_puts_it(
    size: tuple[int, int, int], pace: tuple[float, float], stroke: Literal["hand", "back"]
) -> None:
    """Whole pull k, place p: hand ``k (2n + h) g + (p - 1) g``, back ``n g`` later, from the first handstroke."""
    (bells, rows, opening), (peal_minutes, handstroke_gap) = size, pace
    piece = Piece("rounds", rounds(bells, rows).rows, opening=min(opening, rows), first_change_stroke=stroke)
    gap = 120 * peal_minutes / 5040 / (2 * bells + handstroke_gap)
    log = ideal_log(piece, peal_minutes=peal_minutes, handstroke_gap=handstroke_gap)
    begins_at_back = not piece.is_hand[0]

    for r in range(rows):
        k, half = divmod(r + begins_at_back, 2)
        for p in range(1, bells + 1):
            due = k * (2 * bells + handstroke_gap) * gap + half * bells * gap + (p - 1) * gap
            due -= begins_at_back * bells * gap
            assert log.times_s[r * bells + p - 1] == pytest.approx(due, abs=1e-9)


@pytest.mark.parametrize(
    ("key", "value"), [("peal_minutes", 3.0), ("handstroke_gap", 9.0), ("peal_minutes", float("nan"))]
)
def test_a_pace_nobody_rings_is_refused_by_name(key: str, value: float) -> None:
    with pytest.raises(InputError, match=key):
        ideal_log(rounds(6, 2), **{"peal_minutes": 170.0, key: value})
