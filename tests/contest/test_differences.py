"""A signed sheet beside the machine's count: who noted what, the few that could move a place, and the sheet after."""

from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest.cross_check import (
    CrossCheck,
    Difference,
    cross_check,
    judged_span,
    minutes_for,
    revised,
    that_could_move,
)
from judging.errors import InputError
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Sheet, Tap
from judging.piece import piece_from_file
from judging.sounding import Character, human_log
from judging.striking import count_striking
from judging.striking.values import Count

RULES = Sheets()
#: A judge's own clock is off by so much, reaction included.
LAG_S = 7.31


@cache
def count() -> Count:
    piece = piece_from_file(
        "doubles.toml",
        'piece = 1\nmethod = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 4\n',
    )
    log = human_log(piece, Character(spread_ms=38.0), seed=5, peal_minutes=165.0, handstroke_gap=1.0).log
    return count_striking(log, piece)


def charged() -> list[tuple[float, int, Decimal]]:
    return [(fault.time_s, fault.change or 0, fault.charge) for fault in count().faults if fault.charge > 0]


def sheet_of(taps: list[Tap], total: Decimal | None = None) -> Sheet:
    return Sheet("a", "ash", sum((tap.faults for tap in taps), Decimal(0)) if total is None else total, tuple(taps))


def heard(skip: frozenset[int] = frozenset(), extra_s: tuple[float, ...] = ()) -> Sheet:
    """A judge who taps each of the machine's faults but some, and some of their own."""
    taps = [
        Tap(change, charge, round(time_s + LAG_S, 3))
        for at, (time_s, change, charge) in enumerate(charged())
        if at not in skip
    ]
    taps += [Tap(None, Decimal("0.5"), at_s + LAG_S) for at_s in extra_s]
    return sheet_of(sorted(taps, key=lambda tap: tap.time_s or 0))


@given(st.frozensets(st.integers(0, 30), max_size=8))
@settings(deadline=None)  # the first one rings the band
def test_every_tap_and_every_charged_fault_is_in_exactly_one_group(skipped: frozenset[int]) -> None:
    sheet = heard(skipped, extra_s=(0.2,))
    checked = cross_check(sheet, count(), RULES)

    assert len(checked.both) + len(checked.judge_only) == len(sheet.taps)
    assert len(checked.both) + len(checked.machine_only) == len(charged())
    assert len({one.key for one in checked.differences}) == len(checked.differences)
    assert len({id(fault) for _, fault in checked.both}) == len(checked.both)


def test_what_was_skipped_is_the_machines_alone_at_its_time_and_what_was_added_the_judges() -> None:
    quiet_s = max(b[0] - a[0] for a, b in zip(charged(), charged()[1:], strict=False))
    before = next(a[0] for a, b in zip(charged(), charged()[1:], strict=False) if b[0] - a[0] == quiet_s)
    checked = cross_check(heard(frozenset({3}), extra_s=(before + quiet_s / 2,)), count(), RULES)

    assert [one.at_s for one in checked.machine_only] == [charged()[3][0]]
    [own] = checked.judge_only
    assert own.at_s == pytest.approx(before + quiet_s / 2, abs=0.05)
    assert checked.lag_s == pytest.approx(LAG_S, abs=0.01)


def test_a_total_alone_is_not_matched_and_a_sheet_of_nothing_is() -> None:
    assert not cross_check(sheet_of([], Decimal(12)), count(), RULES).is_matched
    assert cross_check(sheet_of([], Decimal(0)), count(), RULES).is_matched


def test_the_span_that_may_be_heard_begins_and_ends_with_judged_blows() -> None:
    begin_s, end_s = judged_span(count())
    blows = count().rung.times_s

    assert begin_s == blows[4].min()  # four opening rows are not judged
    assert end_s == blows[-1].max()


# ---- the few that could move a place ----


def difference(key: str, faults: str, at_s: float = 0.0) -> Difference:
    return Difference(key, 1, at_s, Decimal(faults), "told")


