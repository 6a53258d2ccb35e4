"""Two people key the same paper: it is a sheet only where nothing differs."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from judging.contest import agreed, side_by_side
from judging.marks.sheet_rules import Criterion, Sheets
from judging.marks.values import Sheet, Tap

HALVES = st.integers(0, 40).map(lambda halves: Decimal(halves) / 2)
TAPS = st.lists(st.builds(Tap, st.one_of(st.none(), st.integers(1, 120)), HALVES), max_size=8).map(tuple)
SHEETS = st.builds(
    Sheet, st.just("a"), st.just("b"), HALVES, TAPS, st.sampled_from(["", "Well led.", "Mind the tenor."])
)


@given(SHEETS)
def test_the_same_paper_keyed_alike_is_the_sheet(sheet: Sheet) -> None:
    both = agreed(sheet, replace(sheet, taps=sheet.taps[::-1]))

    assert both is not None
    assert (both.total, both.comment) == (sheet.total, sheet.comment)
    assert sorted(map(repr, both.taps)) == sorted(map(repr, sheet.taps))


@given(SHEETS, SHEETS)
def test_any_difference_is_shown_and_is_no_sheet(first: Sheet, second: Sheet) -> None:
    """Oracle: what was charged at each change, added up here the long way."""

    def charged(sheet: Sheet) -> dict[int | None, Decimal]:
        changes = {tap.change for tap in sheet.taps}
        return {change: sum((t.faults for t in sheet.taps if t.change == change), Decimal(0)) for change in changes}

    same = first.total == second.total and charged(first) == charged(second) and second.comment in {"", first.comment}

    assert (agreed(first, second) is not None) == same
    assert any(line.differs for line in side_by_side(first, second)) != same


def test_a_difference_stands_at_its_change() -> None:
    first = Sheet("a", "b", Decimal("1.5"), (Tap(3, Decimal(1)), Tap(17, Decimal("0.5"))), "Well led.")
    second = Sheet("a", "b", Decimal(2), (Tap(3, Decimal(1)), Tap(18, Decimal(1))))

    lines = {line.what: (line.first, line.second, line.differs) for line in side_by_side(first, second)}

    assert lines == {
        "In all": ("1½", "2", True),
        "Change 3": ("1", "1", False),
        "Change 17": ("½", "", True),
        "Change 18": ("", "1", True),
        "To the band": ("Well led.", "Well led.", False),
    }


def test_a_line_is_called_as_the_paper_calls_it() -> None:
    sheet = Sheet("a", "b", Decimal(3), (Tap(5, Decimal(3)),))
    criteria = (Criterion("Rhythm", Decimal(20)), Criterion("Leads", Decimal(30)))
    by_criteria = Sheets(lines="criterion", criteria=criteria)
    second = replace(sheet, taps=(Tap(2, Decimal(3)),))

    assert side_by_side(sheet, sheet, Sheets(lines="whole pull"))[1].what == "Whole pull 3"
    assert side_by_side(second, second, by_criteria)[1].what == "Leads"
