"""A judged day becomes its papers, with the names that the reader may see and no others."""

from collections.abc import Callable
from dataclasses import replace
from datetime import time
from decimal import Decimal

import pytest

from judging.contest import ContestDay, Outcome, draw, judge_contest, numbered, read_entries, read_rules
from judging.errors import InputError
from judging.marks.values import Sheet
from judging.papers import Slot
from judging.papers.before_the_day import PapersBefore
from judging.papers.of_the_day import DayPapers
from judging.piece import read_rows
from judging.sounding import Character, human_log

RULES = """rules = 1
title = "Spring Striking Contest"
district = "Vale District"
date = 2026-05-16
[[section]]
name = "Call of four"
piece = "hunt"
slot_minutes = 12.5
practice_minutes = 5
[[judge]]
id = "j1"
name = "First judge"
[[judge]]
id = "j2"
name = "Second judge"
[draw]
seed = "spring"
"""
ENTRIES = "".join(f'[[entry]]\nid = "{band}"\nband = "{band.title()} Tower"\n' for band in ("ash", "beech", "elm"))
HUNT = ["1234", "1234", "2143", "2413", "4231", "4321", "3412", "3142", "1324", "1234", "1234"]


@pytest.fixture(scope="module")
def judged() -> tuple[ContestDay, Outcome]:
    rules = read_rules(RULES, name="rules.toml")
    entries = read_entries(ENTRIES, name="entries.toml")
    order = draw(entries, rules.draw_seed)
    piece = read_rows("\n".join(HUNT), name="hunt.txt")
    logs = {
        entry.id: human_log(piece, Character(spread_ms=30), peal_minutes=160, handstroke_gap=1.0, seed=seed).log
        for seed, entry in enumerate(entries)
        if entry.id != "elm"
    }
    sheets = tuple(
        Sheet(judge.id, entry.id, Decimal(10 + place), comment=f"{judge.name} of {entry.id}")
        for place, entry in enumerate(entries)
        for judge in rules.judges
    )
    amended = replace(sheets[0], total=Decimal(12), comment="Heard again", revision=2, reason="listened again")
    day = ContestDay(
        rules=rules,
        entries=numbered(entries, order),
        judges=rules.judges,
        pieces={"hunt": piece},
        logs=logs,
        sheets=(*sheets, amended),
        order=order,
    )
    return day, judge_contest(day)


@pytest.fixture
def papers(judged: tuple[ContestDay, Outcome]) -> DayPapers:
    day, outcome = judged
    return DayPapers(day, outcome, {entry.id: entry.band for entry in day.entries}, audit_head="ab12cd34ef56ab12")


def makers_of(before: PapersBefore) -> dict[str, Callable[[], bytes]]:
    return {paper.file: paper.make for paper in before.papers()}


def test_a_day_has_every_paper_once(papers: DayPapers) -> None:
    made = dict(papers.files())
    assert (
        set(made)
        == set(papers.makers())
        == {
            "results.pdf",
            "results.html",
            "certificates.pdf",
            "certificates-a5.pdf",
            "judged-by-ear-elm.pdf",
            "fault-sheet-ash.pdf",
            "fault-sheet-ash.html",
            "fault-sheet-beech.pdf",
            "fault-sheet-beech.html",
            "rules.pdf",
            "draw.pdf",
            "draw-by-number.pdf",
            "stewards-sheet.pdf",
            "judges-paper-hunt.pdf",
            "judges-papers-by-number.pdf",
            "certificates-blank.pdf",
            "certificates-blank-a5.pdf",
        }
    )
    for name, content in made.items():
        assert content.startswith(b"%PDF" if name.endswith("pdf") else b"<!doctype html>")


def test_papers_are_the_same_bytes_when_the_day_is_judged_again(judged: tuple[ContestDay, Outcome]) -> None:
    day, outcome = judged
    names = {entry.id: entry.band for entry in day.entries}
    assert dict(DayPapers(day, outcome, names).files()) == dict(DayPapers(day, judge_contest(day), names).files())


def test_a_reader_who_sees_numbers_finds_no_name_on_any_paper(
    judged: tuple[ContestDay, Outcome], read: Callable[[bytes], str]
) -> None:
    day, outcome = judged
    numbers = {entry.id: f"Band {entry.number}" for entry in day.entries}
    for name, content in DayPapers(day, outcome, numbers).files():
        words = read(content) if name.endswith("pdf") else content.decode()
        assert "Tower" not in words, name


def test_only_the_last_revision_of_a_comment_is_printed(papers: DayPapers) -> None:
    sheet = papers.fault_sheet("ash")
    assert [comment.words for comment in sheet.comments] == ["Heard again", "Second judge of ash"]


