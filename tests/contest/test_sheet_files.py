"""A judge's sheets from CSV in both shapes, and what is refused with its line."""

import csv
import io
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import Entry, read_comments, read_sheets
from judging.errors import InputError
from judging.marks import Sheet, Sheets, Tap

D = Decimal
ENTRIES = (Entry("a", "Alpha"), Entry("b", "Beta"), Entry("gone", "Gamma", withdrawn="no conductor"))


def sheets_of(text: str, **options: Any) -> tuple[Sheet, ...]:  # noqa: ANN401  passed on as they are
    return read_sheets(text, name="one.csv", judge="one", **options)


def test_totals_are_one_line_a_band() -> None:
    text = 'entry,total,comment\na,18.5,"Well struck, mostly"\nb,24,\n'

    assert sheets_of(text) == (
        Sheet("one", "a", D("18.5"), comment="Well struck, mostly"),
        Sheet("one", "b", D(24)),
    )


def test_taps_add_up_to_the_total_in_the_order_in_which_bands_first_appear() -> None:
    text = "entry,change,faults,tap_s\nb,3,1,12.5\na,1,0.5,4\nb,9,½,40.25\na,,1,\n"

    assert sheets_of(text) == (
        Sheet("one", "b", D("1.5"), (Tap(3, D(1), 12.5), Tap(9, D("0.5"), 40.25))),
        Sheet("one", "a", D("1.5"), (Tap(1, D("0.5"), 4.0), Tap(None, D(1), None))),
    )


def test_a_line_with_an_entry_only_is_a_sheet_without_a_fault() -> None:
    assert sheets_of("entry,change,faults,tap_s\na,,,\n") == (Sheet("one", "a", D(0)),)


def test_revisions_keep_the_first_and_give_a_reason() -> None:
    text = "entry,total,comment,revision,reason\na,18,,1,\na,17,,2,one tap was a slip\n"

    assert [(sheet.total, sheet.revision, sheet.reason) for sheet in sheets_of(text)] == [
        (D(18), 1, ""),
        (D(17), 2, "one tap was a slip"),
    ]


def test_a_figure_signed_beside_taps_stands_where_it_is_not_their_sum() -> None:
    text = "entry,change,faults,tap_s,total\na,3,1,4,9.5\na,5,1,9,\nb,,,,7\n"

    assert [(sheet.entry, sheet.total, len(sheet.taps)) for sheet in sheets_of(text)] == [
        ("a", D("9.5"), 2),
        ("b", D(7), 0),
    ]


def test_taps_of_two_revisions_are_two_sheets() -> None:
    text = "entry,change,faults,tap_s,revision,reason\na,1,1,3,1,\na,1,1,3,2,missed one\na,5,1,9,2,missed one\n"

    assert [(sheet.total, sheet.revision) for sheet in sheets_of(text)] == [(D(1), 1), (D(2), 2)]


def test_comments_of_their_own_file_go_to_their_entries() -> None:
    comments = read_comments("entry,comment\na,Steady.\nb,Mind the leads.\n", name="one-comments.csv")

    sheets = sheets_of("entry,change,faults,tap_s\na,1,1,3\nb,,,\n", comments=comments, entries=ENTRIES)

    assert [sheet.comment for sheet in sheets] == ["Steady.", "Mind the leads."]


def test_empty_lines_comments_a_byte_order_mark_and_windows_lines_are_read() -> None:
    text = "\ufeff# from paper\r\nentry,total,comment\r\n\r\na,18,\r\n"

    assert sheets_of(text) == (Sheet("one", "a", D(18)),)


