"""One shape for every refusal: a page for people, one JSON object for programs, and never a trace.

``{"ok": false, "status": 404, "error": "...", "where": "..."}``; ``where`` only where something given is at fault.
"""

from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from judging.web.judged import Judging

from .conftest import ADDRESS, Service

JSON = {"accept": "application/json"}


@pytest.mark.parametrize(
    ("method", "address", "status"),
    [
        ("GET", "/nothing", 404),
        ("GET", "/contests/none", 404),
        ("GET", f"{ADDRESS}/desk", 403),
        ("DELETE", "/", 405),
        ("POST", "/reading", 405),
        ("GET", f"{ADDRESS}/bands/band-1?at=x", 422),
        ("POST", "/links/none", 409),
        ("GET", f"{ADDRESS}/sections/0/results.pdf", 422),
        ("GET", "/static/nothing.css", 404),
    ],
)
def test_a_refusal_is_a_page_or_json_as_was_asked(finished: Service, method: str, address: str, status: int) -> None:
    client = finished.visitor()

    page = client.request(method, address)
    told = client.request(method, address, headers=JSON)

    assert page.status_code == told.status_code == status
    assert page.headers["content-type"].startswith("text/html")
    assert "To the contests" in page.text
    document = told.json()
    assert (document["ok"], document["status"]) == (False, status)
    assert document["error"]
    assert set(document) <= {"ok", "status", "error", "where"}


def test_a_method_that_is_not_taken_says_which_are(finished: Service) -> None:
    assert finished.visitor().request("DELETE", ADDRESS).headers["allow"] == "GET"


def test_a_request_larger_than_is_taken_is_refused_before_it_is_read(service: Service) -> None:
    service.set_phase("ringing")
    judge = service.visitor("judge", "ann")

    answer = judge.post(f"{ADDRESS}/bands/band-1/sheets/ann", data={"comment": "x" * 13_000_000})

    assert answer.status_code == 413


def test_an_error_of_ours_is_told_without_a_trace(finished: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("the secret of the machine")

    monkeypatch.setattr(Judging, "of", broken)
    client = finished.visitor()

    answer = client.get(ADDRESS)
    told = client.get(ADDRESS, headers=JSON)

    assert (answer.status_code, told.status_code) == (500, 500)
    assert "secret" not in answer.text + told.text
    assert "Nothing was lost" in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"


@settings(
    max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None
)
@given(path=st.text(max_size=40), query=st.text(max_size=40))
def test_no_address_whatever_breaks_the_service(finished: Service, path: str, query: str) -> None:
    client = finished.visitor()
    for start in ("/", f"{ADDRESS}/", f"{ADDRESS}/bands/", f"{ADDRESS}/bands/band-1/", "/links/", "/jobs/", "/static/"):
        answer = client.get(start + _quoted(path), params={"at": query, "part": query})

        assert answer.status_code < 500


@settings(
    max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None
)
@given(
    body=st.binary(max_size=300),
    kind=st.sampled_from(
        ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/json", "text/\xff"]
    ),
)
def test_no_body_whatever_breaks_a_form(finished: Service, body: bytes, kind: str) -> None:
    organiser = finished.visitor("organiser")
    for address in (
        "phase",
        "links",
        "bands/band-1/consent",
        "bands/band-1/recording",
        "bands/band-1/strike-log",
        "bands/band-1/sheets/ann",
    ):
        answer = organiser.post(f"{ADDRESS}/{address}", content=body, headers={"content-type": kind.encode("latin-1")})

        assert 400 <= answer.status_code < 500


def _quoted(path: str) -> str:
    return quote(path.encode("utf-8", "replace"), safe="")
