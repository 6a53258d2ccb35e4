"""A touch recorded in the ringing room: consent first, slices kept as they come, and joined once."""

from fastapi.testclient import TestClient

from judging.jobs import jobs_of
from judging.store import StoredEntry, StoredRecording, contest_by_slug, entry_by_key, order_of, recordings_of

from .conftest import ADDRESS, SLUG, Service

BAND = f"{ADDRESS}/bands/band-1"
TAKE = "0f" * 16
WEBM = b"\x1a\x45\xdf\xa3"
SLICES = (WEBM + b"first", b"second", b"third")


def rung_first(service: Service) -> StoredEntry:
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        entry = entry_by_key(session, contest.id, order_of(contest)[0])
        assert entry is not None
        return entry


def kept(service: Service) -> list[StoredRecording]:
    with service.store.read() as session:
        return [r for r in recordings_of(session, rung_first(service).id) if r.name == "recorded on this laptop"]


def put(client: TestClient, number: int) -> dict[str, int]:
    answer = client.post(f"{BAND}/recorder/{TAKE}/{number}", content=SLICES[number])
    assert answer.status_code == 200
    told: dict[str, int] = answer.json()
    return told


def steward_with_consent(service: Service) -> TestClient:
    service.set_phase("ringing")
    client = service.visitor("steward")
    assert client.post(f"{BAND}/recorder/consent", data={"consent": "given"}).status_code == 303
    return client


def test_slices_in_any_order_become_one_recording_that_is_asked_to_be_heard_once(service: Service) -> None:
    client = steward_with_consent(service)
    assert put(client, 0) == {"slices": 1, "beyond": 0}
    assert put(client, 2) == {"slices": 1, "beyond": 1}
    assert put(client, 1) == {"slices": 3, "beyond": 0}
    before = len(jobs(service))
    for _ in range(2):
        assert client.post(f"{BAND}/recorder/{TAKE}", data={"slices": "3"}).status_code == 303
    (recording,) = kept(service)
    assert service.store.recordings.path(recording.sha256).read_bytes() == b"".join(SLICES)
    assert len(jobs(service)) == before + 1


def jobs(service: Service) -> list[int]:
    with service.store.read() as session:
        return [job.id for job in jobs_of(session, rung_first(service).id)]


def test_without_consent_not_a_slice_is_kept(service: Service) -> None:
    service.set_phase("ringing")
    client = service.visitor("steward")
    client.post(f"{BAND}/recorder/consent", data={"consent": "refused"})
    answer = client.post(f"{BAND}/recorder/{TAKE}/0", content=SLICES[0], headers={"accept": "application/json"})
    assert answer.status_code == 409
    assert answer.json()["error"] == "The band has not agreed to be recorded; ask it, and note its answer above."
    assert service.store.takes.of_entry(rung_first(service).id) == ()
    assert "judged by ear alone, at no disadvantage" in client.get(f"{BAND}/recorder").text


def test_a_take_that_was_broken_off_is_offered_and_its_beginning_kept(service: Service) -> None:
    client = steward_with_consent(service)
    put(client, 0)
    put(client, 2)
    page = client.get(f"{BAND}/recorder").text
    assert "1 slice is here" in page
    assert "1 more after a gap" in page
    assert client.post(f"{BAND}/recorder/{TAKE}", data={"slices": "3"}).status_code == 409
    assert client.post(f"{BAND}/recorder/{TAKE}", data={"slices": "1"}).status_code == 303
    assert [service.store.recordings.path(r.sha256).read_bytes() for r in kept(service)] == [SLICES[0]]


def test_a_take_is_thrown_away_on_request(service: Service) -> None:
    client = steward_with_consent(service)
    put(client, 0)
    assert client.post(f"{BAND}/recorder/{TAKE}", data={"what": "forget"}).status_code == 303
    assert service.store.takes.of_entry(rung_first(service).id) == ()
    assert kept(service) == []


def test_what_does_not_begin_as_a_recording_is_refused_at_its_first_slice(service: Service) -> None:
    client = steward_with_consent(service)
    answer = client.post(f"{BAND}/recorder/{TAKE}/0", content=b"entry,total\n1,18\n")
    assert answer.status_code == 422
    assert "does not begin like any recording" in answer.text
    assert service.store.takes.of_entry(rung_first(service).id) == ()


def test_a_file_without_a_name_is_asked_for_beside_its_field(service: Service) -> None:
    client = steward_with_consent(service)
    answer = client.post(f"{BAND}/recorder", files={"recording": ("", b"")})
    assert answer.status_code == 422
    assert "No file is chosen." in answer.text
