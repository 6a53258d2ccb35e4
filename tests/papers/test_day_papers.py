"""Papers of the day: nothing that must not be seen, everything that must be filled in."""

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import draw, read_entries, read_rules
from judging.contest.order import ticket
from judging.errors import InputError
from judging.marks.sheet_rules import Criterion, Sheets
from judging.papers import (
    NOT_MADE,
    Heading,
    LinkSlip,
    Rest,
    Slot,
    bundle,
    bundled,
    draw_list_pdf,
    judges_paper_pdf,
    judges_papers_setting,
    link_slips_pdf,
    rules_paper_data,
    rules_paper_pdf,
    steward_sheet_pdf,
)
from judging.papers.paper import file_names
from judging.piece.piece import Piece
from judging.piece.rows import row_text
from judging.striking.marking import SCHEMES
from judging.striking.rules import CountingRules, Marked
from judging.striking.values import Count

RULES = """rules = 1
title = "Spring Striking Contest"
[[section]]
name = "Six bells"
changes = 120
[[judge]]
id = "j1"
name = "First judge"
[[judge]]
id = "j2"
name = "Second judge"
[draw]
seed = "spring"
"""

SLOTS = tuple(Slot(n, f"Band named {n}", f"14:{15 * n:02d}", piece="120 Plain Bob Doubles") for n in (1, 2, 3))


def test_a_timetable_has_practice_ringing_breaks_and_who_does_not_ring(
    heading: Heading, read: Callable[[bytes], str]
) -> None:
    lines = (
        Slot(1, "Ash", "14:05", practice="14:00"),
        Slot(2, "Elm", "14:20", practice="14:15", remark="withdrawn; this time is free", is_off=True),
        Rest("14:30", "14:50", "Tea"),
        Slot(3, "Oak", "14:55", practice="14:50", remark="scratch band"),
    )
    words = read(draw_list_pdf(lines, heading=heading, ends="15:05"))
    for said in ("14:00 14:05 Ash", "withdrawn", "14:30 · Tea until 14:50", "scratch band", "rung by 15:05"):
        assert said in words
    assert "14:20" not in words
    assert "Tea until 14:50" in read(steward_sheet_pdf(lines, heading=heading))


def test_the_draw_list_gives_what_anyone_needs_to_run_the_draw_again(
    heading: Heading, read: Callable[[bytes], str]
) -> None:
    entries = read_entries('[[entry]]\nid = "ash"\nband = "Ash"\n[[entry]]\nid = "elm"\nband = "Elm"\n', name="e.toml")
    order = draw(entries, "spring")
    slots = [Slot(n, entry.title(), ticket=ticket(entry, "spring")) for n, entry in enumerate(order, 1)]
    words = read(draw_list_pdf(slots, heading=heading, seed="spring"))
    assert all(slot.ticket in words.replace("\u200b", "") for slot in slots)
    assert [slot.ticket for slot in slots] == sorted(slot.ticket for slot in slots)


def test_a_draw_list_without_names_prints_none(heading: Heading, read: Callable[[bytes], str]) -> None:
    words = read(draw_list_pdf([replace(slot, band="") for slot in SLOTS], heading=heading))
    assert "Band" not in words
    assert "14:45" in words


@pytest.mark.parametrize("numbers", [(1, 3), (2, 1), (0, 1), ()])
def test_a_draw_that_does_not_count_from_one_is_refused(numbers: tuple[int, ...], heading: Heading) -> None:
    slots = [Slot(number, "Ash") for number in numbers]
    for paper in (draw_list_pdf, steward_sheet_pdf):
        with pytest.raises(InputError, match=r"draw"):
            paper(slots, heading=heading)


def test_the_steward_is_asked_for_times_truth_and_method_of_every_band(
    heading: Heading, read: Callable[[bytes], str]
) -> None:
    words = read(steward_sheet_pdf(SLOTS, heading=heading, minutes_allowed="5 minutes of practice"))
    for part in (*(slot.band for slot in SLOTS), "First change", "True", "Method right", "5 minutes of practice"):
        assert part in words
    assert "Nobody goes up to the bells unless they are down" in words


