"""What can be heard of a band, and who may ask for it to be rung."""

import json
import re

import pytest
from sqlmodel import select

from judging.jobs import jobs_of, sound_path
from judging.jobs.resounding import Way
from judging.store import StoredJob, contest_by_slug, entries_of, recordings_of, strike_log_of

from .conftest import ADDRESS, SLUG, Service

SHEET = f"{ADDRESS}/bands/band-1"


def make(service: Service, way: Way, *, on_own: bool = False) -> None:
    """Put a file where a worker would put what it rings for every band, on made-up bells or its own."""
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        for entry in entries_of(session, contest.id or 0):
            log = strike_log_of(session, entry.id or 0)
            assert log is not None
            recording = recordings_of(session, entry.id or 0)[0] if on_own else None
            path = sound_path(service.store, log, way, contest.rules_text, bells_of=recording)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"fLaC" + bytes(1000))


def asked_for(service: Service) -> set[str]:
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        jobs = [job for entry in entries_of(session, contest.id or 0) for job in jobs_of(session, entry.id or 0)]
    return {json.loads(job.params_json)["way"] for job in jobs if job.kind == "sound"}


def test_a_final_result_has_its_bands_rung_steadily_and_repaired(service: Service) -> None:
    assert asked_for(service) == {"steady", "repaired"}  # and not as rung, since there are recordings


def test_what_is_being_rung_is_said_and_what_is_there_is_a_link(service: Service) -> None:
    client = service.visitor()
    coming = client.get(SHEET).text
    assert "Steady, at the band’s own pace</span>" in coming
    assert "on made-up bells <span" in coming
    assert "is being rung" in coming
    assert '<p id="playing" role="status"><strong>As recorded</strong>' in coming

    make(service, "steady")

    there = client.get(f"{SHEET}?sound=steady&at=3.00").text
    assert f'src="{SHEET}/sounds/steady#t=3.00"' in there
    assert "&amp;sound=steady#blow-" in there  # a fault's link stays with what is heard
    answer = client.get(f"{SHEET}/sounds/steady", headers={"range": "bytes=0-3"})
    assert (answer.status_code, answer.content, answer.headers["content-type"]) == (206, b"fLaC", "audio/flac")


def test_what_is_waited_for_is_looked_for_again_by_itself(service: Service) -> None:
    client = service.visitor()

    assert 'http-equiv="refresh"' in client.get(f"{SHEET}?sound=repaired").text
    assert 'http-equiv="refresh"' not in client.get(SHEET).text


def test_what_the_repair_would_have_saved_is_said(service: Service) -> None:
    text = service.visitor().get(SHEET).text

    assert " instead of " in text


def test_the_rows_that_the_repair_would_have_saved_are_heard_in_it(service: Service) -> None:
    make(service, "repaired")

    text = service.visitor().get(SHEET).text

    assert re.search(r'Fewer faults in changes <a href="\?sound=repaired&amp;at=\d+\.\d\d#row-\d+"', text)


def test_only_the_organiser_and_the_band_itself_ask(service: Service) -> None:
    with service.store.write() as session:
        for job in session.exec(StoredJob.__table__.select()).all():  # type: ignore[attr-defined]  # the plain table
            session.delete(session.get_one(StoredJob, job.id))
    organiser = service.visitor("organiser")
    own = organiser.get(f"{ADDRESS}/result.json").json()["order"][0]

    assert service.visitor().post(f"{SHEET}/sounds/steady").status_code == 403
    assert service.visitor("judge", "ann").post(f"{SHEET}/sounds/steady").status_code == 403
    assert asked_for(service) == set()
    assert "ring it" not in service.visitor().get(SHEET).text
    assert "ring it" in organiser.get(SHEET).text
    assert service.visitor("band", own).post(f"{SHEET}/sounds/steady").headers["location"].endswith("sound=steady#hear")
    assert asked_for(service) == {"steady"}


def test_own_bells_are_rung_only_when_asked_for_and_only_by_the_organiser_and_the_band(service: Service) -> None:
    organiser = service.visitor("organiser")
    assert "on the tower’s own bells" in organiser.get(SHEET).text  # with a button beside it
    assert "on the tower’s own bells" not in service.visitor().get(SHEET).text
    assert service.visitor().post(f"{SHEET}/sounds/own-steady").status_code == 403

    assert organiser.post(f"{SHEET}/sounds/own-steady").headers["location"].endswith("?sound=own-steady#hear")

    coming = organiser.get(f"{SHEET}?sound=own-steady").text
    assert "on the tower’s own bells <span" in coming
    assert 'http-equiv="refresh"' in coming

    make(service, "steady", on_own=True)

    there = organiser.get(f"{SHEET}?sound=own-steady").text
    assert f'src="{SHEET}/sounds/own-steady"' in there
    assert "<strong>Steady, at the band’s own pace, on the tower’s own bells</strong>" in there
    assert organiser.get(f"{SHEET}/sounds/own-steady").status_code == 200
    assert organiser.get(f"{SHEET}/sounds/own-repaired").status_code == 404


def test_bells_that_could_not_be_measured_are_said_and_made_up_ones_play(service: Service) -> None:
    organiser = service.visitor("organiser")
    organiser.post(f"{SHEET}/sounds/own-steady")
    make(service, "steady")
    with service.store.write() as session:
        job = next(job for job in session.exec(select(StoredJob)).all() if '"bells_of"' in job.params_json)
        failed = session.get_one(StoredJob, job.id)
        failed.state, failed.error = "failed", "the tower’s own bells: bell 2 was struck 7 times"
        session.add(failed)

    page = organiser.get(f"{SHEET}?sound=own-steady").text

    assert "bell 2 was struck 7 times. The made-up bells stand in." in page
    assert f'src="{SHEET}/sounds/steady"' in page
    assert 'http-equiv="refresh"' not in page


@pytest.mark.parametrize("sound", ["x", "recording", "steady.flac", "%00"])
def test_a_way_that_is_none_is_refused(finished: Service, sound: str) -> None:
    assert finished.visitor().get(f"{SHEET}/sounds/{sound}").status_code in {404, 422}
    assert finished.visitor().get(SHEET, params={"sound": "x"}).status_code == 422