def checked_of(machine: list[str], judge: list[str]) -> CrossCheck:
    return CrossCheck(
        "ash",
        1,
        0.5,
        0.1,
        (),
        tuple(difference(f"j{at}", faults) for at, faults in enumerate(judge)),
        tuple(difference(f"m{at}-1", faults) for at, faults in enumerate(machine)),
        is_matched=True,
    )


HALVES = st.sampled_from(["0.5", "1"])


@given(
    own=st.integers(0, 30),
    others=st.lists(st.integers(0, 30), max_size=5),
    machine=st.lists(HALVES, max_size=6),
    judge=st.lists(HALVES, max_size=6),
)
def test_the_few_reach_a_band_that_no_fewer_reach(
    own: int, others: list[int], machine: list[str], judge: list[str]
) -> None:
    """Held to a slow search of every selection of differences, on one side or the other."""
    lost = {"ash": Decimal(own), **{f"e{at}": Decimal(other) for at, other in enumerate(others)}}
    checked = checked_of(machine, judge)
    few = that_could_move("ash", lost, checked)

    def moves(selection: tuple[Difference, ...]) -> bool:
        up = sum((one.faults for one in selection if one.key.startswith("m")), Decimal(0))
        down = sum((one.faults for one in selection if one.key.startswith("j")), Decimal(0))
        if up and down:
            return False
        level = [other for other in lost if other != "ash"]
        if up:
            return any(lost["ash"] <= lost[other] <= lost["ash"] + up for other in level)
        return any(lost["ash"] >= lost[other] >= lost["ash"] - down for other in level) and bool(down)

    sizes = [
        size for size in range(1, 7) if any(moves(selection) for selection in combinations(checked.differences, size))
    ]
    assert len(few) == (min(sizes) if sizes else 0)
    assert not few or moves(few)


def test_twenty_seconds_each_are_told_as_whole_minutes() -> None:
    assert [minutes_for([difference("m1-1", "1")] * number) for number in (0, 1, 3, 4)] == [0, 1, 1, 2]


# ---- the sheet after ----


def test_what_is_taken_over_changes_the_sheet_by_just_that() -> None:
    sheet = heard(frozenset({3}))
    checked = cross_check(sheet, count(), RULES)
    [missed] = checked.machine_only
    after = revised(sheet, checked, [missed.key], RULES, reason=" heard it ")

    assert after.total == sheet.total + charged()[3][2]
    assert after.reason == "heard it"
    assert len(after.taps) == len(sheet.taps) + 1
    assert cross_check(after, count(), RULES).differences == ()


def test_a_tap_is_taken_off_a_mark_is_given_back() -> None:
    sheet = replace(heard(extra_s=(0.2,)), total=Decimal(80))
    checked = cross_check(sheet, count(), RULES)
    own = next(one for one in checked.judge_only)
    after = revised(sheet, checked, [own.key], Sheets(unit="marks", most=Decimal(100)), reason="my thumb")

    assert after.total == Decimal("80.5")
    assert len(after.taps) == len(sheet.taps) - 1


@pytest.mark.parametrize(
    ("taken", "reason", "where"), [([], "x", "taken"), (["m999-9"], "x", "taken"), (["?"], "  ", "taken")]
)
def test_a_decision_that_says_nothing_is_refused(taken: list[str], reason: str, where: str) -> None:
    sheet = heard(frozenset({3}))
    checked = cross_check(sheet, count(), RULES)

    with pytest.raises(InputError) as refused:
        revised(sheet, checked, taken, RULES, reason=reason)
    assert refused.value.where == where


def test_a_reason_is_asked_for() -> None:
    sheet = heard(frozenset({3}))
    checked = cross_check(sheet, count(), RULES)

    with pytest.raises(InputError) as refused:
        revised(sheet, checked, [checked.machine_only[0].key], RULES, reason=" ")
    assert refused.value.where == "reason"