def test_thirty_bands_have_room_on_the_stewards_sheets(heading: Heading, read: Callable[[bytes], str]) -> None:
    slots = [Slot(n, f"Band named {n}") for n in range(1, 31)]
    words = read(steward_sheet_pdf(slots, heading=heading))
    assert all(slot.band in words for slot in slots)


def test_a_dozen_bands_stand_on_one_stewards_sheet_and_a_long_name_within_its_own_line(
    heading: Heading, look: Callable[[bytes], list[np.ndarray]]
) -> None:
    slots = [Slot(n, f"Band named {n}", "14:00", piece="224 Plain Bob Major") for n in range(1, 13)]
    assert len(look(steward_sheet_pdf(slots, heading=heading, minutes_allowed="5 minutes of practice"))) == 1
    long = [replace(slots[0], band="W" * 60), *slots[1:]]
    (plain, *_), (deep, *_) = (look(steward_sheet_pdf(some, heading=heading)) for some in (slots, long))
    assert _rules_across(deep)[2] - _rules_across(deep)[1] > _rules_across(plain)[2] - _rules_across(plain)[1]


def _rules_across(page: np.ndarray) -> list[int]:
    """Heights of the lines ruled across a page from side to side."""
    dark = (page < 235).mean(axis=1) > 0.85
    return [y for y in np.flatnonzero(dark).tolist() if not dark[y - 1]]


def test_each_slip_has_its_own_address_and_eight_fill_a_page(
    heading: Heading, read: Callable[[bytes], str], look: Callable[[bytes], list[np.ndarray]]
) -> None:
    slips = [LinkSlip("Judge", f"Judge {n}", f"http://10.0.0.1/enter/{'k' * 42}{n}") for n in range(9)]
    pdf = link_slips_pdf(slips, heading=heading)
    words = read(pdf).replace("\u200b", "").replace(" ", "")
    assert all(slip.address in words for slip in slips)
    # Each by itself can be checked, once they are cut apart.
    assert words.count(f"revision{heading.revision}·rules{heading.fingerprint[:4]}") == len(slips)
    assert words.count(f"audit{heading.audit_head[:4]}") == len(slips)
    assert len(look(pdf)) == 2


@pytest.mark.parametrize("address", ["", "http://" + "x" * 300])
def test_an_address_no_phone_can_read_is_refused(address: str, heading: Heading) -> None:
    with pytest.raises(InputError, match="slip for First judge"):
        link_slips_pdf([LinkSlip("Judge", "First judge", address)], heading=heading)


def test_no_slips_are_refused(heading: Heading) -> None:
    with pytest.raises(InputError, match="none to print"):
        link_slips_pdf([], heading=heading)


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_judges_paper_has_every_marked_row_whatever_the_scheme(
    scheme: str, make_count: Callable[..., Count], heading: Heading, read: Callable[[bytes], str]
) -> None:
    piece = make_count().rung.piece
    rules = CountingRules(scheme=SCHEMES[scheme], marked=Marked(most_changes=100))
    words = read(judges_paper_pdf(piece, heading=heading, rules=rules, number=777)).replace(" ", "")
    for row in piece.rows[piece.opening : piece.opening + 100]:
        assert row_text(row) in words
    assert "777" in words
    total = "Totalmarks" if SCHEMES[scheme].marks_up else "Totalfaults"
    assert total in words


def test_a_judges_paper_for_a_standard_test_piece_is_one_leaf(
    make_count: Callable[..., Count], heading: Heading, look: Callable[[bytes], list[np.ndarray]]
) -> None:
    assert len(look(judges_paper_pdf(make_count(6, 120).rung.piece, heading=heading))) == 1
    assert len(look(judges_paper_pdf(make_count(8, 224).rung.piece, heading=heading))) <= 2
    long = replace(heading, contest="Wold " * 12, section="Service bands " * 4, district="Northern Branch " * 4)
    assert len(look(judges_paper_pdf(make_count(6, 120).rung.piece, heading=long))) == 1
    assert len(look(judges_paper_pdf(make_count(8, 96).rung.piece, heading=long))) == 1


