import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import hunt, ideal, made_log, without
from slow_count import own_errors as slowly_own

from judging.striking import count_striking
from judging.striking.deviation import own_errors

HALF = np.array([0.25])


def own(*late: float) -> list[float]:
    """Own errors of one row of blows, in gaps."""
    return own_errors(np.array([late]), HALF)[0][0].tolist()


def charged(*late: float) -> list[bool]:
    return [abs(error) >= 0.25 - 1e-9 for error in own(*late)]


def test_a_late_blow_carried_and_put_right_is_one_charge() -> None:
    assert charged(0.34, 0.34, 0.0) == [True, False, False]


def test_a_creep_is_charged_as_often_as_it_adds_a_fault() -> None:
    assert charged(0.24, 0.48, 0.72, 0.96) == [False, True, False, True]


def test_what_was_not_charged_is_not_given_away() -> None:
    assert own(0.20, 0.30) == pytest.approx([0.20, 0.30])
    assert charged(0.20, 0.30) == [False, True]


def test_late_again_after_coming_right_is_a_new_fault() -> None:
    assert charged(0.5, 0.0, 0.5) == [True, False, True]


def test_half_way_back_and_out_again_is_charged_for_the_way_out() -> None:
    assert own(0.6, 0.3, 0.6) == pytest.approx([0.6, 0.0, 0.3])


def test_putting_it_right_too_far_is_a_fault_the_other_way() -> None:
    assert own(0.5, -0.3) == pytest.approx([0.5, -0.3])


def test_the_own_part_of_a_further_blow_is_what_it_adds() -> None:
    assert own(0.30, 0.50) == pytest.approx([0.30, 0.20])


def test_a_blow_after_a_missing_one_has_only_the_grid() -> None:
    errors = own_errors(np.array([[0.4, np.nan, 0.4]]), HALF)[0][0]
    assert errors[[0, 2]].tolist() == [0.4, 0.4]
    assert np.isnan(errors[1])


def test_carrying_goes_on_from_row_to_row_but_not_past_a_pause() -> None:
    late = np.array([[0.0, 0.4], [0.4, 0.4], [0.4, 0.0]])
    half = np.full(3, 0.25)
    assert own_errors(late, half)[0].tolist() == [[0.0, 0.4], [0.0, 0.0], [0.0, 0.0]]
    fresh = np.array([False, False, True])
    assert own_errors(late, half, fresh)[0][2].tolist() == [0.4, 0.0]


def test_each_blow_that_carries_names_the_blow_that_made_it_late() -> None:
    maker = own_errors(np.array([[0.0, 0.4, 0.4, 0.2, 0.0]]), HALF)[1][0]
    assert maker.tolist() == [-1, 1, 1, 1, -1]


@given(late=st.floats(0.25, 3.0), shares=st.lists(st.floats(0.0, 1.0), max_size=12), early=st.booleans())
@settings(max_examples=80)
def test_a_late_blow_and_any_number_carried_or_recovering_charge_exactly_one(
    late: float,
    shares: list[float],
    early: bool,  # noqa: FBT001  # hypothesis hands arguments by name
) -> None:
    sign = -1 if early else 1
    following, now = [], late
    for share in shares:
        now *= share
        following.append(sign * now)
    assert sum(charged(0.0, sign * late, *following)) == 1


@given(
    late=st.lists(
        st.lists(
            st.one_of(st.floats(-1.5, 1.5), st.sampled_from([0.25, -0.25, 0.5, 0.0]), st.none()), min_size=4, max_size=4
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=150)
def test_own_errors_are_those_of_the_slow_counter(late: list[list[float | None]]) -> None:
    given_gaps = np.array([[np.nan if blow is None else blow for blow in row] for row in late])
    found = own_errors(given_gaps, np.full(len(late), 0.25))[0]
    expected = np.array(
        [[np.nan if blow is None else blow for blow in row] for row in slowly_own(late, [0.25] * len(late))]
    )
    assert np.allclose(found, expected, equal_nan=True)


def test_own_errors_in_ms_are_the_gaps_of_their_row() -> None:
    piece = hunt(6, 40)
    times = ideal(piece)
    times[20, 3] += 0.09
    found = count_striking(made_log(piece, times), piece).deviations
    assert found.own_ms[20, 3] == pytest.approx(90, abs=1)
    assert found.own_gaps[20, 3] == pytest.approx(0.3, abs=0.005)


def test_a_blow_after_a_silence_in_the_log_is_charged_by_the_grid_alone() -> None:
    piece = hunt(6, 40)
    times = ideal(piece)
    times[20, 3:] += 0.15
    whole = count_striking(made_log(piece, times), piece)
    gapped = count_striking(without(made_log(piece, times), 20 * 6 + 4), piece)
    assert [fault.place for fault in whole.faults if fault.charge] == [4]
    assert [(fault.place, fault.kind) for fault in gapped.faults if fault.charge] == [
        (4, "late"),
        (5, "missing blow"),
        (6, "late"),
    ]
