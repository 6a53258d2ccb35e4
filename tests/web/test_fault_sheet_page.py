"""The fault sheet's page: every row, every fault, heard from where it is, with or without a script."""

import csv
import gzip
import io
import re

import numpy as np
import pytest

from judging.papers.drawings import habits_svg
from judging.papers.fault_sheet import fault_sheet_data
from judging.papers.heading import Heading
from judging.piece import Piece
from judging.striking import CountingRules, StrikeLog, count_striking
from judging.striking.values import Count
from judging.web.fault_map import map_of, pages_of
from judging.web.fault_page import part_of
from judging.web.pages import page_text
from judging.web.pull_off_table import on_average, pull_offs_of
from judging.web.sounds import Sound

from .conftest import ADDRESS, Service, rows_piece

SHEET = f"{ADDRESS}/bands/band-1"


def counted(piece: Piece, *, spread_s: float = 0.03, seed: int = 1) -> Count:
    """Count of a piece rung at 0.3 s a blow with normal errors."""
    rows, bells = piece.rows.shape
    places = np.arange(rows)[:, None] * bells + np.arange(bells) + np.cumsum(piece.is_hand)[:, None]
    times_s = 0.3 * places + np.random.default_rng(seed).normal(0, spread_s, (rows, bells))
    order = np.argsort(times_s, axis=None)
    log = StrikeLog(times_s.ravel()[order], piece.rows.ravel()[order].copy(), np.full(rows * bells, 1.0))
    return count_striking(log, piece, CountingRules())


def test_every_row_is_in_exactly_one_block_and_in_order() -> None:
    count = counted(rows_piece())

    rows = [line.of.row for block in map_of(count) for line in block.lines]

    assert rows == list(range(len(count.rung.piece.rows)))


def test_the_charges_of_the_blocks_add_up_to_the_count() -> None:
    count = counted(rows_piece(), spread_s=0.06)

    charged = sum(fault.charge for fault in count.faults)
    shown = sum(
        float(line.charge.replace("½", ".5") or 0) for block in map_of(count) for line in block.lines if line.charge
    )

    assert charged > 0
    assert shown == float(charged)


def test_a_shade_is_there_just_where_something_is_amiss_and_deepens_with_size() -> None:
    cells = [
        cell for block in map_of(counted(rows_piece(), spread_s=0.08)) for line in block.lines for cell in line.cells
    ]

    assert all((cell.shade > 0) == bool(cell.of.direction) for cell in cells)
    assert {cell.shade for cell in cells} == {0, 1, 2, 3, 4}
    ordered = sorted(cells, key=lambda cell: cell.of.size)
    assert [cell.shade for cell in ordered] == sorted(cell.shade for cell in cells)


def test_a_long_piece_is_dealt_to_pages_that_keep_every_block_once() -> None:
    blocks = map_of(counted(rows_piece())) * 12

    pages = pages_of(blocks, most_rows=100)

    assert [block for page in pages for block in page] == list(blocks)
    assert all(sum(len(block.lines) for block in page) <= 100 for page in pages)
    assert len(pages_of(blocks[:1], most_rows=1)) == 1


