"""What holds for every paper, whatever it is about and whatever it is fed."""

import hashlib
import re
import subprocess
import sys
import zlib
from collections.abc import Callable
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from judging.contest import read_rules
from judging.marks.values import Adjustment, Placed, Result, Sheet, Tap
from judging.papers import (
    Certificate,
    Heading,
    LinkSlip,
    Slot,
    certificate_pdf,
    draw_list_pdf,
    ear_sheet_data,
    ear_sheet_pdf,
    fault_sheet_data,
    fault_sheet_html,
    fault_sheet_pdf,
    judges_paper_pdf,
    judges_papers_setting,
    link_slips_pdf,
    results_sheet_data,
    results_sheet_html,
    results_sheet_pdf,
    rules_paper_data,
    rules_paper_pdf,
    steward_sheet_pdf,
)
from judging.striking.values import Count

LONG = "St Michael and All Angels, Great Wetherby-under-the-Wold etc"
NASTY = '#eval("1") *bold* _it_ <b>&amp; $x$ [y] \\ // `raw` @a'
HEBREW = "שלום"
PAPERS = (
    "certificate",
    "draw list",
    "ear sheet",
    "fault sheet",
    "judge's paper",
    "link slips",
    "results",
    "rules",
    "steward's sheet",
)  # fmt: skip


def make(paper: str, words: str, count: Count) -> bytes:  # noqa: PLR0911  one return a paper
    """Paper with the same words wherever somebody's own words can stand."""
    heading = Heading(words, words, words, words, "provisional", 3, "5f0c9a7e21b44d10", "128-ab12cd34ef56ab12")
    slots = [Slot(n, words, "14:15", words, words, "0f" * 32) for n in (1, 2, 3)]
    adjustment = Adjustment("j", words, Decimal(20), Decimal(22))
    placed = Placed("e", 2, True, Decimal(22), {"j": Decimal(22)}, Decimal(15), (adjustment,), (words,), 0.5)
    result = Result(words, "faults", True, (placed,), (words,))
    comments = [(words, words)]
    if paper == "certificate":
        return certificate_pdf([Certificate(heading, words, "First", words, words, (words, words))])
    if paper == "draw list":
        return draw_list_pdf(slots, heading=heading, seed=words)
    if paper == "ear sheet":
        taps = (Tap(3, Decimal(1)), Tap(None, Decimal("0.5")))
        return ear_sheet_pdf(
            ear_sheet_data(
                heading=heading,
                band=words,
                number=1,
                piece=words,
                why=words,
                placed=placed,
                combining=words,
                judges={"j": words},
                sheets=[Sheet("j", "e", Decimal(22), taps, words)],
            )
        )
    if paper == "fault sheet":
        sheet = fault_sheet_data(
            count,
            heading=heading,
            band=words,
            number=1,
            placed=placed,
            combining=words,
            judges={"j": words},
            comments=comments,
        )
        return fault_sheet_pdf(sheet)
    if paper == "judge's paper":
        return judges_paper_pdf(count.rung.piece, heading=heading, judge=words)
    if paper == "link slips":
        return link_slips_pdf([LinkSlip(words, words, "http://10.0.0.1/e/" + "k" * 43, words)], heading=heading)
    if paper == "results":
        sheets = results_sheet_data(
            result, heading=heading, bands={"e": words}, judges={"j": words}, order=["e"], comments={"e": comments}
        )
        return results_sheet_pdf(sheets)
    if paper == "rules":
        rules = read_rules('rules = 1\ntitle = "x"\n[draw]\nseed = "s"\n', name="rules.toml")
        return rules_paper_pdf(rules_paper_data(rules, heading=heading))
    return steward_sheet_pdf(slots, heading=heading, minutes_allowed=words)


@pytest.fixture(scope="module")
def count(make_count: Callable[..., Count]) -> Count:
    return make_count(faults=30, title=LONG)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("words", [LONG, "W" * 60, NASTY, f"{HEBREW} " * 10])
