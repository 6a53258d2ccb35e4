"""A judge's pad: its two areas by scheme, where the rows have got to, and a tally that depends on the set alone."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import read_rules
from judging.contest.pad import Pad, pad_for
from judging.contest.reached import reached
from judging.contest.tally import PadEvent, tally
from judging.piece import piece_from_file
from judging.striking.marking import SCHEMES

#: 120 Plain Bob Doubles, called pppb three times (published touch, trade.md O3): lead heads every ten changes.
PIECE = piece_from_file(
    "doubles.toml",
    'piece = 1\nmethod = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 8\n',
)

RULES = """
rules = 1
title = "Pad"
[[section]]
name = "Six"
[[judge]]
id = "a"
name = "A"
[draw]
seed = "x"
"""


def pad(scheme: str = "half or whole for each blow", sheets: str = "") -> Pad:
    text = f'{RULES}[sheets]\n{sheets}\n[counting]\nscheme = "{scheme}"\n'
    return pad_for(PIECE, read_rules(text, name="rules.toml"))


# What the two areas charge. Sources as in the trade's table of schemes: half or whole a blow (M1, C2), 0-3 (T3) and
# 0-4 (T4) a row, 0/1/2 a row (Y2), marks up 2 (K2) and 5 (M1), one a whole pull (common practice, no source).
@pytest.mark.parametrize(
    ("scheme", "sheets", "light", "heavy"),
    [
        ("half or whole for each blow", "", "0.5", "1"),
        ("up to 3 a row", "step = 1", "1", "2"),
        ("up to 4 a row", "step = 1", "1", "2"),
        ("0, 1 or 2 a row", "step = 1", "1", "2"),
        ("marks up, 2 a row", 'unit = "marks"\nstep = 1', "1", "2"),
        ("marks up, 5 a row", 'unit = "marks"\nstep = 0.5', "0.5", "1"),
        ("one a whole pull", "step = 1", "1", "2"),
        ("impression, 10 for 12 rows", 'unit = "marks"\nstep = 0.5', "0.5", "1"),
        ("half or whole for each blow", 'unit = "marks"\nstep = 1\nmost = 100', "1", "2"),
    ],
)
def test_the_areas_charge_what_the_scheme_knows_and_a_sheet_can_hold(
    scheme: str, sheets: str, light: str, heavy: str
) -> None:
    shape = pad(scheme, sheets)

    assert (shape.light, shape.heavy) == (Decimal(light), Decimal(heavy))


def test_every_scheme_has_a_pad() -> None:
    for scheme in SCHEMES:
        shape = pad(scheme, "step = 0.5")
        assert 0 < shape.light < shape.heavy


def test_rows_and_leads_are_those_of_the_piece() -> None:
    shape = pad()

    assert (shape.rows, shape.changes, shape.opening) == (120, 120, 8)
    assert shape.heads[:3] == (10, 20, 30)
    assert 1800 <= shape.row_ms <= 2030  # a six-bell row at 2h30 to 2h50, computed (trade's table of times)


# K2: 200 rows marked up from 2 make 400; here 120 rows make 240. A mark that is only the judge's is nobody's sum.
@pytest.mark.parametrize(
    ("scheme", "sheets", "lost", "total"),
    [
        ("half or whole for each blow", "", "18.5", "18.5"),
        ("marks up, 2 a row", 'unit = "marks"\nstep = 1', "40", "200"),
        ("impression, 10 for 12 rows", 'unit = "marks"\nstep = 0.5', "12.5", "87.5"),
        ("half or whole for each blow", 'unit = "marks"\nstep = 1\nmost = 100', "12", None),
    ],
)
def test_a_total_is_what_the_scheme_makes_of_what_was_lost(
    scheme: str, sheets: str, lost: str, total: str | None
) -> None:
    made = pad(scheme, sheets).total(Decimal(lost))

    assert made == (None if total is None else Decimal(total))


# ---- where the rows have got to ----


@given(
    row_ms=st.floats(1700, 2200),
    slips_ms=st.lists(st.floats(-250, 250), min_size=11, max_size=11),
    thumb_ms=st.floats(-200, 200),
)
def test_with_every_lead_marked_a_tap_falls_in_its_change_or_the_one_beside_it(
    row_ms: float, slips_ms: list[float], thumb_ms: float
) -> None:
    """Truth made here: row r begins r rows after the first; thumbs are off by up to a quarter of a second."""
    shape = pad()
    leads = [row_ms * (head - 1) + slip for head, slip in zip(shape.heads, slips_ms, strict=False)]
    way = reached(0.0, leads, None, row_ms=shape.row_ms, heads=shape.heads, changes=shape.changes)

    for change in range(1, 121):
        middle_ms = row_ms * (change - 0.5)
        assert abs(way.change(middle_ms + thumb_ms) - change) <= 1


def test_a_lead_that_was_not_marked_does_not_shift_the_next() -> None:
    shape = pad()
    row_ms = 1900.0
    marked = [head for head in shape.heads if head != 30]
    way = reached(
        0.0,
        [row_ms * (head - 1) for head in marked],
        None,
        row_ms=shape.row_ms,
        heads=shape.heads,
        changes=shape.changes,
    )

    assert [way.change(row_ms * (change - 0.5)) for change in (25, 35, 55)] == [25, 35, 55]


def test_a_thumb_that_slips_on_to_the_lead_moves_nothing() -> None:
    shape = pad()
    way = reached(0.0, [300.0, 500.0], None, row_ms=1900.0, heads=shape.heads, changes=shape.changes)

    assert way.marks == ((0.0, 1.0),)


def test_the_end_alone_gives_the_pace_of_the_whole_touch() -> None:
    """A six-bell 120 at 2 h 50: rows of 2.024 s (5,040 rows in 170 min)."""
    shape = pad()
    row_ms = 170 * 60_000 / 5040
    way = reached(0.0, [], 120 * row_ms, row_ms=shape.row_ms, heads=shape.heads, changes=120)

    assert [way.change((change - 0.5) * row_ms) for change in range(1, 121)] == list(range(1, 121))
    assert way.change(130 * row_ms) == 120


@given(st.integers(1, 120))
def test_the_moment_of_a_change_is_within_it(change: int) -> None:
    shape = pad()
    way = reached(5_000.0, [22_000.0, 41_000.0], 230_000.0, row_ms=1900.0, heads=shape.heads, changes=120)

    assert way.change(way.moment(change)) == change


# ---- the tally ----


def event(
    number: int, kind: str = "tap", *, at_ms: int | None = None, device: str = "phone", **more: object
) -> PadEvent:
    at_ms = 1000 * number if at_ms is None else at_ms
    faults = Decimal("0.5") if kind == "tap" and "faults" not in more else None
    return PadEvent(
        id=f"{device}{number:06d}",
        device=device,
        seq=number,
        kind=kind,
        at_ms=at_ms,
        **({"faults": faults} | more),  # type: ignore[arg-type]
    )


@st.composite
def event_sets(draw: st.DrawFn) -> list[PadEvent]:
    """What one or two pads might hold, in the order in which it was done."""
    made: list[PadEvent] = []
    for number in range(1, draw(st.integers(1, 40)) + 1):
        kind = draw(st.sampled_from(["tap"] * 6 + ["undo", "lead", "start", "stop", "correct", "comment"]))
        device = draw(st.sampled_from(["phone", "phone", "tablet"]))
        one = event(number, kind, at_ms=draw(st.integers(0, 240_000)), device=device)
        if kind == "tap":
            one = replace(one, faults=draw(st.sampled_from([Decimal("0.5"), Decimal(1)])))
        if kind == "undo" and made:
            one = replace(one, of=draw(st.sampled_from(made)).id)
        if kind == "correct":
            one = replace(one, change=draw(st.integers(1, 120)), faults=draw(st.sampled_from([Decimal(0), Decimal(2)])))
        made.append(one)
    return made


@given(event_sets(), st.randoms(use_true_random=False), st.sampled_from(sorted(SCHEMES)))
@settings(max_examples=200)
def test_the_tally_depends_on_the_set_and_not_on_order_or_number_of_messages(
    events: list[PadEvent], random: object, scheme: str
) -> None:
    shape = pad(scheme, "step = 0.5")
    often = events + events[::2]
    random.shuffle(often)  # type: ignore[attr-defined]  # hypothesis gives a Random

    assert tally(often, shape) == tally(events, shape)


def test_taps_are_counted_and_an_undo_takes_back_the_one_it_names() -> None:
    events = [event(1, "start"), event(2), event(3, faults=Decimal(1)), event(4), event(5, "undo", of="phone000004")]

    counted = tally(events, pad())

    assert counted.total == Decimal("1.5")
    assert [(line.change, line.faults, line.time_s) for line in counted.lines] == [
        (1, Decimal("0.5"), 1.0),
        (2, Decimal(1), 2.0),
    ]


def test_taking_the_end_back_goes_on_counting() -> None:
    events = [event(1, "start"), event(2, "stop"), event(3, "undo", of="phone000002"), event(4)]

    assert tally(events, pad()).stop_ms is None


def test_a_row_is_charged_no_more_than_the_scheme_allows_and_its_taps_stay() -> None:
    """0-3 a row, capped (T3): five whole faults in the first row are three."""
    events = [
        event(1, "start"),
        *(event(number, at_ms=1000 + 10 * number, faults=Decimal(1)) for number in range(2, 7)),
    ]

    counted = tally(events, pad("up to 3 a row", "step = 1"))

    assert counted.total == 3
    assert [line.faults for line in counted.lines] == [1, 1, 1, 0, 0]


def test_a_correction_sets_what_a_change_is_charged() -> None:
    events = [
        event(1, "start"),
        event(2),
        event(3),
        event(4, "correct", change=1, faults=Decimal(2), text="heard again"),
    ]

    counted = tally(events, pad())

    assert [(line.change, line.faults) for line in counted.lines] == [(1, Decimal(2)), (2, Decimal("0.5"))]


def test_two_pads_are_both_there_and_either_can_be_chosen() -> None:
    events = [event(1, "start"), event(2), event(2, device="tablet"), event(3, device="tablet")]

    assert tally(events, pad()).by_device == {"phone": 1, "tablet": 2}
    assert tally(events, pad()).total == Decimal("1.5")
    assert tally(events, pad(), devices=["tablet"]).total == 1


def test_without_a_first_change_the_stewards_start_and_the_opening_rows_say_where_it_is() -> None:
    shape = pad()
    begun_ms = 10_000
    tap_ms = round(begun_ms + (shape.opening + 37.5) * shape.row_ms)

    [line] = tally([event(1, at_ms=tap_ms)], shape, began_ms=begun_ms).lines

    assert line.change == 38
