"""The pull-off is found however many rounds are rung before the changes begin."""

import pytest
from made_bands import human, hunt

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
