"""The pull-off is found however many rounds are rung before the changes begin."""

import numpy as np
import pytest
from made_bands import human, hunt, ideal, made_log

from judging.striking.pull_off import pull_offs


@pytest.mark.parametrize("opening", range(2, 24, 2))
@pytest.mark.parametrize("declared", [2, 8])
def test_one_pull_off_is_found_before_changes(opening: int, declared: int) -> None:
    log = human(hunt(6, 30, opening), seed=opening, spread_ms=20.0)

    found = pull_offs(log, hunt(6, 30, declared))

    assert len(found) == 1
    assert found[0].time_s == log.times_s[0]
    assert found[0].bells.tolist() == [[1, 2, 3, 4, 5, 6]] * 2
    assert found[0].off_ms < 60


@pytest.mark.parametrize("opening", [2, 4, 12, 14, 16, 30])
def test_it_is_the_first_whole_pull_that_is_told_and_no_later_one(opening: int) -> None:
    piece = hunt(6, 30, opening)
    times = ideal(piece)
    times[1, 3] += 0.15  # 4 at the first backstroke, and all else even

    (found,) = pull_offs(made_log(piece, times), hunt(6, 30, 8))

    assert found.late_ms[1, 3] > 100
    rest = np.delete(found.late_ms.ravel(), 9)
    assert np.abs(rest).max() < 50
