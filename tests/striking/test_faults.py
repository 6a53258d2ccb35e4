from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from made_bands import human, hunt, ideal, made_log, out, rounds
from slow_count import level, normal_tail, own_errors, total

from judging.striking import SCHEMES, CountingRules, MarkingScheme, StrikeLog, ToleranceBands, count_striking
from judging.striking.values import Count

LINES = ((0.15, 30.0), (0.25, 45.0), (0.40, 70.0))


def figures(count: Count) -> list[list[float | None]]:
    """Deviations in gaps as plain lists."""
    return [[None if np.isnan(blow) else float(blow) for blow in row] for row in count.deviations.gaps]


@given(
    seed=st.integers(0, 10_000),
    bells=st.integers(4, 8),
    spread_ms=st.sampled_from([15.0, 35.0, 60.0]),
    gap_s=st.sampled_from([0.16, 0.24, 0.32]),
    capped=st.booleans(),
)
@settings(max_examples=40, deadline=None)
def test_a_count_is_that_of_the_slow_counter(
    seed: int,
    bells: int,
    spread_ms: float,
    gap_s: float,
    capped: bool,  # noqa: FBT001  # hypothesis hands arguments by name
) -> None:
    piece = hunt(bells, 24)
    no_clash = ToleranceBands(clash_gaps=0.0001)
    scheme = replace(SCHEMES["up to 3 a row" if capped else "half or whole for each blow"], missing=Decimal(0))
    log = human(piece, seed, spread_ms=spread_ms, gap_s=gap_s)
    count = count_striking(log, piece, CountingRules(bands=no_clash, scheme=scheme))
    assume(not np.isnan(count.deviations.gaps).any())  # a blow too far out to be laid is a missing one: not this rule
    gap_ms = (count.rhythm.gap_s * 1000).tolist()
    own = own_errors(figures(count), [max(0.25, 45 / gap) for gap in gap_ms])
    levels = [[level(blow, gap, LINES) for blow in row] for row, gap in zip(own, gap_ms, strict=True)]
    assert count.total == total(levels, count.judged.tolist(), whole_up_to=3 if capped else None)
    assert [(fault.row, fault.place) for fault in count.faults if fault.kind != "missing blow"] == [
        (row, place + 1) for row, blows in enumerate(levels) for place, out_by in enumerate(blows) if out_by
    ]


@pytest.mark.parametrize(
    ("bells", "rows", "gap_ms", "share", "tabled"),
    [
        (6, 120, 293, 1 / 4, {30: 11, 40: 48, 50: 103, 65: 187}),
        (6, 120, 293, 0.33, {30: 1, 40: 11, 50: 38, 65: 99}),
        (8, 224, 238, 1 / 4, {30: 85, 40: 245, 50: 419, 65: 645}),
        (8, 224, 238, 0.33, {30: 16, 40: 89, 50: 208, 65: 407}),
    ],
)
def test_the_arithmetic_of_normal_errors_is_that_of_the_table(
    bells: int, rows: int, gap_ms: float, share: float, tabled: dict[int, int]
) -> None:
    """Faults of a test piece at a spread, one a blow past a share of the gap: computed for the trade's own notes."""
    for spread_ms, faults in tabled.items():
        assert bells * rows * normal_tail(spread_ms, share * gap_ms) == pytest.approx(faults, abs=1.5, rel=0.02)


@pytest.mark.parametrize("spread_ms", [40.0, 50.0, 65.0])
def test_raw_deviations_pass_a_line_as_often_as_normal_errors_do(spread_ms: float) -> None:
    piece, gap_ms = hunt(6, 120), 293.0
    past = []
    for seed in range(12):
        due = ideal(piece, gap_s=gap_ms / 1000)
        struck = due + np.random.default_rng(seed).normal(scale=spread_ms / 1000, size=due.shape)
        found = count_striking(made_log(piece, np.sort(struck.ravel()).reshape(struck.shape)), piece).deviations
        past.append((np.abs(found.gaps[2:]) >= 0.25).sum())
    expected = 720 * normal_tail(spread_ms, gap_ms / 4)
    assert np.mean(past) == pytest.approx(expected, rel=0.16)  # the grid takes up a little of every error


