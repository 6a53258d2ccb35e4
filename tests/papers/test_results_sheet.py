"""The results sheet prints the result and nothing else: places, figures, footnotes, comments in order of ringing."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from judging.errors import InputError
from judging.marks.values import Adjustment, Placed, Result
from judging.papers import Heading, ResultsSheet, results_sheet_data, results_sheet_html, results_sheet_pdf

JUDGES = {"j1": "First judge", "j2": "Second judge"}
BANDS = {"wick": "St Mary, Upper Wick", "thorn": "Lower Thornley", "ghent": "Łódź & Ghent", "odds": "Odds and Ends"}


def placed(entry: str, place: int | None, figures: tuple[str, str], mark: str, **more: object) -> Placed:
    by_judge = dict(zip(JUDGES, map(Decimal, figures), strict=True))
    line = Placed(
        entry, place, tied=False, mark=Decimal(mark), by_judge=by_judge, machine=None, adjustments=(), reasons=()
    )
    return replace(line, **more)


@pytest.fixture
def result() -> Result:
    borrowed = Adjustment("", "1 borrowed ringer at 15 %", Decimal("39.13"), Decimal(45))
    again = Adjustment("j1", "1 restart at 10 % each", Decimal(20), Decimal(22))
    return Result(
        "Six bells",
        "faults",
        lower_is_better=True,
        places=(
            placed(
                "wick",
                1,
                ("18", "24"),
                "42",
                machine=Decimal(31),
                safety=0.91,
                reasons=("3 faults fewer than the next place",),
            ),
            placed("thorn", 2, ("22", "23"), "45", tied=True, adjustments=(again, borrowed), safety=0.559),
            placed("ghent", 2, ("20.5", "24.5"), "45", tied=True, adjustments=(borrowed,), safety=0.97),
            placed("odds", None, ("5", "5.5"), "10.5", reasons=("Scratch band: judged, not placed",), safety=0.5),
        ),
        notes=("The machine's count decides nothing",),
        fingerprint="5f0c9a7e21b44d10",
    )


@pytest.fixture
def sheet(result: Result, heading: Heading) -> ResultsSheet:
    return results_sheet_data(
        result,
        heading=heading,
        bands=BANDS,
        judges=JUDGES,
        order=("thorn", "elsewhere", "odds", "wick", "ghent"),
        pieces=dict.fromkeys(BANDS, "120 Plain Bob Doubles"),
        comments={
            "wick": [("First judge", "Very even.")],
            "thorn": [("Second judge", "Settled soon."), ("First judge", "")],
        },
        combining="the sum of the judges' figures",
    )


def test_each_line_has_place_figures_mark_and_machine_as_read(sheet: ResultsSheet) -> None:
    printed = [(line.place, line.number, line.by_judge, line.mark, line.machine) for line in sheet.lines]
    assert printed == [
        ("1st", "4", ("18", "24"), "42", "31"),
        ("2nd =", "1", ("22", "23"), "45", "–"),
        ("2nd =", "5", ("20½", "24½"), "45", "–"),
        ("–", "3", ("5", "5½"), "10½", "–"),
    ]


def test_the_same_step_is_one_footnote_however_many_bands_it_touches(sheet: ResultsSheet) -> None:
    assert sheet.footnotes == (
        "First judge: 1 restart at 10 % each: 20 became 22",
        "1 borrowed ringer at 15 %: 39.13 became 45",
    )
    assert [line.footnotes for line in sheet.lines] == [(), (1, 2), (2,), ()]


def test_comments_stand_in_order_of_ringing_and_empty_ones_are_left_out(sheet: ResultsSheet) -> None:
    told = [(band.number, band.band, [one.words for one in band.comments]) for band in sheet.comments]
    assert told == [("1", "Lower Thornley", ["Settled soon."]), ("4", "St Mary, Upper Wick", ["Very even."])]


def test_safety_is_said_of_places_that_could_be_lost(sheet: ResultsSheet) -> None:
    """Not of the last place, below which nobody can fall, and not of a band without one."""
    assert [bool(line.safety) for line in sheet.lines] == [True, False, False, False]


def test_paper_and_page_say_all_of_it(sheet: ResultsSheet, read: Callable[[bytes], str]) -> None:
    page = " ".join(results_sheet_html(sheet).split())
    for words in (read(results_sheet_pdf(sheet)), page.replace("&amp;", "&").replace("&#39;", "'")):
        for part in (
            *BANDS.values(),
            "Test piece: 120 Plain Bob Doubles.",
            "each is the sum of the judges' figures",
            "3 faults fewer than the next place.",
            "Scratch band: judged, not placed.",
            "39.13 became 45",
            "The machine's count decides nothing.",
            "Settled soon.",
            "5f0c 9a7e 21b4",
        ):
            assert part in words


def test_a_page_links_each_footnote_to_its_own_words(sheet: ResultsSheet) -> None:
    page = results_sheet_html(sheet)
    assert page.count('href="#note-2"') == 2
    assert page.count('id="note-2"') == 1


def test_different_pieces_are_named_on_each_line(
    result: Result, heading: Heading, read: Callable[[bytes], str]
) -> None:
    pieces = {entry: f"Piece of {entry}" for entry in BANDS}
    words = read(
        results_sheet_pdf(results_sheet_data(result, heading=heading, bands=BANDS, judges=JUDGES, pieces=pieces))
    )
    assert all(piece in words for piece in pieces.values())
    assert "Test piece:" not in words


def test_a_band_without_a_name_to_print_is_refused(result: Result, heading: Heading) -> None:
    with pytest.raises(InputError, match="no name is given for ghent, odds"):
        results_sheet_data(result, heading=heading, bands={"wick": "W", "thorn": "T"}, judges=JUDGES)


def test_nine_judges_have_room(result: Result, heading: Heading, read: Callable[[bytes], str]) -> None:
    judges = {f"j{n}": f"Judge number {n}" for n in range(1, 10)}
    words = read(results_sheet_pdf(results_sheet_data(result, heading=heading, bands=BANDS, judges=judges)))
    assert all(name in words for name in judges.values())


def test_comments_longer_than_a_page_go_on_over_the_next(
    result: Result, heading: Heading, read: Callable[[bytes], str]
) -> None:
    words = " ".join(f"word{n}" for n in range(3000))
    sheet = results_sheet_data(
        result, heading=heading, bands=BANDS, judges=JUDGES, comments={"wick": [("First judge", words)]}
    )
    printed = set(read(results_sheet_pdf(sheet)).split())
    assert set(words.split()) <= printed
