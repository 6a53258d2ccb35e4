"""JSON for programs: the same rights as the pages, one shape of refusal, and nothing that breaks it."""

import json
import socket
import threading
import time
from collections.abc import Iterator

import pytest
import schemathesis
import uvicorn
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from sqlmodel import select

from judging.store import StoredJob, contest_by_slug, make_link

from .conftest import SLUG, Service

API = f"/api/contests/{SLUG}"
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(5000)
BLOWS = [{"time_s": 0.25 * blow, "bell": blow % 6 + 1} for blow in range(120)]


@pytest.fixture
def token(service: Service) -> str:
    """A program's token with the organiser's rights, while the bands ring."""
    service.set_phase("ringing")
    return exchanged(service)


def exchanged(service: Service) -> str:
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        link = make_link(session, role="organiser", who="test", contest_id=contest.id)
    answer = TestClient(service.app).post("/api/session", json={"link": link})
    assert answer.status_code == 200
    told: str = answer.json()["token"]
    return told


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


def test_a_link_is_exchanged_for_a_token_once(service: Service) -> None:
    with service.store.write() as session:
        link = make_link(session, role="organiser", who="test")
    client = TestClient(service.app)
    assert client.post("/api/session", json={"link": link}).json()["role"] == "organiser"
    again = client.post("/api/session", json={"link": link})
    assert again.status_code == 409
    assert again.json()["ok"] is False


def test_a_strike_log_sent_as_json_is_counted_from_then_on(service: Service, token: str) -> None:
    client = TestClient(service.app, headers=bearer(token))
    before = client.get(f"{API}/bands/band-1/count").json()
    sent = client.post(f"{API}/bands/band-1/strikes", json={"blows": before_as_given(before)})
    assert sent.status_code == 201
    assert sent.json()["blows"] == len(before_as_given(before))
    after = client.get(f"{API}/bands/band-1/count").json()
    assert after["total_faults"] == before["total_faults"]


def before_as_given(count: dict[str, list[dict[str, float]]]) -> list[dict[str, float]]:
    return [{"time_s": blow["time_s"], "bell": blow["bell"]} for blow in count["blows"] if blow["time_s"] is not None]


def test_a_recording_is_taken_as_it_is_sent_and_its_job_told(service: Service, token: str) -> None:
    client = TestClient(service.app, headers=bearer(token))
    sent = client.post(f"{API}/bands/band-1/recording?name=first.wav", content=WAV)
    assert sent.status_code == 202
    assert client.get(f"/api/jobs/{sent.json()['job']}").json()["state"] == "queued"


@pytest.mark.parametrize(
    ("asked", "between_s"),
    [
        ("", None),
        ("from_s=75&to_s=310.5", [75.0, 310.5]),
        ("from_s=75", [75.0, 86_400.0]),
        ("to_s=310.5", [0.0, 310.5]),
    ],
)
def test_a_program_may_say_where_in_a_recording_the_piece_was_rung(
    service: Service, token: str, asked: str, between_s: list[float] | None
) -> None:
    client = TestClient(service.app, headers=bearer(token))
    sent = client.post(f"{API}/bands/band-1/recording?{asked}", content=WAV)
    with service.store.read() as session:
        job = session.get_one(StoredJob, sent.json()["job"])
        assert json.loads(job.params_json).get("between_s") == between_s


@pytest.mark.parametrize(
    ("asked", "where"),
    [
        ("from_s=310&to_s=75", "to_s"),
        ("from_s=75&to_s=75", "to_s"),
        ("to_s=0", "to_s"),
        ("from_s=-1", "from_s"),
        ("from_s=soon", "from_s"),
        ("from_s=nan", "from_s"),
        ("to_s=1e308", "to_s"),
    ],
)
def test_a_part_that_cannot_be_is_refused_before_anything_is_kept(
    service: Service, token: str, asked: str, where: str
) -> None:
    answer = TestClient(service.app, headers=bearer(token)).post(f"{API}/bands/band-1/recording?{asked}", content=WAV)
    assert answer.status_code == 422
    assert answer.json()["ok"] is False
    assert answer.json()["where"].endswith(where)
    with service.store.read() as session:
        assert session.exec(select(StoredJob).where(StoredJob.kind == "listen")).all() == []


@pytest.mark.parametrize(
    ("body", "told"),
    [(b"", "has 0 bytes"), (b"RIFF", "has 4 bytes"), (b"entry,total\n1,18,steady\n", "does not begin like")],
)
def test_what_is_no_recording_is_refused_in_the_one_shape(service: Service, token: str, body: bytes, told: str) -> None:
    answer = TestClient(service.app, headers=bearer(token)).post(f"{API}/bands/band-1/recording", content=body)
    assert answer.status_code == 422
    assert answer.json()["where"] == "recording"
    assert told in answer.json()["error"]


def test_without_a_token_nothing_is_taken_and_the_refusal_is_json(service: Service) -> None:
    service.set_phase("ringing")
    client = TestClient(service.app)
    for headers in ({}, bearer("made-up"), {"authorization": "Basic eDp5"}):
        answer = client.post(f"{API}/bands/band-1/strikes", json={"blows": BLOWS}, headers=headers)
        assert answer.status_code == 403
        assert answer.json()["ok"] is False


def test_bands_are_numbers_to_a_judges_program_before_the_result_is_final(service: Service) -> None:
    service.set_phase("ringing")
    judge = service.visitor("judge", "ann")
    bands = judge.get(API).json()["bands"]
    assert [band["number"] for band in bands] == [1, 2, 3]
    assert all("Saltmarsh" not in band["name"] and "saltmarsh" not in band["key"] for band in bands)


@pytest.fixture
def address(service: Service) -> Iterator[str]:
    """The service on a real port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(service.app, host="127.0.0.1", port=port, log_level="critical", lifespan="off")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.01)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]


@pytest.mark.slow
@pytest.mark.parametrize("who", ["an organiser's program", "nobody"])
def test_whatever_is_sent_to_the_api_is_answered_as_it_is_described(address: str, token: str, who: str) -> None:
    """Schemathesis draws requests from our own description and holds every answer to it."""
    schema = schemathesis.openapi.from_url(f"{address}/openapi.json").include(path_regex="^/api/")
    headers = {} if who == "nobody" else bearer(token)
    operations = [operation.ok() for operation in schema.get_all_operations()]
    assert len(operations) == 8

    def call(case: schemathesis.Case) -> None:
        if "slug" in (case.path_parameters or {}) and len(case.path_parameters["slug"]) % 2:
            case.path_parameters["slug"] = SLUG  # so that rights and contents are reached as well
        case.call_and_validate(base_url=address, headers=headers, checks=CHECKS)

    for operation in operations:
        drawn = given(case=operation.as_strategy())(call)
        settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))(drawn)()