def test_a_header_alone_holds_no_sheet() -> None:
    assert sheets_of("entry,total,comment\n") == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "one.csv: the file is empty"),
        ("entry,points\na,1\n", r'line 1: the column "points" is not known'),
        ("band,total\na,1\n", r'line 1: the header "band,total" has no column "entry"'),
        ("entry,comment\na,x\n", "line 1: the header is"),
        ("entry;total\na;1\n", "line 1: the cells are not separated by commas"),
        ("entry,total,total\na,1,1\n", "line 1: a column is there twice"),
        ("entry,total\na,x\n", r'line 2, total: "x" is no number; write halves as 0.5'),
        ("entry,total\na,nan\n", r'line 2, total: "nan" is no number of faults'),
        ("entry,total\na,1e99\n", r'line 2, total: "1e99" is no number of faults'),
        ("entry,total\na,-1\n", "line 2: -1 faults: it cannot be below 0"),
        ("entry,total\na,18.3\n", "line 2: 18.3 faults is finer than the step declared, 0.5"),
        ("entry,total\na,400\n", "line 2: 400 faults is above the most a sheet may hold, 360"),
        ("entry,total\na,\n", "line 2, total: it is empty; leave the line out"),
        ("entry,total\nx,3\n", 'line 2: "x" is no entry of this contest'),
        ("entry,total\ngone,3\n", r"line 2: gone is withdrawn \(no conductor\), so it has no sheet"),
        ("entry,total\na,3\nb,4\na,5\n", "line 4: a second sheet for a, the first is at one.csv, line 2"),
        ("entry,total,revision\na,3,2\n", "line 2: revision 2 of a gives no reason"),
        ("entry,total,revision\na,3,0\n", r'line 2, revision: "0" is no whole number from 1'),
        ("entry,total\n,3\n", "line 2: it names no entry"),
        ("entry,total\na,3,well struck,mostly\n", "line 2: 4 cells under a header of 2; quote a comment"),
        ('entry,total,comment\na,3,"open\n', "it is no CSV"),
        ("entry,total\na,3\0\n", "no text file; was a spreadsheet saved"),
        ("entry,change,faults,tap_s\na,1,11,3\n", "line 2, faults: 11 is not from 0 to 10"),
        ("entry,change,faults,tap_s\na,1,0.25,3\n", "line 2, faults: 0.25 is finer than the step declared, 0.5"),
        ("entry,change,faults,tap_s\na,1,,3\n", "line 2, faults: it is empty beside a change"),
        ("entry,change,faults,tap_s\na,0,1,3\n", r'line 2, change: "0" is no whole number from 1'),
        ("entry,change,faults,tap_s\na,1,1,-3\n", "line 2, tap_s: -3.0 is not from 0 to 86400 seconds"),
    ],
)
def test_what_is_wrong_is_named_with_its_file_line_and_value(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        sheets_of(text, entries=ENTRIES, rules=Sheets(most=D(360)))


def test_comments_for_an_unknown_entry_or_twice_are_refused() -> None:
    with pytest.raises(InputError, match=r"one-comments\.csv, line 3: a second comment for a"):
        read_comments("entry,comment\na,x\na,y\n", name="one-comments.csv")
    with pytest.raises(InputError, match='the header should be "entry,comment"'):
        read_comments("entry,total\na,1\n", name="one-comments.csv")
    with pytest.raises(InputError, match="at most 5000000; is it the right file"):
        read_comments("x" * 5_000_001, name="one-comments.csv")
    with pytest.raises(InputError, match='there is a comment for "x", which is no entry'):
        sheets_of("entry,total\na,1\n", entries=ENTRIES, comments={"x": "Hm."})


FIGURES = st.integers(0, 400).map(lambda halves: D(halves) / 2)


@given(st.dictionaries(st.sampled_from(["a", "b", "c-2"]), st.tuples(FIGURES, st.text(max_size=40)), min_size=1))
@settings(max_examples=100)
def test_any_comment_and_figure_written_as_csv_comes_back(table: dict[str, tuple[Decimal, str]]) -> None:
    clean = {entry: (total, comment.replace("\0", "").replace("\r", "")) for entry, (total, comment) in table.items()}
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["entry", "total", "comment"])
    writer.writerows([entry, total, comment] for entry, (total, comment) in clean.items())

    read = {sheet.entry: (sheet.total, sheet.comment) for sheet in sheets_of(file.getvalue())}

    assert read == {entry: (total, comment.strip()) for entry, (total, comment) in clean.items()}


@given(st.text(alphabet='entry,totalchangefus_p\n\r"0123456789.;-½ \t', max_size=120))
@settings(max_examples=200)
def test_any_text_is_read_or_refused_with_its_name(text: str) -> None:
    try:
        sheets_of(text)
    except InputError as error:
        assert str(error).startswith("one.csv")  # noqa: PT017  most texts are refused, some are sheets