def test_a_band_judged_by_ear_alone_is_told_why_it_has_no_fault_sheet(papers: DayPapers) -> None:
    with pytest.raises(InputError, match="fault sheet of Elm Tower: there is no machine count: no strike log"):
        papers.fault_sheet("elm")
    assert {line.band for line in papers.results_sheet(papers.outcome.results[0]).lines} >= {"Elm Tower"}


def test_certificates_are_signed_by_the_judges_and_the_district(papers: DayPapers) -> None:
    made = papers.certificates(papers.outcome.results[0])
    assert len(made) == 3
    assert all(one.signatures == ("First judge", "Second judge", "For the district") for one in made)


def test_a_timetable_follows_what_is_declared_or_the_time_at_which_the_day_begins(
    judged: tuple[ContestDay, Outcome], read: Callable[[bytes], str]
) -> None:
    day, _ = judged
    names = {entry.id: entry.band for entry in day.entries}
    text = RULES + '[timetable]\nfirst_band = "14:00"\n[[break]]\nat = "14:20"\nminutes = 20\nfor = "Tea"\n'
    declared = PapersBefore(replace(day, rules=read_rules(text, name="rules.toml")), names)

    # 14:00, 12½ minutes each, 5 of practice first; tea once the second has rung.
    assert [line.starts for line in declared.lines()] == ["14:05", "14:17", "14:25", "14:50"]
    assert [line.band for line in declared.lines() if isinstance(line, Slot)] == [names[entry] for entry in day.order]
    assert [line.starts for line in PapersBefore(day, names).lines()] == [""] * 3
    late = replace(declared, first=time(15, 0))
    assert [line.starts for line in late.lines()] == ["15:05", "15:17", "15:30"]
    assert "Tea until 14:45" in read(makers_of(declared)["draw-by-number.pdf"]())


def test_before_the_draw_there_is_no_list_and_no_stewards_sheet(judged: tuple[ContestDay, Outcome]) -> None:
    day, _ = judged
    names = set(makers_of(PapersBefore(replace(day, order=()), {})))
    assert names == {"rules.pdf", "judges-paper-hunt.pdf", "certificates-blank.pdf", "certificates-blank-a5.pdf"}


def test_the_draw_by_number_gives_no_band_away(
    judged: tuple[ContestDay, Outcome], read: Callable[[bytes], str]
) -> None:
    """A ticket is made of the seed and the band's identifier, and can be tried for every likely name."""
    day, _ = judged
    made = makers_of(PapersBefore(day, {entry.id: entry.band for entry in day.entries}))
    words = read(made["draw-by-number.pdf"]()).replace("\u200b", "")
    assert "Tower" not in words
    slots = [line for line in PapersBefore(day, dict.fromkeys(day.order, "")).lines() if isinstance(line, Slot)]
    assert not any(slot.ticket[:8] in words for slot in slots)
    assert "Tower" in read(made["draw.pdf"]())


def test_rules_that_may_still_change_say_that_they_are_a_draft(
    judged: tuple[ContestDay, Outcome], read: Callable[[bytes], str]
) -> None:
    day, _ = judged
    day = replace(day, order=())
    words = read(makers_of(PapersBefore(day, {}, state="draft"))["rules.pdf"]())
    assert "as published" not in words
    assert "draft" in words
    assert "as published" in read(makers_of(PapersBefore(day, {}))["rules.pdf"]())


def test_a_band_judged_by_ear_alone_gets_the_judges_words_and_figures_and_no_machine(
    papers: DayPapers, read: Callable[[bytes], str]
) -> None:
    words = read(papers.makers()["judged-by-ear-elm.pdf"]())
    for part in (
        "Elm Tower",
        "First judge of elm",
        "Second judge of elm",
        "How the mark was reached",
        "faults",
        "Third",
    ):
        assert part in words
    for part in ("What the machine counted", "Map of rows", "Pace and handstroke gap"):
        assert part not in words


def test_a_band_that_nobody_judged_has_no_sheet(judged: tuple[ContestDay, Outcome]) -> None:
    day, outcome = judged
    unjudged = replace(day, sheets=tuple(sheet for sheet in day.sheets if sheet.entry != "elm"))
    papers = DayPapers(unjudged, outcome, {entry.id: entry.band for entry in day.entries})
    assert "judged-by-ear-elm.pdf" not in papers.makers()
    with pytest.raises(InputError, match="no judge has given one"):
        replace(papers, outcome=replace(outcome, results=())).ear_sheet("elm")


def test_what_the_ear_said_stands_before_the_counts_own_notes(papers: DayPapers) -> None:
    noted = replace(papers, notes={"ash": ("The first blow is not sure.",)})
    assert noted.fault_sheet("ash").notes == ("The first blow is not sure.", *papers.fault_sheet("ash").notes)
    assert noted.fault_sheet("beech").notes == papers.fault_sheet("beech").notes
