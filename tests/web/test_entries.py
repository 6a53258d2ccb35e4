"""Bands entered, changed, reported on; places announced."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest.entry_table import identifier_of
from judging.contest.rules import check_identifier

from .conftest import ADDRESS, Service


@given(st.lists(st.text(max_size=80), max_size=8))
def test_every_band_gets_an_identifier_of_its_own_that_can_be_one(bands: list[str]) -> None:
    taken: dict[str, str] = {}
    for band in bands:
        name = identifier_of(band, taken)
        assert name not in taken
        assert check_identifier(name, "band") == name
        taken[name] = band


@pytest.fixture
def drafted(service: Service) -> Service:
    service.set_phase("published")
    return service


def test_a_band_is_entered_by_its_name(drafted: Service) -> None:
    organiser = drafted.visitor("organiser")

    answer = organiser.post(f"{ADDRESS}/entries", data={"band": "  St  Élan’s  ", "borrowed": "1", "scratch": "yes"})

    assert answer.status_code == 303
    assert "St Élan’s" in organiser.get(f"{ADDRESS}/desk").text


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"band": " "}, "band"),
        ({"band": "x", "borrowed": "two"}, "borrowed"),
        ({"band": "x", "borrowed": "17"}, "borrowed"),
        ({"band": "x", "experienced": "-1"}, "experienced"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_what_was_typed_is_kept(
    drafted: Service, data: dict[str, str], field: str
) -> None:
    answer = drafted.visitor("organiser").post(f"{ADDRESS}/entries", data={**data, "remarks": "keep me"})

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert "keep me" in answer.text


def test_after_the_draw_a_band_rings_last_unless_the_rules_refuse_it(service: Service) -> None:
    service.set_phase("drawn")
    organiser = service.visitor("organiser")

    assert organiser.post(f"{ADDRESS}/entries", data={"band": "Late Comers"}).status_code == 303
    listed = organiser.get(f"{ADDRESS}/draw").text
    assert re.search(r'<td class="figure soft">4</td><th scope="row"><bdi>Late Comers', listed)

    service.change_rules('seed = "dell"', 'seed = "dell"\nlate = "refused"')
    answer = organiser.post(f"{ADDRESS}/entries", data={"band": "Later Still"})
    assert answer.status_code == 409
    assert "enters after the draw does not ring" in answer.text
    assert "Later Still" in answer.text


def test_a_stewards_report_becomes_a_footnote_of_the_result(service: Service) -> None:
    service.set_phase("sheets in")
    steward = service.visitor("steward")
    organiser = service.visitor("organiser")
    assert (
        organiser.post(
            f"{ADDRESS}/bands/band-2/entry",
            data={"band": "Renamed Ringers", "borrowed": "3", "reason": "told at the door"},
        ).status_code
        == 303
    )

    answer = steward.post(f"{ADDRESS}/bands/band-3/report", data={"unfinished": "fired out in the fourth lead"})

    assert answer.headers["location"] == f"{ADDRESS}/ringing"
    assert "not completed: fired out in the fourth lead" in steward.get(f"{ADDRESS}/ringing").text
    page = organiser.get(ADDRESS).text
    assert "Did not complete the piece: fired out in the fourth lead." in page
    assert "3 borrowed ringers at 10 %" in page


def test_a_report_that_cannot_be_is_refused_beside_its_field(service: Service) -> None:
    service.set_phase("ringing")

    answer = service.visitor("steward").post(f"{ADDRESS}/bands/band-3/report", data={"missing_rows": "some"})

    assert answer.status_code == 422
    assert 'id="missing_rows-wrong"' in answer.text


def test_a_final_contest_takes_no_report_and_no_entry(service: Service) -> None:
    organiser = service.visitor("organiser")

    assert organiser.post(f"{ADDRESS}/bands/band-1/report", data={"restarts": "1"}).status_code == 409
    assert organiser.post(f"{ADDRESS}/bands/band-1/entry", data={"band": "Other"}).status_code == 409


def test_places_are_announced_from_the_last_to_the_first(finished: Service) -> None:
    client = finished.visitor()
    order = re.findall(
        r'<tr class="(?:winner|placed)">.*?<a href="[^"]+">([^<]+)</a>', client.get(ADDRESS).text, re.DOTALL
    )
    assert len(order) == 3

    for step in range(4):
        text = client.get(f"{ADDRESS}/sections/1/announce?step={step}").text
        assert [band for band in order if f"<strong>{band}</strong>" in text] == order[len(order) - step :]

    assert "The whole result" in client.get(f"{ADDRESS}/sections/1/announce?step=99").text
