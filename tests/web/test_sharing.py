"""A band's fault sheet is the band's alone until it chooses otherwise."""

import json
import re
from pathlib import Path

import mido
import pytest
from fastapi.testclient import TestClient

from judging.store import contest_by_slug

from .conftest import ADDRESS, RULES, SLUG, Service

SHEET = f"{ADDRESS}/bands/band-1"


@pytest.fixture
def private(service: Service) -> Service:
    """The finished contest under rules that open no fault sheet."""
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        contest.rules_text = RULES.replace("fault_sheets = true", "fault_sheets = false")
        session.add(contest)
    return service


@pytest.fixture
def band(private: Service) -> TestClient:
    with private.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        first = json.loads(contest.order_json)[0]
    return private.visitor("band", first)


def test_a_sheet_is_opened_and_kept_again_by_the_band_alone(private: Service, band: TestClient) -> None:
    public, organiser = private.visitor(), private.visitor("organiser")
    assert public.get(SHEET).status_code == 404
    assert band.get(SHEET).status_code == 200
    assert organiser.post(f"{SHEET}/sharing", data={"open": "yes"}).status_code == 403

    assert band.post(f"{SHEET}/sharing", data={"open": "yes"}).headers["location"] == f"{SHEET}#share"
    assert public.get(SHEET).status_code == 200
    assert "You have opened this sheet" in band.get(SHEET).text
    assert public.post(f"{SHEET}/sharing", data={"open": "no"}).status_code == 403

    assert band.post(f"{SHEET}/sharing", data={"open": "no"}).status_code == 303
    assert public.get(SHEET).status_code == 404
    assert band.post(f"{SHEET}/sharing", data={"open": "perhaps"}).status_code == 422


def test_a_band_finds_its_own_sheet_on_its_contest_s_page_and_nobody_else_does(
    private: Service, band: TestClient
) -> None:
    page = band.get(ADDRESS).text
    assert f'<a href="{SHEET}">Your band’s fault sheet</a>' in page
    assert f"{ADDRESS}/bands/band-2" not in page
    assert SHEET not in private.visitor().get(ADDRESS).text


def test_opening_one_sheet_opens_no_other(private: Service, band: TestClient) -> None:
    band.post(f"{SHEET}/sharing", data={"open": "yes"})
    assert private.visitor().get(f"{ADDRESS}/bands/band-2").status_code == 404


def test_the_band_gives_a_link_to_one_more_of_its_own(private: Service, band: TestClient) -> None:
    given = band.post(f"{SHEET}/links")
    token = re.search(r"/links/([A-Za-z0-9_-]{43})", given.text)
    assert token is not None

    another = private.visitor()
    assert another.post(f"/links/{token[1]}").status_code == 303
    assert another.get(SHEET).status_code == 200
    assert another.get(f"{ADDRESS}/bands/band-2").status_code == 404
    assert private.visitor("organiser").post(f"{SHEET}/links").status_code == 403


def test_the_strike_log_is_given_as_notes(finished: Service, tmp_path: Path) -> None:
    answer = finished.visitor().get(f"{SHEET}/strike-log.mid")

    (tmp_path / "log.mid").write_bytes(answer.content)
    struck = [m for m in mido.MidiFile(tmp_path / "log.mid") if m.type == "note_on" and m.velocity]
    assert len(struck) == len(finished.visitor().get(f"{SHEET}/strike-log.csv").text.splitlines()) - 1
    assert answer.headers["content-type"] == "audio/midi"