def test_every_band_has_its_judges_paper_with_its_number_on_every_page_and_no_name(
    make_count: Callable[..., Count],
    heading: Heading,
    read: Callable[[bytes], str],
    pages: Callable[[bytes], list[str]],
) -> None:
    long, short = make_count(8, 400).rung.piece, make_count(6, 120).rung.piece
    pdf = judges_papers_setting(
        {3: "short", 1: "long", 12: "short"}, {"long": long, "short": short}, heading=heading
    ).pdf()
    numbers = [re.findall(r"band (\d+)", page)[-1] for page in pages(pdf)]
    assert numbers == ["1"] * (len(numbers) - 2) + ["3", "12"]
    assert len(numbers) > 3
    words = read(pdf).replace(" ", "")
    assert all(words.count(row_text(row)) >= 2 for row in short.rows[short.opening : short.opening + 120 : 17])
    assert "Writetheband" not in words  # it is there already


def test_papers_by_number_need_bands_that_ring_a_piece_that_is_there(
    make_count: Callable[..., Count], heading: Heading
) -> None:
    pieces = {"short": make_count(6, 120).rung.piece}
    for numbers in ({}, {0: "short"}):
        with pytest.raises(InputError, match="from 1"):
            judges_papers_setting(numbers, pieces, heading=heading)
    with pytest.raises(InputError, match='band 2: its piece "long" is not among'):
        judges_papers_setting({2: "long"}, pieces, heading=heading)


def test_rows_held_until_called_are_printed_once_each_with_room_to_count(
    heading: Heading, read: Callable[[bytes], str]
) -> None:
    rows = np.array([[1, 2, 3, 4], [2, 1, 3, 4], [2, 3, 1, 4], [1, 2, 3, 4]], dtype=np.int8)
    piece = Piece("Called", rows, opening=1, free_lengths=True)
    words = read(judges_paper_pdf(piece, heading=heading))
    assert "2134" in words.replace(" ", "")
    assert "2314" in words.replace(" ", "")


def test_a_piece_with_nothing_marked_has_no_judges_paper(make_count: Callable[..., Count], heading: Heading) -> None:
    with pytest.raises(InputError, match="no marked row"):
        judges_paper_pdf(
            make_count(6, 10).rung.piece, heading=heading, rules=CountingRules(marked=Marked(free_rows=10))
        )
    with pytest.raises(InputError, match="is 0"):
        judges_paper_pdf(make_count().rung.piece, heading=heading, number=0)


def test_the_rules_are_printed_in_the_contests_own_sentences_with_the_whole_fingerprint(
    heading: Heading, read: Callable[[bytes], str]
) -> None:
    rules = read_rules(RULES, name="rules.toml")
    paper = rules_paper_data(rules, heading=heading)
    words = read(rules_paper_pdf(paper))
    for part in paper.parts:
        assert all(" ".join(sentence.split()) in words for sentence in part.sentences)
    assert rules.fingerprint in words.replace("\u200b", "").replace(" ", "")


def test_the_tolerance_is_worked_out_as_the_trades_table_of_paces_has_the_gaps(heading: Heading) -> None:
    """Gaps at h = 1 (computed in the trade's table): six 2h40 293, eight 2h50 238, ten 3h10 215, twelve 3h20 190 ms."""
    paper = rules_paper_data(read_rules(RULES, name="rules.toml"), heading=heading)
    assert [row[2] for row in paper.tolerance[1:]] == ["293 ms", "238 ms", "215 ms", "190 ms"]
    assert paper.tolerance[1][3:] == ("44 ms", "73 ms", "117 ms", "73 ms")  # 0.15, 0.25, 0.40 and 0.25 of 293


