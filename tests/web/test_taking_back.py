"""A band's recording in a contest, erased at its wish: the sound goes everywhere, what others were ranked by stays."""

import json
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.errors import RuleError
from judging.jobs import enqueue_sound, sound_path
from judging.jobs.excerpting import enqueue_excerpt, excerpt_of
from judging.store import (
    Kept,
    StoredContest,
    StoredEntry,
    StoredJob,
    StoredRecording,
    add_day_recording,
    add_recording,
    contest_by_slug,
    entry_by_key,
    recordings_of,
    set_consent,
)
from judging.store.columns import utc_now
from judging.store.erasing import logs_of_entry, recordings_there

from .conftest import ADDRESS, SLUG, Service

BAND = f"{ADDRESS}/bands/band-1"


def first(service: Service) -> StoredEntry:
    """The entry of the band that rang first."""
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        entry = entry_by_key(session, contest.id or 0, json.loads(contest.order_json)[0])
    assert entry is not None
    return entry


@pytest.fixture
def band(service: Service) -> TestClient:
    return service.visitor("band", first(service).key)


def sound_of(service: Service) -> Path:
    with service.store.read() as session:
        (recording,) = recordings_of(session, first(service).id or 0)
    return service.store.recordings.path(recording.sha256)


def test_a_band_has_its_recording_erased_and_the_result_stays_as_it_was(service: Service, band: TestClient) -> None:
    service.keep_fault_sheets_private()
    band.post(f"{BAND}/sharing", data={"open": "yes"})
    path, public = sound_of(service), service.visitor()
    result, count = band.get(f"{ADDRESS}/result.json").json(), band.get(f"{BAND}/count.json").json()
    log = band.get(f"{BAND}/strike-log.csv").text
    assert "take-back" in band.get(BAND).text
    assert "take-back" in band.get(ADDRESS).text
    asked = band.get(f"{BAND}/take-back").text
    assert "One recording is kept." in asked
    assert "no longer open to everybody" in asked
    assert "The count that was shown was made from it" in asked
    assert path.is_file()  # asking erases nothing

    assert band.post(f"{BAND}/take-back").headers["location"] == f"{BAND}/take-back"

    assert not path.exists()
    for client in (band, service.visitor("organiser")):
        assert client.get(f"{BAND}/recording").status_code == 404
        assert client.get(BAND).status_code == 200
    assert public.get(BAND).status_code == 404
    assert band.get(f"{ADDRESS}/result.json").json() == result
    assert band.get(f"{BAND}/count.json").json() == count
    assert band.get(f"{BAND}/strike-log.csv").text == log
    assert "taken back on" in band.get(f"{BAND}/take-back").text
    assert band.post(f"{BAND}/take-back").status_code == 303  # twice does no harm


def test_what_was_cut_for_the_judges_and_what_waits_to_be_heard_goes_too(service: Service, band: TestClient) -> None:
    entry = first(service)
    with service.store.write() as session:
        excerpt = excerpt_of(session, service.store, session.get_one(StoredEntry, entry.id), (1.0, 2.0))
        assert excerpt is not None
        job = enqueue_excerpt(session, entry, excerpt)
        job.state = "done"
        session.add(job)
    with service.store.write() as session:
        here = session.get_one(StoredEntry, entry.id)
        (recording,), (log,) = recordings_there(session, here), logs_of_entry(session, here)
        rules_text = session.get_one(StoredContest, here.contest_id).rules_text
        on_its_bells = sound_path(service.store, log, "steady", rules_text, bells_of=recording)
        enqueue_sound(session, service.store, here, "steady", bells_of=recording)
    excerpt.path.parent.mkdir(exist_ok=True)
    for path in (excerpt.path, on_its_bells):
        path.write_bytes(b"fLaC")
    service.store.takes.put(entry.id or 0, "a" * 32, 0, b"RIFF")

    band.post(f"{BAND}/take-back")

    assert not excerpt.path.exists()
    assert not on_its_bells.exists()
    assert service.store.takes.of_entry(entry.id or 0) == ()
    with service.store.read() as session:
        assert not session.exec(
            select(StoredJob).where(StoredJob.entry_id == entry.id, StoredJob.kind != "sound")
        ).all()


def test_a_second_recorders_recording_goes_too_and_anothers_stays(service: Service, band: TestClient) -> None:
    entry, names = first(service), set(service.store.recordings.names())
    first_sound = sound_of(service).name
    with service.store.write() as session:
        session.add(StoredRecording(entry_id=entry.id, sha256="b" * 64, size_bytes=4, name="x", is_second=True))
    (service.store.recordings.folder / ("b" * 64)).write_bytes(b"RIFF")

    band.post(f"{BAND}/take-back")

    assert set(service.store.recordings.names()) == names - {first_sound}
    with service.store.read() as session:
        kept = session.exec(select(StoredRecording).where(StoredRecording.entry_id == entry.id)).all()
        assert all(recording.erased_at is not None and recording.name == "" for recording in kept)


