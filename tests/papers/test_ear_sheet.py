"""The sheet of a band that was judged by ear alone."""

from collections.abc import Callable
from decimal import Decimal

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from judging.marks.values import Sheet, Tap
from judging.papers import EarSheet, Heading, ear_sheet_data, ear_sheet_pdf

HALF = Decimal("0.5")


def made(*sheets: Sheet) -> EarSheet:
    return ear_sheet_data(heading=Heading("Contest"), band="Wick", judges={"a": "Ann", "b": "Ben"}, sheets=sheets)


def test_faults_at_the_same_change_stand_on_one_line_added_up_for_each_judge() -> None:
    ann = Sheet("a", "w", Decimal(2), (Tap(38, HALF), Tap(38, Decimal(1)), Tap(None, HALF)))
    ben = Sheet("b", "w", HALF, (Tap(7, HALF), Tap(8, Decimal(0))))
    sheet = made(ben, ann)
    assert sheet.itemised == ("Ann", "Ben")
    assert [(line.change, line.figures) for line in sheet.noted] == [
        ("7", ("–", "½")),
        ("38", ("1½", "–")),
        ("", ("½", "–")),
    ]


@given(st.lists(st.tuples(st.integers(1, 60), st.sampled_from([HALF, Decimal(1)])), max_size=40))
@settings(max_examples=50)
def test_the_lines_add_up_to_what_the_judge_noted(taps: list[tuple[int, Decimal]]) -> None:
    sheet = made(Sheet("a", "w", Decimal(0), tuple(Tap(*tap) for tap in taps)))
    values = [line.figures[0].replace("½", ".5") for line in sheet.noted]
    assert sum((Decimal(value) for value in values), Decimal(0)) == sum((tap[1] for tap in taps), Decimal(0))
    changes = [int(line.change) for line in sheet.noted]
    assert changes == sorted({tap[0] for tap in taps})


def test_a_judge_who_gave_a_total_has_no_column() -> None:
    sheet = made(Sheet("a", "w", Decimal(12), (), "Well led."), Sheet("b", "w", HALF, (Tap(7, HALF),)))
    assert sheet.itemised == ("Ben",)
    assert [comment.words for comment in sheet.comments] == ["Well led."]


def test_three_hundred_faults_of_five_judges_are_printed_whole_within_the_page(
    read: Callable[[bytes], str], look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    names = {str(n): f"The Reverend Judge of a Very Long Name, number {n}" for n in range(5)}
    sheets = [
        Sheet(judge, "w", Decimal(150), tuple(Tap(change, HALF) for change in range(1, 301)), "Well rung!")
        for judge in names
    ]
    sheet = ear_sheet_data(heading=Heading("Contest"), band="W" * 60, judges=names, sheets=sheets)
    pdf = ear_sheet_pdf(sheet)
    assert {str(change) for change in range(1, 301)} <= set(read(pdf).split())
    for page in look(pdf):
        assert page[:, :11].min() == page[:, -11:].min() == 255  # four millimetres