@pytest.mark.parametrize(
    ("scheme", "said"),
    [
        ("half or whole for each blow", "are charged 2½ faults"),
        ("up to 3 a row", "are charged 3 faults"),
        ("0, 1 or 2 a row", "are charged 2 faults"),
        ("marks up, 2 a row", "leave 0 of 2"),
    ],
)
def test_the_example_of_a_bad_row_follows_the_declared_scheme(scheme: str, said: str, heading: Heading) -> None:
    rules = read_rules(f'{RULES}[counting]\nscheme = "{scheme}"\n', name="rules.toml")
    assert rules_paper_data(rules, heading=heading).scheme[-1] == (
        f"So a half fault, a whole fault and a clash in one row {said}."
    )


def test_a_bundle_holds_every_paper_and_is_the_same_bytes_in_any_order() -> None:
    papers = {"b.pdf": b"two", "sheets/a.pdf": b"one"}
    made = bundle(papers)
    assert made == bundle(dict(reversed(papers.items())))
    with zipfile.ZipFile(io.BytesIO(made)) as file:
        assert {name: file.read(name) for name in file.namelist()} == papers


@pytest.mark.parametrize("name", ["../a.pdf", "/a.pdf", "a\\..\\b.pdf", "", "a/../../b"])
def test_a_bundle_refuses_names_that_lead_out_of_its_folder(name: str) -> None:
    with pytest.raises(InputError, match="must not lead out"):
        bundle({name: b""})


def test_an_empty_bundle_is_refused() -> None:
    with pytest.raises(InputError, match="none to put together"):
        bundle({})


def test_a_paper_is_made_only_when_the_ones_before_it_have_been_taken() -> None:
    made: list[str] = []

    def make(name: str) -> bytes:
        made.append(name)
        return name.encode()

    parts = bundled({name: partial(make, name) for name in ("b", "a", "c")})
    assert made == []
    first = next(parts)
    assert made == ["a"]
    with zipfile.ZipFile(io.BytesIO(first + b"".join(parts))) as file:
        assert file.testzip() is None
        assert file.namelist() == ["a", "b", "c"]


def test_one_paper_that_cannot_be_made_does_not_cost_the_others() -> None:
    def refuse() -> bytes:
        raise InputError("piece", "has no marked row")

    whole = b"".join(bundled({"a.pdf": partial(bytes, b"one"), "b.pdf": refuse}))
    with zipfile.ZipFile(io.BytesIO(whole)) as file:
        assert file.namelist() == ["a.pdf", NOT_MADE]
        assert file.read(NOT_MADE).decode() == "b.pdf: piece: has no marked row\n"


@given(st.lists(st.text(max_size=12), unique=True, max_size=12))
def test_things_of_different_names_have_files_of_different_safe_names(names: list[str]) -> None:
    files = file_names("paper", names)
    assert list(files) == names
    assert len(set(files.values())) == len(names)
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+", file) for file in files.values())


@pytest.mark.parametrize(
    ("sheets", "words", "rows"),
    [
        (Sheets(lines="whole pull"), "Marked: each whole pull.", True),
        (Sheets("marks", lines="block", block_changes=20), "Marked: each block of 20 changes.", True),
        (
            Sheets("marks", criteria=(Criterion("Rhythm", Decimal(40), "A steady pace"),), lines="criterion"),
            "Rhythm – at most 40",
            False,
        ),
    ],
)
def test_the_judges_paper_is_ruled_for_the_kind_of_sheet_that_is_declared(
    sheets: Sheets,
    words: str,
    rows: bool,  # noqa: FBT001  a case, not an option
    make_count: Callable[..., Count],
    heading: Heading,
    look: Callable[[bytes], list[np.ndarray]],
    read: Callable[[bytes], str],
) -> None:
    piece = make_count(6, 120).rung.piece
    pdf = judges_paper_pdf(piece, heading=heading, sheets=sheets, number=7)

    told = read(pdf)
    assert words in told
    assert (row_text(piece.rows[piece.opening]) in told.replace(" ", "")) == rows
    assert ("Total marks" in told) == (sheets.unit == "marks")
    assert len(look(pdf)) == 1
