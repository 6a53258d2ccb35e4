"""What can be heard of a band, and who may ask for it to be rung."""

import json

import pytest

from judging.jobs import jobs_of, sound_path
from judging.jobs.resounding import Way
from judging.store import StoredJob, contest_by_slug, entries_of, strike_log_of

from .conftest import ADDRESS, SLUG, Service

SHEET = f"{ADDRESS}/bands/band-1"


def make(service: Service, way: Way) -> None:
    """Put a file where a worker would put what it rings for every band."""
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        for entry in entries_of(session, contest.id or 0):
            log = strike_log_of(session, entry.id or 0)
            assert log is not None
            path = sound_path(service.store, log, way, contest.rules_text)
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
    assert "Steady, at the band’s own pace <span" in coming
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


@pytest.mark.parametrize("sound", ["x", "recording", "steady.flac", "%00"])
def test_a_way_that_is_none_is_refused(finished: Service, sound: str) -> None:
    assert finished.visitor().get(f"{SHEET}/sounds/{sound}").status_code in {404, 422}
    assert finished.visitor().get(SHEET, params={"sound": "x"}).status_code == 422
