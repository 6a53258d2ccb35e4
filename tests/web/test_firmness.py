"""What the result page says of its own firmness, and what a judge is told afterwards."""

import re

import pytest

from judging.store import StoredJudge, audit, contest_by_slug

from .conftest import ADDRESS, BANDS, SLUG, Service

COMPARED = f"{ADDRESS}/judging/compared"
LINES = f"{ADDRESS}/sections/1/lines"


def test_the_result_page_draws_how_often_each_band_holds_each_place(finished: Service) -> None:
    page = finished.visitor().get(ADDRESS).text

    assert "How firm the places are" in page
    told = re.search(r'<desc id="safety-desc">(.*?)</desc>', page)
    assert told is not None
    assert told[1].startswith("Saltmarsh Quay: of 100 recounts first in ")


def test_the_organiser_sees_the_judges_compared_and_the_public_only_where_the_rules_say_so(service: Service) -> None:
    assert "The judges compared" in service.visitor("organiser").get(ADDRESS).text
    assert "The judges compared" not in service.visitor().get(ADDRESS).text

    service.change_rules("[public]\n", "[public]\njudges_compared = true\n")
    page = service.visitor().get(ADDRESS).text

    assert "Kendall’s W" in page
    assert re.search(r"First judge counts \d+ % more than the panel", page)
    assert "noted" in page
    assert "To be looked at again" not in page


def test_what_the_judges_heard_of_the_machines_faults_is_kept_back_where_its_counts_are(service: Service) -> None:
    service.change_rules("[public]\n", "[public]\njudges_compared = true\nmachine = false\n")
    page = service.visitor().get(ADDRESS).text

    assert "The judges compared" in page
    assert "of the machine" not in page[page.index("The judges compared") : page.index("What the judges said")]
    assert service.visitor().get(LINES).status_code == 404


def test_places_under_every_line_are_drawn_and_told(finished: Service) -> None:
    page = finished.visitor().get(LINES).text

    assert '<svg xmlns="http://www.w3.org/2000/svg"' in page
    assert "has no part in this result" in page
    assert re.search(r"<dt>Saltmarsh Quay</dt><dd>[A-Z][a-z]+ (under every line )?from 0\.14", page)
    assert "half or whole for each blow" in page
    assert "(as declared)" in page


@pytest.mark.parametrize("role", ["organiser", "public"])
def test_before_final_no_name_is_on_the_page_of_lines_but_for_the_organiser(service: Service, role: str) -> None:
    service.change_rules("[public]\n", '[public]\nresult = "provisional"\n')
    service.set_phase("provisional")

    page = service.visitor(role).get(LINES).text

    assert ("Saltmarsh Quay" in page) == (role == "organiser")
    assert ("Band 1" in page) == (role == "public")


def test_a_judge_is_told_afterwards_how_they_judged_and_nobody_else_is(finished: Service) -> None:
    page = finished.visitor("judge", "ben").get(COMPARED).text

    assert "Second judge counts" in page
    assert "First judge counts" not in page
    assert "Saltmarsh Quay" in page
    assert finished.visitor("organiser").get(COMPARED).status_code == 404
    assert finished.visitor("band", "gorse").get(COMPARED).status_code == 404


def test_before_final_a_judge_knows_bands_by_number_there_too(service: Service) -> None:
    service.set_phase("sheets in")

    page = service.visitor("judge", "ann").get(COMPARED).text

    assert "Band 1" in page
    for key, band in BANDS.items():
        assert band.split(" ")[0] not in page
        assert key not in page


def test_a_judge_sees_nothing_of_colleagues_or_machine_before_every_first_sheet_is_signed(service: Service) -> None:
    service.set_phase("ringing")
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        session.add(StoredJudge(contest_id=contest.id, key="cay", position=2, name="Third judge"))
        audit(session, who="test", what="judge named", contest=SLUG)

    page = service.visitor("judge", "ann").get(COMPARED).text

    assert "It waits until every judge has signed" in page
    assert "<table" not in page
    assert "counts" not in page.replace("nobody’s count", "").replace("it counts beside", "")


def test_no_address_of_a_section_that_is_not_there_is_found(finished: Service) -> None:
    assert finished.visitor().get(f"{ADDRESS}/sections/2/lines").status_code == 404
