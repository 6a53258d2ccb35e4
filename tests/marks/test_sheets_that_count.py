"""Which sheet counts, and the sheets that cannot be."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from judging.errors import InputError
from judging.marks import Entrant, MarksRules, Result, Sheet, Sheets, rank
from judging.marks.panel import latest

D = Decimal
BANDS = [Entrant("A"), Entrant("B")]


def ranked(sheets: list[Sheet], rules: MarksRules | None = None, entrants: list[Entrant] | None = None) -> Result:
    return rank(entrants or BANDS, sheets, rules or MarksRules(), judges=["j1"])


def test_the_latest_revision_counts_whatever_the_order_and_the_first_is_kept() -> None:
    first = Sheet("j1", "A", D(30))
    second = Sheet("j1", "A", D(20), revision=2, reason="added up wrongly")
    other = Sheet("j1", "B", D(25))

    result = ranked([second, other, first])

    assert [line.entry for line in result.places] == ["A", "B"]
    assert latest([second, other, first]) == {("j1", "A"): second, ("j1", "B"): other}


@pytest.mark.parametrize(
    ("sheets", "message"),
    [
        ([Sheet("j1", "A", D(1)), Sheet("j1", "A", D(2))], "sheet of j1 for A: there are two of revision 1"),
        ([Sheet("j1", "A", D(1), revision=2)], "revision 2 gives no reason"),
        (
            [Sheet("j1", "A", D(1), revision=2, reason="x")],
            "it has revisions 2; the first and every later one are kept",
        ),
        ([Sheet("x", "A", D(1))], 'sheet of x for A: "x" is no judge of this section; declared are j1'),
        ([Sheet("j1", "A", D(-1))], "-1 faults: it cannot be below 0"),
        ([Sheet("j1", "A", D("NaN"))], "NaN faults"),
        ([Sheet("j1", "A", D("0.3"))], "0.3 faults is finer than the step declared, 0.5"),
        ([Sheet("j1", "A", D(400))], "400 faults is above the most a sheet may hold, 360"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(sheets: list[Sheet], message: str) -> None:
    with pytest.raises(InputError, match=message):
        ranked(sheets, MarksRules(sheets=Sheets(most=D(360))))


def test_a_sheet_for_a_withdrawn_band_is_refused() -> None:
    with pytest.raises(InputError, match=r"the entry is withdrawn \(no conductor\), so it has no sheet"):
        ranked(
            [Sheet("j1", "A", D(1)), Sheet("j1", "B", D(1))],
            entrants=[Entrant("A"), Entrant("B", withdrawn="no conductor")],
        )


def test_sheets_of_entries_in_other_sections_are_left_alone() -> None:
    result = ranked([Sheet("j1", "A", D(1)), Sheet("j1", "B", D(2)), Sheet("j9", "elsewhere", D(1))])

    assert [line.entry for line in result.places] == ["A", "B"]


def test_an_unplaced_band_keeps_its_mark_beside_the_others(
    ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
) -> None:
    result = ranked(
        {"A": (10, 12), "B": (20, 20), "S": (5, 5), "D": (1, 1)},
        None,
        Entrant("S", scratch=True),
        Entrant("D", disqualified="late at the draw"),
    )

    assert [(line.entry, line.place) for line in result.places] == [("A", 1), ("B", 2), ("D", None), ("S", None)]
    assert marks(result) == {"A": "22", "B": "40", "S": "10", "D": "2"}
    assert result.places[3].reasons == ("Scratch band: judged, not placed",)


def test_a_withdrawn_band_stands_in_the_result_without_a_mark() -> None:
    result = ranked([Sheet("j1", "A", D(1))], entrants=[Entrant("A"), Entrant("B", withdrawn="no conductor")])

    assert [(line.entry, line.mark, line.reasons) for line in result.places[1:]] == [
        ("B", None, ("Withdrawn: no conductor",))
    ]


def test_where_marks_go_up_more_is_better(ranked: Callable[..., Result]) -> None:
    result = ranked({"A": (150,), "B": (180,)}, MarksRules(sheets=Sheets("marks", D(1), D(240))))

    assert [line.entry for line in result.places] == ["B", "A"]
    assert not result.lower_is_better
    assert result.places[0].reasons == ("30 marks more than the next place",)
