"""How sure a time is said to be, where there is little to learn from."""

import numpy as np
import pytest

from judging.ear.doubt import likeness_to_others, spreads_ms
from judging.ear.timing import Fit


@pytest.mark.parametrize("alike", [0.4, 0.7, 0.9])
@pytest.mark.parametrize("blows", [2, 4, 12, 100])
def test_few_blows_are_not_told_to_be_liker_their_onset_than_many(blows: int, alike: float) -> None:
    """Against random onsets whose likeness to one another is known: that of the part they all share."""
    rng = np.random.default_rng(blows)
    found = []
    for _ in range(2000 // blows):
        shared, own = rng.standard_normal(3000), rng.standard_normal((blows, 3000))
        onsets = np.sqrt(alike) * shared + np.sqrt(1 - alike) * own
        onsets /= np.linalg.norm(onsets, axis=1, keepdims=True)
        mean = onsets.mean(axis=0)
        found.append(likeness_to_others(onsets @ mean / np.linalg.norm(mean)))
    assert np.mean(found) == pytest.approx(np.sqrt(alike), abs=0.005)


def test_the_time_of_a_bells_only_blow_is_not_relied_on() -> None:
    lags = np.arange(-40, 41)
    likeness = np.exp(-0.5 * (lags / 4) ** 2)[None, :]
    alone = spreads_ms(Fit(np.zeros(1), likeness, 2.0), np.full(1, 9.0), 44_100)
    with_others = spreads_ms(Fit(np.zeros(9), np.repeat(likeness, 9, axis=0), 2.0), np.full(9, 9.0), 44_100)
    assert alone[0] >= 10
    assert (with_others < 1).all()