def test_nothing_reaches_the_edge_of_the_page(
    paper: str, words: str, count: Count, look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    """Four millimetres all round stay white (the lines along which slips are cut are faint)."""
    for page in look(make(paper, words, count)):
        edge = round(4 / 25.4 * 72)
        rim = np.ones(page.shape, dtype=bool)
        rim[edge:-edge, edge:-edge] = False
        assert page[rim].min() >= (255 if paper != "link slips" else 160)


@pytest.mark.parametrize(("bells", "changes", "faults"), [(6, 120, 0), (6, 120, 300), (16, 400, 300), (12, 100, 40)])
def test_what_is_printed_of_any_ringing_keeps_within_the_margins(
    bells: int,
    changes: int,
    faults: int,
    make_count: Callable[..., Count],
    look: Callable[[bytes], list[NDArray[np.uint8]]],
) -> None:
    """All ink is between the declared margins: 18 mm at the sides (12 on a judge's paper), the foot 7 from below."""
    count = make_count(bells, changes, faults, title=LONG)
    heading = Heading(LONG, LONG, LONG, LONG, "provisional", 3, "5f0c9a7e21b44d10", "128-ab12cd34ef56ab12")
    sheet = fault_sheet_data(count, heading=heading, band=LONG, comments=[(LONG, LONG * 3)])
    judges = judges_papers_setting({1: "p", 99: "p"}, {"p": count.rung.piece}, heading=heading)
    for pdf, side_mm, top_mm in ((fault_sheet_pdf(sheet), 18, 16), (judges.pdf(), 12, 10)):
        for page in look(pdf):
            rows, columns = np.flatnonzero((page < 250).any(axis=1)), np.flatnonzero((page < 250).any(axis=0))
            mm = page.shape[1] / 210
            assert columns[0] >= (side_mm - 0.6) * mm
            assert columns[-1] <= (210 - side_mm + 0.6) * mm
            assert rows[0] >= (top_mm - 0.6) * mm
            assert rows[-1] <= (297 - 7) * mm


def objects(pdf: bytes) -> bytes:
    """All that a PDF holds, its compressed parts opened (ISO 32000-1, 7.5.7: objects may stand in streams)."""
    opened = [pdf]
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        with suppress(zlib.error):
            opened.append(zlib.decompress(stream))
    return b"\n".join(opened)


@pytest.mark.parametrize("paper", PAPERS)
def test_its_structure_is_there_for_who_listens_and_its_drawings_are_told_in_words(
    paper: str, count: Count, poppler: str
) -> None:
    pdf = make(paper, "Wick", count)
    done = subprocess.run([f"{poppler}/pdfinfo", "-struct", "-"], input=pdf, capture_output=True, check=True)
    tree = done.stdout.decode("utf-8", "replace")  # some titles are printed as UTF-16
    drawn = {"certificate": 1, "fault sheet": 2, "link slips": 1}.get(paper, 0)
    assert tree.count("Figure") >= drawn
    assert len(re.findall(rb"/Alt ?[(<]", objects(pdf))) >= drawn
    assert paper in {"certificate", "judge's paper", "link slips"} or "Table" in tree
    assert paper == "link slips" or "H1" in tree


@pytest.mark.parametrize("paper", PAPERS)
def test_markup_and_code_are_printed_as_they_were_written(
    paper: str, count: Count, read: Callable[[bytes], str]
) -> None:
    words = read(make(paper, NASTY, count))
    assert "".join(NASTY.split()) in "".join(words.replace("\u200b", "").split())


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("words", ["ringers 🔔🎉 Łódź", "鐘の音 Łódź", "مرحبا Łódź", "\u202eŁódź", "e\u0301 Łódź"])
def test_signs_without_a_face_do_not_cost_the_paper(
    paper: str, words: str, count: Count, read: Callable[[bytes], str]
) -> None:
    assert "dź" in read(make(paper, words, count)).replace(" ", "").replace("źdóŁ", "Łódź")


@pytest.mark.parametrize("paper", PAPERS)
def test_hebrew_is_set_from_right_to_left_in_a_face_that_has_it(
    paper: str, count: Count, read: Callable[[bytes], str]
) -> None:
    letters = set(read(make(paper, HEBREW, count)))
    assert set(HEBREW) <= letters


@pytest.mark.parametrize("paper", [paper for paper in PAPERS if paper != "link slips"])
def test_a_paper_says_what_it_can_be_checked_against(paper: str, count: Count, read: Callable[[bytes], str]) -> None:
    words = read(make(paper, "Wick", count))
    for part in ("provisional", "revision 3", "rules 5f0c 9a7e 21b4", "audit 128-ab12 cd34 ef56"):
        assert part in words
    assert paper == "certificate" or "page 1 of" in words


@pytest.mark.parametrize("paper", PAPERS)
def test_a_paper_is_tagged_and_titled_so_that_it_can_be_read_aloud(paper: str, count: Count, poppler: str) -> None:
    done = subprocess.run(
        [f"{poppler}/pdfinfo", "-"], input=make(paper, "Wick", count), capture_output=True, check=True
    )
    about = dict(line.split(":", 1) for line in done.stdout.decode().splitlines() if ":" in line)
    assert about["Tagged"].strip() == "yes"
    assert about["Title"].strip()
    assert "CreationDate" not in about


@pytest.mark.parametrize("paper", PAPERS)
def test_all_signs_come_from_faces_within_the_file(paper: str, count: Count, poppler: str) -> None:
    done = subprocess.run(
        [f"{poppler}/pdffonts", "-"], input=make(paper, "Wick", count), capture_output=True, check=True
    )
    faces = done.stdout.decode().splitlines()[2:]
    assert faces
    assert all(line.split()[-5] == "yes" for line in faces)  # the column "emb"


@pytest.mark.parametrize("paper", PAPERS)
def test_the_same_values_give_the_same_bytes(paper: str, count: Count) -> None:
    assert make(paper, LONG, count) == make(paper, LONG, count)


def test_another_process_with_another_hash_seed_gives_the_same_bytes(
    make_count: Callable[..., Count], heading: Heading
) -> None:
    program = (
        "import hashlib, runpy\n"
        f"made = runpy.run_path({str(Path(__file__).parent / 'conftest.py')!r})['made_count']()\n"
        "from judging.papers import Heading, fault_sheet_data, fault_sheet_html, fault_sheet_pdf\n"
        f"sheet = fault_sheet_data(made, heading={heading!r}, band='Wick')\n"
        "print(hashlib.sha256(fault_sheet_pdf(sheet) + fault_sheet_html(sheet).encode()).hexdigest())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], env={"PYTHONHASHSEED": "7"}, capture_output=True, check=True, text=True
    )
    sheet = fault_sheet_data(make_count(), heading=heading, band="Wick")
    own = hashlib.sha256(fault_sheet_pdf(sheet) + fault_sheet_html(sheet).encode()).hexdigest()
    assert done.stdout.strip() == own


@pytest.mark.parametrize("words", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>'])
def test_no_page_obeys_what_it_is_told_to_print(words: str, count: Count) -> None:
    heading = Heading(words, words, words, words)
    sheet = fault_sheet_data(count, heading=heading, band=words, comments=[(words, words)])
    placed = Placed("e", 1, False, Decimal(1), {"j": Decimal(1)}, None, (), (words,))
    result = Result(words, words, True, (placed,), (words,))
    results = results_sheet_data(result, heading=heading, bands={"e": words}, judges={"j": words})
    for page in (fault_sheet_html(sheet), results_sheet_html(results)):
        assert words not in page
        assert "<script" not in page
        assert "<img" not in page


def test_a_page_needs_nothing_from_anywhere(count: Count) -> None:
    page = fault_sheet_html(fault_sheet_data(count, heading=Heading("Contest"), band="Wick"))
    assert "src=" not in page
    assert "<link" not in page
    assert "url(" not in page
    assert 'href="http' not in page
