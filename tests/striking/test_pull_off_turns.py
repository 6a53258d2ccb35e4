"""When a bell changed, over an evening of pull-offs; checked against numpy's variance and every cut tried by hand."""

import numpy as np
import pytest

from judging.striking.pull_off_turns import SURE, spread_from_one_to_the_next_ms, turn_of


def test_the_spread_is_that_of_steady_places_and_hardly_that_of_a_turn() -> None:
    chance = np.random.default_rng(0)
    steady = chance.normal(0, 20, (12, 200)) + chance.normal(0, 50, (12, 1))  # habits add nothing
    assert spread_from_one_to_the_next_ms(steady.tolist()) == pytest.approx(
        np.sqrt(steady.var(axis=1, ddof=1).mean()), rel=0.05
    )
    turned = steady.copy()
    turned[0, 100:] += 100
    assert spread_from_one_to_the_next_ms(turned.tolist()) == pytest.approx(
        spread_from_one_to_the_next_ms(steady.tolist()), rel=0.01
    )
    assert spread_from_one_to_the_next_ms([]) == 0.0
    assert spread_from_one_to_the_next_ms([[3.0], [None, 4.0]]) == 0.0


@pytest.mark.parametrize("seed", range(20))
def test_the_turn_is_where_the_blows_part_best(seed: int) -> None:
    chance = np.random.default_rng(seed)
    late_ms = np.concatenate([chance.normal(80, 12, 4), chance.normal(0, 12, 5)])

    turn = turn_of(late_ms.tolist(), 12.0, 15.0)

    weighed = {
        cut: abs(late_ms[:cut].mean() - late_ms[cut:].mean()) / np.sqrt(1 / cut + 1 / (9 - cut)) for cut in range(1, 9)
    }
    assert turn is not None
    assert turn.before == max(weighed, key=lambda cut: weighed[cut])
    assert turn.before + turn.after == 9
    assert turn.before_ms == pytest.approx(late_ms[: turn.before].mean())
    assert turn.after_ms == pytest.approx(late_ms[turn.before :].mean())


def test_blows_that_were_not_heard_are_left_out() -> None:
    assert turn_of([80.0, None, 81.0, 79.0, 1.0, None, 0.0, 2.0], 5.0, 15.0) == turn_of(
        [80.0, 81.0, 79.0, 1.0, 0.0, 2.0], 5.0, 15.0
    )


@pytest.mark.parametrize(
    "late_ms", [[], [90.0] * 6, [90.0, 90.0, 90.0, 90.0, 0.0, 0.0], [10.0, 10.0, 10.0, 0.0, 0.0, 0.0]]
)
def test_nothing_is_said_of_what_did_not_change_or_of_too_few_or_too_little(late_ms: list[float]) -> None:
    assert turn_of(late_ms, 1.0, 15.0) is None


@pytest.mark.parametrize(("places", "pull_offs"), [(12, 6), (24, 12)])
def test_chance_alone_makes_a_turn_in_about_one_evening_of_a_hundred(places: int, pull_offs: int) -> None:
    chance, evenings, told = np.random.default_rng(1), 400, 0
    for _ in range(evenings):
        late_ms = chance.normal(0, 20, (places, pull_offs)).tolist()
        spread_ms = spread_from_one_to_the_next_ms(late_ms)
        told += any(turn_of(one, spread_ms, 0.0) is not None for one in late_ms)
    assert told <= 12  # three in a hundred; of 1,500 evenings it was 0.3 % of six and 2 % of twelve on twelve bells
    assert SURE == 3.9  # the figure above is of this