def long_piece(changes: int) -> Piece:
    """Plain hunt on twelve for as long as is wanted; rounds come again every 24 rows."""
    row, rows = list(range(1, 13)), []
    for change in range(changes):
        start = change % 2
        for place in range(start, 11, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append(list(row))
    return Piece("Plain hunt", np.array([list(range(1, 13))] * 2 + rows, dtype=np.int8), opening=2)


@pytest.mark.parametrize("changes", [288, 720])
def test_a_page_is_under_200_kb_compressed_and_shows_at_most_300_rows(changes: int) -> None:
    count = counted(long_piece(changes), spread_s=0.05)
    sheet = fault_sheet_data(count, heading=Heading("A contest"), band="A band")
    part = part_of(count, sheet, number=1, at_s=None)

    heard = Sound("recording", "recording", "As recorded", said="", on="", address="/x/y/recording")
    text = page_text(
        "fault_sheet.html",
        viewer=None,
        contest={"title": "A contest", "address": "/x"},
        band={"address": "/x/y", "is_own": False, "is_the_band": False},
        sheet=sheet,
        part=part,
        habits_narrow=habits_svg(count, is_narrow=True),
        pull_offs=pull_offs_of(count),
        pull_offs_on_average=on_average(count),
        sounds=((heard,),),
        playing=heard,
        sound="",
        is_waiting=False,
        is_practice=False,
        may_keep=False,
        start_is_sure=True,
        at_s=None,
        here=None,
    )

    assert text.count('id="row-') <= 300
    assert len(gzip.compress(text.encode(), 6)) < 200_000
    assert len(part.titles) == (1 if changes == 288 else 3)


def test_the_part_shown_is_the_one_that_is_heard() -> None:
    count = counted(long_piece(720), spread_s=0.05)
    sheet = fault_sheet_data(count, heading=Heading("A contest"), band="A band")
    for fault in sheet.faults[:: len(sheet.faults) // 8]:
        part = part_of(count, sheet, number=None, at_s=fault.time_s)

        assert fault in part.charged


def test_every_charged_fault_is_a_sentence_that_leads_to_its_moment(finished: Service) -> None:
    text = finished.visitor().get(SHEET).text
    faults = finished.visitor().get(f"{SHEET}/count.json").json()
    charged = [blow for blow in faults["blows"] if blow["charge"]]

    assert charged
    for blow in charged:
        line = re.search(rf'<li id="blow-{blow["row"]}-{blow["place"]}".*?</li>', text, re.DOTALL)
        assert line is not None
        at_s = float(re.search(r'data-at="([\d.]+)"', line[0])[1])  # type: ignore[index]  # asserted by the match
        assert at_s == pytest.approx(blow["time_s"], abs=0.006)
        assert f'href="?at={at_s:.2f}#blow-{blow["row"]}-{blow["place"]}"' in line[0]


def test_without_a_script_a_faults_link_loads_the_page_at_its_moment(finished: Service) -> None:
    text = finished.visitor().get(SHEET).text
    link = re.search(r'<a href="\?at=([\d.]+)#(blow-\d+-\d+)" data-at="[\d.]+">(Change[^<]+)</a>', text)
    assert link is not None

    at = finished.visitor().get(f"{SHEET}?at={link[1]}").text

    assert f'src="{SHEET}/recording#t={link[1]}"' in at
    assert f'<li id="{link[2]}" aria-current="true">' in at
    assert f": {link[3]}</p>" in at


def test_the_map_is_a_table_with_a_caption_scopes_and_wedges(finished: Service) -> None:
    text = finished.visitor().get(SHEET).text
    table = text[text.index('<table class="rows">') :].partition("</table>")[0]

    assert "<caption>" in table
    assert table.count('scope="col"') == 8  # change, six places, words
    assert 'scope="row"' in table
    assert "◂" in text
    assert "▸" in text


def test_every_cell_that_is_shaded_says_its_kind_in_words(finished: Service) -> None:
    text = finished.visitor().get(SHEET).text
    shaded = re.findall(r'<td class="cell (early|late) [^"]*">(.*?)</td>', text)

    assert {kind for kind, _ in shaded} == {"early", "late"}
    for kind, cell in shaded:
        assert re.search(rf'<span class="heard">(?: ms)? {kind}</span>', cell)
        assert 'title="' in cell or 'class="blow"' in cell


@pytest.mark.parametrize(
    "query", ["at=x", "at=-1", "at=nan", "at=inf", "at=1e400", "part=0", "part=x", "part=99999999"]
)
def test_a_mistyped_moment_or_part_is_refused_in_words(finished: Service, query: str) -> None:
    assert finished.visitor().get(f"{SHEET}?{query}").status_code == 422


def test_a_moment_beyond_the_end_and_a_part_beyond_the_last_still_show_the_sheet(finished: Service) -> None:
    assert finished.visitor().get(f"{SHEET}?at=99999").status_code == 200
    assert finished.visitor().get(f"{SHEET}?part=9999").status_code == 200


def test_before_final_nobody_but_the_organiser_opens_a_sheet(service: Service) -> None:
    service.set_phase("protest")

    for address in (
        SHEET,
        f"{SHEET}/recording",
        f"{SHEET}/count.json",
        f"{SHEET}/strike-log.csv",
        f"{SHEET}/fault-sheet.pdf",
    ):
        assert service.visitor().get(address).status_code == 404
        assert service.visitor("judge", "ann").get(address).status_code == 404
        assert service.visitor("band", "gorse").get(address).status_code == 404
        assert service.visitor("organiser").get(address).status_code == 200


def test_a_pull_off_is_a_table_of_strokes_and_places_in_milliseconds() -> None:
    piece = rows_piece()
    rows, bells = piece.rows.shape
    places = np.arange(rows)[:, None] * bells + np.arange(bells) + np.cumsum(piece.is_hand)[:, None]
    times_s = 0.3 * places.astype(float)
    times_s[1, 3] += 0.12  # fourth's place of the first backstroke
    order = np.argsort(times_s, axis=None)
    log = StrikeLog(times_s.ravel()[order], piece.rows.ravel()[order].copy(), np.full(rows * bells, 1.0))

    (pulled,) = pull_offs_of(count_striking(log, piece, CountingRules()))

    (hand, at_hand), (back, at_back) = pulled.strokes
    assert (hand, back) == ("Handstroke", "Backstroke")
    assert [blow.kind for blow in at_hand] == [""] * 6
    assert [blow.kind for blow in at_back] == ["", "", "", "late", "", ""]
    assert 100 <= int(at_back[3].ms) <= 130
    assert at_back[3].symbol == "4"


def test_every_row_and_blow_of_the_table_has_one_place_on_the_page(finished: Service) -> None:
    text = finished.visitor().get(SHEET).text
    table = csv.DictReader(io.StringIO(finished.visitor().get(f"{SHEET}/blows.csv").text))
    blows = [line["id"] for line in table]

    ids = re.findall(r' id="([^"]+)"', text)

    assert len(ids) == len(set(ids))
    assert blows
    assert set(blows) <= set(ids)
    assert {f"row-{blow.split('-')[1]}" for blow in blows} <= set(ids)


def test_several_pull_offs_are_shown_on_average_and_only_what_is_sure_is_late_or_early() -> None:
    piece = Piece("Rounds", np.tile(np.arange(1, 7, dtype=np.int8), (2, 1)))
    random, times = np.random.default_rng(3), []
    for index in range(8):
        due = 60 * index + 0.3 * np.arange(12) + random.normal(0, 0.012, 12)
        due[3] += 0.07
        times.append(due)
    log = StrikeLog(np.concatenate(times), np.tile(np.arange(1, 7, dtype=np.int8), 16), np.zeros(96))
    count = count_striking(log, piece, CountingRules())

    hand, back = (blows for _, blows in on_average(count))

    assert [blow.kind for blow in hand] == ["", "", "", "late", "", ""]
    assert [blow.kind for blow in back] == [""] * 6
    assert on_average(counted(rows_piece())) == ()
    assert len(pull_offs_of(count)) == 8
