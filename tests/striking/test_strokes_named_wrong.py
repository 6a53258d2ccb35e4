"""Strokes named the wrong way round are never counted silently: an odd number of opening rows begun at handstroke."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import drifting, ideal, made_log, plain_bob

from judging.striking import CountingRules, count_striking


def said(notes: tuple[str, ...]) -> list[str]:
    return [note for note in notes if "before the backstrokes" in note]


@given(
    seed=st.integers(0, 10_000),
    bells=st.integers(4, 12),
    opening=st.sampled_from([0, 1, 3, 4, 8]),
    handstroke_gap=st.sampled_from([0.5, 0.75, 1.0]),
)
@settings(max_examples=25, deadline=None)
def test_open_leads_before_what_is_called_a_backstroke_are_said_with_the_likely_cause(
    seed: int, bells: int, opening: int, handstroke_gap: float
) -> None:
    rightly = plain_bob(bells, 3, opening=opening)
    wrongly = replace(rightly, first_change_stroke="back")
    _, struck = drifting(wrongly, seed, gap_s=0.25, handstroke_gap=handstroke_gap, drift=0.002)
    log = made_log(rightly, struck)
    (note,) = said(count_striking(log, rightly).notes)
    assert 'did the first change come at backstroke (first_stroke = "back" in the piece)' in note
    assert (f"one opening row of {opening} too many" in note) == (opening > 0)
    assert said(count_striking(log, wrongly).notes) == []


@given(seed=st.integers(0, 10_000), bells=st.integers(4, 12), handstroke_gap=st.sampled_from([0.0, 0.1, 0.5, 1.0]))
@settings(max_examples=25, deadline=None)
def test_no_style_of_leading_is_taken_for_it(seed: int, bells: int, handstroke_gap: float) -> None:
    piece = plain_bob(bells, 3)
    _, struck = drifting(piece, seed, gap_s=0.25, handstroke_gap=handstroke_gap, drift=0.004, spread_ms=35)
    assert said(count_striking(made_log(piece, struck), piece).notes) == []


@pytest.mark.parametrize("declared", [0.0, 1.0])
def test_it_is_said_under_a_declared_handstroke_gap_too(declared: float) -> None:
    piece = plain_bob(6, 3, opening=3)
    log = made_log(piece, ideal(replace(piece, first_change_stroke="back")))
    assert said(count_striking(log, piece, CountingRules(handstroke_gap=declared)).notes)
