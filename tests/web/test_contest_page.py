"""What a contest's page says, and what it keeps back."""

import html
import re

import pytest

from judging.store import contest_by_slug, entry_by_key

from .conftest import ADDRESS, BANDS, Service


def test_a_finished_contest_is_listed_with_its_winner(finished: Service) -> None:
    page = finished.visitor().get("/").text

    assert "Dell Deanery six-bell contest" in page
    assert "Final result: <strong>Saltmarsh Quay</strong>" in page


def test_the_result_shows_place_band_each_judges_figure_the_machines_and_the_mark(finished: Service) -> None:
    page = finished.visitor().get(ADDRESS).text
    winner = page[page.index('class="winner"') : page.index('class="placed"')]

    assert ">1st<" in winner
    assert "Saltmarsh Quay" in winner
    assert ">12</td>" in winner  # the first judge's total
    assert ">1½</td>" in winner  # the second judge's taps added up
    assert ">13½</td>" in winner  # the mark


def test_a_borrowed_ringer_is_a_footnote_with_both_figures(finished: Service) -> None:
    page = finished.visitor().get(ADDRESS).text

    note = re.search(r'<li id="note-1-1">(.*?)</li>', page)

    assert note is not None
    assert "1 borrowed ringer at 10 %" in note[1]
    assert "20 became 22" in note[1]


def test_reasons_safety_comments_rules_and_fingerprint_are_on_the_page(finished: Service) -> None:
    page = finished.visitor().get(ADDRESS).text

    assert "9½ faults fewer than the next place" in page
    assert "counts taken again" in page
    assert "Mind the tenor." in page
    assert "The judges&#39; faults are added up." in page
    assert "Drawn with the seed “dell”" in page
    assert "These rules have the fingerprint" in page


def test_a_name_with_markup_is_shown_as_it_is_written(finished: Service) -> None:
    page = finished.visitor().get(ADDRESS).text

    assert "<b>Broom</b>" not in page
    assert html.escape(BANDS["gorse"]) in page


@pytest.mark.parametrize("phase", ["drawn", "ringing", "sheets in", "provisional", "protest"])
def test_before_final_the_public_page_has_numbers_for_names_and_no_result(service: Service, phase: str) -> None:
    service.set_phase(phase)

    page = service.visitor().get(ADDRESS).text

    assert "Band 1" in page
    assert "It is not out yet" in page
    assert not [name for name in (*BANDS, *BANDS.values()) if name in page]


def test_a_draft_is_not_there_for_anybody_but_its_organiser(service: Service) -> None:
    service.set_phase("draft")

    assert service.visitor().get(ADDRESS).status_code == 404
    assert service.visitor("organiser").get(ADDRESS).status_code == 200


def test_the_organiser_sees_names_and_the_standing_result_at_any_time(service: Service) -> None:
    service.set_phase("sheets in")

    page = service.visitor("organiser").get(ADDRESS).text

    assert "Saltmarsh Quay" in page
    assert ">13½</td>" in page


def test_the_result_document_is_the_command_lines_and_veiled_before_final(service: Service) -> None:
    final = service.visitor().get(f"{ADDRESS}/result.json").json()
    assert final["places"][0]["entry"] == "saltmarsh"
    assert (final["unit"], final["lower_is_better"]) == ("faults", True)

    service.set_phase("provisional")

    assert service.visitor().get(f"{ADDRESS}/result.json").status_code == 404
    organiser = service.visitor("organiser").get(f"{ADDRESS}/result.json").json()
    assert organiser["places"][0]["entry"] == "saltmarsh"


def test_papers_are_pdf_and_shown_in_the_browser(finished: Service) -> None:
    for paper in ("results", "certificates"):
        answer = finished.visitor().get(f"{ADDRESS}/sections/1/{paper}.pdf")

        assert answer.content.startswith(b"%PDF-")
        assert answer.headers["content-disposition"].startswith("inline")
    assert finished.visitor().get(f"{ADDRESS}/sections/2/results.pdf").status_code == 404


def test_a_result_changes_when_a_sheet_is_revised_and_not_before(service: Service) -> None:
    service.set_phase("sheets in")
    organiser = service.visitor("organiser")
    assert ">13½</td>" in organiser.get(ADDRESS).text
    number = next(n for n in (1, 2, 3) if "Saltmarsh" in organiser.get(f"{ADDRESS}/bands/band-{n}").text)

    for person in (organiser, service.visitor("organiser")):
        assert ">13½</td>" in organiser.get(ADDRESS).text
        revised = person.post(
            f"{ADDRESS}/bands/band-{number}/sheets/ann", data={"total": "14", "reason": "two faults added twice"}
        )
        assert revised.status_code == 303

    assert ">15½</td>" in organiser.get(ADDRESS).text


TIMED = """piece = "bob"
practice_minutes = 5
slot_minutes = 15
[timetable]
first_band = "14:00"
[[break]]
at = "14:25"
minutes = 20
for = "Tea"
"""


def test_the_page_of_a_drawn_contest_has_its_timetable_with_practice_and_breaks(service: Service) -> None:
    service.set_phase("drawn")
    service.change_rules('piece = "bob"', TIMED)

    page = service.visitor().get(ADDRESS).text
    table = page[page.index('<table class="table narrow timetable">') : page.index("</table>")]

    assert [re.sub(r"<[^>]+>| ", "", row) for row in re.findall(r"<tr.*?</tr>", table)[:4]] == [
        "No.PracticeRingsBand",
        "114:0014:05Band1",
        "214:1514:20Band2",
        "14:30·Teauntil14:50",
    ]
    assert "The last band has rung by" in page


def test_that_a_band_is_a_scratch_band_is_not_said_where_bands_are_numbers(service: Service) -> None:
    service.set_phase("drawn")
    with service.store.write() as session:
        contest = contest_by_slug(session, ADDRESS.rsplit("/", 1)[1])
        assert contest is not None
        entry = entry_by_key(session, contest.id or 0, next(iter(BANDS)))
        assert entry is not None
        entry.scratch = True
        session.add(entry)

    def order_for(role: str) -> str:
        page = service.visitor(role, "ann" if role == "judge" else "").get(ADDRESS).text
        return page[page.index('id="order"') : page.index('id="rules"')]

    assert "scratch band" not in order_for("public")
    assert "scratch band" not in order_for("judge")
    assert "scratch band" in order_for("organiser")