def test_a_file_that_another_band_has_too_stays_for_that_band(service: Service, band: TestClient) -> None:
    path = sound_of(service)
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        other = entry_by_key(session, contest.id or 0, json.loads(contest.order_json)[1])
        assert other is not None
        session.add(StoredRecording(entry_id=other.id, sha256=path.name, size_bytes=4, name="x"))

    band.post(f"{BAND}/take-back")

    assert path.is_file()
    assert band.get(f"{BAND}/recording").status_code == 404


def test_before_a_result_is_shown_the_band_is_judged_by_ear_alone_from_then_on(service: Service) -> None:
    with service.store.write() as session:  # the demo's contest was published: take that away
        session.connection().exec_driver_sql("DROP TRIGGER publication_no_delete")
        session.connection().exec_driver_sql("DELETE FROM publication")
    service.set_phase("sheets in")
    band, organiser = service.visitor("band", first(service).key), service.visitor("organiser")
    assert organiser.get(f"{BAND}/count.json").status_code == 200
    assert "judged by ear alone, at no disadvantage" in band.get(f"{BAND}/take-back").text

    band.post(f"{BAND}/take-back")

    assert organiser.get(f"{BAND}/count.json").status_code == 404
    with service.store.read() as session:
        assert session.get_one(StoredEntry, first(service).id).consent == "refused"
    assert organiser.post(f"{BAND}/consent", data={"consent": "given"}).status_code == 303  # it may agree again
    with service.store.read() as session:
        entry = session.get_one(StoredEntry, first(service).id)
        assert (entry.consent, entry.recording_taken_back_at) == ("given", None)


def test_while_it_is_heard_it_is_not_erased_under_the_ear(service: Service, band: TestClient) -> None:
    entry, path = first(service), sound_of(service)
    with service.store.write() as session:
        session.add(
            StoredJob(
                kind="listen",
                input_sha256=path.name,
                engine_version="x",
                entry_id=entry.id,
                state="running",
                lease_until=utc_now(),
            )
        )
    answer = band.post(f"{BAND}/take-back")
    assert answer.status_code == 409
    assert "being heard just now" in answer.text
    assert path.is_file()


def test_no_recording_is_kept_of_a_band_that_took_its_own_back(service: Service, band: TestClient) -> None:
    band.post(f"{BAND}/take-back")
    service.set_phase("sheets in")
    kept = Kept("c" * 64, 4)
    with pytest.raises(RuleError, match="has taken its recording back since"), service.store.write() as session:
        add_recording(session, session.get_one(StoredEntry, first(service).id), kept, name="x", who="test")
    page = service.visitor("organiser").get(f"{BAND}/evidence").text
    assert "The band took its recording back on" in page
    assert "checked" not in page  # nobody agrees again by a box that was ticked before


def test_once_a_result_is_shown_a_count_is_not_taken_away_by_noting_another_answer(service: Service) -> None:
    organiser = service.visitor("organiser")
    answer = organiser.post(f"{BAND}/consent", data={"consent": "refused"})
    assert answer.status_code == 409
    assert "take its recording back all the same" in answer.text
    assert organiser.get(f"{BAND}/count.json").status_code == 200


def test_a_band_that_does_not_agree_after_all_is_led_to_erase_what_there_is(service: Service) -> None:
    service.set_phase("ringing")
    steward, organiser = service.visitor("steward"), service.visitor("organiser")
    assert steward.post(f"{BAND}/recorder/consent", data={"consent": "refused"}).headers["location"] == "../take-back"
    with service.store.write() as session:
        set_consent(session, session.get_one(StoredEntry, first(service).id), "given", who="test")
    answer = organiser.post(f"{BAND}/consent", data={"consent": "refused"})
    assert answer.headers["location"] == f"{BAND}/take-back"
    assert "Erase it for good" in steward.get(f"{BAND}/take-back").text


def test_the_recording_of_the_day_is_told_of_while_it_is_there(service: Service, band: TestClient) -> None:
    assert "whole day is still here" not in band.get(f"{BAND}/take-back").text
    service.set_phase("ringing")
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        add_day_recording(session, contest, Kept("d" * 64, 4), name="day", who="test")
    assert "whole day is still here" in band.get(f"{BAND}/take-back").text


def test_a_band_that_has_no_number_is_led_nowhere(service: Service, band: TestClient) -> None:
    service.set_phase("published")
    shown = band.get(ADDRESS)
    assert shown.status_code == 200
    assert "take-back" not in shown.text


def test_a_practice_night_is_erased_as_a_night(service: Service) -> None:
    captain = service.visitor("organiser", anywhere=True)
    address = str(
        captain.post("/practice", data={"what": "Rounds", "bells": "6", "whole_pulls": "9"}).headers["location"]
    )
    captain.post(address, files={"recording": ("t.wav", b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(99))})
    assert captain.get(f"{address.removesuffix('/practice')}/bands/touch-1/take-back").status_code == 404