def test_two_blows_nearly_together_are_a_whole_fault_of_the_one_that_made_it() -> None:
    piece = hunt(6, 40)
    count = count_striking(out(piece, {(20, 3): 110, (20, 4): -116}), piece)
    assert [(fault.place, fault.kind, fault.charge) for fault in count.faults] == [
        (3, "late", Decimal("0.5")),
        (4, "clash", Decimal(1)),
    ]
    assert "clashing with" in count.faults[1].sentence


def test_a_clash_made_by_a_lateness_that_others_carry_is_charged_where_it_began() -> None:
    piece = hunt(6, 40)
    count = count_striking(out(piece, {(20, 2): 112, (20, 3): 135, (20, 4): -95}), piece)
    assert [(fault.place, fault.kind, fault.charge) for fault in count.faults if fault.charge] == [
        (2, "clash", Decimal(1)),
        (4, "early", Decimal("0.5")),
    ]


def test_coming_right_after_a_very_late_blow_is_no_second_fault_though_it_sounds_close() -> None:
    piece = hunt(6, 40)
    count = count_striking(out(piece, {(20, 3): 240}), piece)
    assert [(fault.place, fault.charge) for fault in count.faults if fault.charge] == [(3, Decimal(1))]


def test_at_six_bells_and_two_hours_fifty_a_blow_60_ms_late_and_one_73_ms_early_are_noticed_but_not_charged() -> None:
    """Common practice, no source: noticed by their own band; that the shipped lines do not charge them is a choice."""
    piece = rounds(6, 8)
    count = count_striking(out(piece, {(2, 3): 60, (5, 5): -73}, gap_s=4.047619 / 13), piece)
    assert [(fault.row, fault.place, fault.kind, fault.level) for fault in count.faults] == [
        (2, 3, "late", "blemish"),
        (5, 5, "early", "blemish"),
    ]
    assert count.total == 0


def test_a_blow_whose_spread_straddles_a_line_is_doubtful_and_counts_as_the_rules_say() -> None:
    piece = hunt(6, 40)
    log = out(piece, {(20, 3): 80, (30, 3): 105}, spread_ms=5.0)
    totals = {}
    for way in ("count", "lower", "leave out"):
        count = count_striking(log, piece, CountingRules(doubtful=way))
        totals[way] = count.total
        assert count.doubtful[20, 2]
        assert not count.doubtful[30, 2]
    assert totals == {"count": Decimal(1), "lower": Decimal("0.5"), "leave out": Decimal("0.5")}


def test_a_log_without_spreads_is_never_doubtful() -> None:
    piece = hunt(6, 40)
    assert not count_striking(human(piece, 1, spread_ms=60), piece).doubtful.any()


def test_faults_of_unmarked_rows_are_shown_but_not_charged() -> None:
    piece = hunt(6, 40, opening=6)
    count = count_striking(out(piece, {(3, 3): 150, (20, 3): 150}), piece)
    assert [(fault.row, fault.change, fault.judged, fault.charge) for fault in count.faults] == [
        (3, None, False, Decimal(0)),
        (20, 15, True, Decimal(1)),
    ]
    assert count.faults[0].sentence.startswith("Opening row 4, backstroke: ")


def test_a_blow_too_many_costs_what_the_scheme_declares_and_nothing_by_default() -> None:
    piece = hunt(6, 40)
    log = out(piece, {})
    twice = StrikeLog(
        np.insert(log.times_s, 123, log.times_s[122] + 0.05),
        np.insert(log.bells, 123, log.bells[122]),
        np.zeros(len(log) + 1),
    )
    assert count_striking(twice, piece).faults == ()
    charged = count_striking(twice, piece, CountingRules(scheme=MarkingScheme(extra=Decimal("0.5"))))
    (fault,) = charged.faults
    assert (fault.row, fault.place, fault.bell, fault.kind) == (20, 3, log.bells[122], "extra blow")
    assert charged.total == Decimal("0.5") == Decimal(str(charged.charge.sum()))
    assert fault.sentence == f"Change 19, handstroke: {log.bells[122]} was heard once too often"
