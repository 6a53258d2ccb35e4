"""When each band rings: against arithmetic done by hand, and what holds for any day."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import Entry, Pause, RuleSet, Section, Timetable, Turn, draw, read_rules, remark_of, timetable
from judging.contest.declared import Break
from judging.errors import InputError

RULES = """
rules = 1
title = "x"
[[section]]
name = "Method"
practice_minutes = 5
slot_minutes = 15
[[section]]
name = "Call changes"
practice_minutes = 3
slot_minutes = 12.5
[draw]
seed = "s"
[timetable]
first_band = "14:00"
[[break]]
at = "14:40"
minutes = 20
for = "Tea"
"""


def rules_of(text: str = RULES) -> RuleSet:
    return read_rules(text, name="rules.toml")


def entry(name: str, section: str = "Method", **facts: object) -> Entry:
    return replace(Entry(name, name.title(), section=section), **facts)  # type: ignore[arg-type]


ENTRIES = (entry("ash"), entry("birch", "Call changes"), entry("cedar"), entry("dogwood", "Call changes"))
ORDER = ("cedar", "birch", "ash", "dogwood")


def said(table: Timetable) -> list[str]:
    """Lines as a person would write them on a board."""
    return [
        f"{line.begins:%H:%M} {line.what} to {line.ends:%H:%M}"
        if isinstance(line, Pause)
        else f"{line.practice:%H:%M} {line.rings:%H:%M} {line.number} {line.entry}"
        for line in table.lines
    ]


def test_sections_in_one_drawn_order_each_have_their_own_time_and_a_break_waits_for_who_is_ringing() -> None:
    table = timetable(rules_of(), ENTRIES, ORDER)

    # 14:00 + 15 = 14:15, + 12½ = 14:27:30, + 15 = 14:42:30 (past 14:40: tea), + 20 = 15:02:30, + 12½ = 15:15.
    assert said(table) == [
        "14:00 14:05 1 cedar",
        "14:15 14:18 2 birch",
        "14:27 14:32 3 ash",
        "14:42 Tea to 15:02",
        "15:02 15:05 4 dogwood",
    ]
    assert table.ends == dt.time(15, 15)


def test_a_band_that_withdraws_after_the_draw_leaves_its_time_free() -> None:
    gone = tuple(replace(one, withdrawn="bells unsafe") if one.id == "birch" else one for one in ENTRIES)

    table = timetable(rules_of(), gone, ORDER)

    assert [turn.rings for turn in table.turns] == [turn.rings for turn in timetable(rules_of(), ENTRIES, ORDER).turns]
    assert [turn.is_off for turn in table.turns] == [False, True, False, False]
    assert table.turns[1].remark == "withdrawn; this time is free"


def test_late_bands_ring_last_and_late_and_scratch_bands_are_said_to_be_so() -> None:
    entries = (entry("ash", late=True), entry("birch", scratch=True), *ENTRIES[2:])

    table = timetable(rules_of(), entries, draw(entries, "s"))

    assert table.turns[-1].entry == "ash"
    assert {turn.entry: turn.remark for turn in table.turns} == {
        "ash": "rings after those that were drawn",
        "birch": "scratch band",
        "cedar": "",
        "dogwood": "",
    }


@pytest.mark.parametrize(
    "less",
    [
        '[timetable]\nfirst_band = "14:00"\n[[break]]\nat = "14:40"\nminutes = 20\nfor = "Tea"\n',
        "slot_minutes = 12.5\n",
    ],
)
def test_without_a_first_time_or_a_slot_there_is_an_order_without_times(less: str) -> None:
    table = timetable(rules_of(RULES.replace(less, "")), ENTRIES, ORDER)

    assert [turn.entry for turn in table.turns] == list(ORDER)
    assert {(turn.practice, turn.rings) for turn in table.turns} == {(None, None)}
    assert table.ends is None


def test_a_scratch_band_that_was_late_is_said_to_be_both() -> None:
    assert remark_of(entry("ash", scratch=True, late=True)) == "scratch band; rings after those that were drawn"


def test_a_day_that_begins_late_begins_with_ringing_and_not_with_a_break() -> None:
    table = timetable(rules_of(), ENTRIES, ORDER, first=dt.time(16, 0))

    assert said(table)[0] == "16:00 16:05 1 cedar"
    assert not [line for line in table.lines if isinstance(line, Pause)]


def test_a_day_that_would_not_end_is_refused() -> None:
    with pytest.raises(InputError, match=r"4 bands from 23:30 would ring past midnight"):
        timetable(rules_of(), ENTRIES, ORDER, first=dt.time(23, 30))


def test_an_order_with_a_stranger_in_it_is_refused() -> None:
    with pytest.raises(InputError, match='"elm" is in it and is no entry'):
        timetable(rules_of(), ENTRIES, (*ORDER, "elm"))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"14:00"', '"2 pm"', r"\[timetable\], first_band: '2 pm' is no time of day; write \"14:00\""),
        ('"14:40"', '"13:40"', r"\[\[break\]\] 1, at: 13:40 is no later than the first band, at 14:00"),
        ('for = "Tea"', 'for = "Tea"\n[[break]]\nat = "14:20"\nminutes = 5', r"2, at: 14:20 is no later"),
        ('first_band = "14:00"', "", r"\[\[break\]\] 1, at: a break stands in a timetable"),
        ("minutes = 20", "minutes = 0", r"minutes: 0 is below 1"),
    ],
)  # fmt: skip
def test_times_that_cannot_be_are_refused(old: str, new: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        rules_of(RULES.replace(old, new))


def test_a_time_may_be_written_as_toml_writes_it() -> None:
    assert rules_of(RULES.replace('"14:00"', "14:00:00")).fingerprint == rules_of().fingerprint


def slow(first: int, minutes: Sequence[Decimal], breaks: Sequence[Break]) -> list[int]:
    """Seconds after midnight at which each band begins, by walking through the day second by second."""
    starts, now, waiting = list[int](), first, list(breaks)
    for number, each in enumerate(minutes):
        while waiting and now >= waiting[0].at.hour * 3600 + waiting[0].at.minute * 60:
            rest = waiting.pop(0)
            if number:
                for _ in range(int(rest.minutes * 60)):
                    now += 1
        starts.append(now)
        for _ in range(int(each * 60)):
            now += 1
    return starts


@given(
    slots=st.lists(st.sampled_from(["Method", "Call changes"]), min_size=1, max_size=12),
    at=st.lists(st.integers(9 * 60 + 1, 13 * 60), max_size=3, unique=True).map(sorted),
    rest=st.integers(1, 45),
)
@settings(max_examples=60, deadline=None)
def test_any_day_is_as_it_is_by_the_second_hand(slots: list[str], at: list[int], rest: int) -> None:
    breaks = tuple(Break(dt.time(*divmod(moment, 60)), Decimal(rest)) for moment in at)
    sections = (Section("Method", slot_minutes=Decimal(15)), Section("Call changes", slot_minutes=Decimal("12.5")))
    rules = RuleSet(sections=sections, first_band=dt.time(9, 0), breaks=breaks)
    entries = [entry(f"band-{number}", section) for number, section in enumerate(slots)]

    table = timetable(rules, entries, [one.id for one in entries])

    minutes = [Decimal("12.5") if section == "Call changes" else Decimal(15) for section in slots]
    found = [turn.rings.hour * 3600 + turn.rings.minute * 60 + turn.rings.second for turn in table.turns if turn.rings]
    assert found == slow(9 * 3600, minutes, breaks)
    lines = list(table.lines)
    assert isinstance(lines[0], Turn)
    assert isinstance(lines[-1], Turn)
