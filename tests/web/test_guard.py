"""What stands before every route."""

import pytest

from judging.store import make_link
from judging.web.guard import CONTENT_SECURITY_POLICY

from .conftest import ADDRESS, Service

PAGES = (
    "/",
    ADDRESS,
    f"{ADDRESS}/bands/band-1",
    "/reading",
    "/nothing/here",
    f"{ADDRESS}/result.json",
    "/static/ink.css",
)


@pytest.mark.parametrize("address", PAGES)
def test_every_answer_has_safe_headers(finished: Service, address: str) -> None:
    headers = finished.visitor().get(address).headers

    assert headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"


def test_the_policy_allows_no_script_or_style_inside_a_page() -> None:
    assert "unsafe" not in CONTENT_SECURITY_POLICY
    assert CONTENT_SECURITY_POLICY.startswith("default-src 'self'")


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "cross-site", "origin": "http://testserver"},
        {"origin": "https://elsewhere.example"},
        {"origin": "http://testserver:8000"},
        {"origin": "http://testserver.elsewhere.example"},
        {"origin": "null"},
        {"origin": ""},
    ],
)
def test_what_another_site_sends_is_refused_and_does_nothing(service: Service, headers: dict[str, str]) -> None:
    organiser = service.visitor("organiser")

    answer = organiser.post("/leave", headers=headers)

    assert answer.status_code == 403
    assert "another site" in answer.text
    assert organiser.get(f"{ADDRESS}/desk").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "same-origin"},
        {"sec-fetch-site": "none"},
        {"origin": "http://testserver"},
        {"origin": "http://192.168.1.20:8000", "host": "192.168.1.20:8000"},
        {},
    ],
    ids=["own page", "typed", "own origin", "own origin on a local network", "a program"],
)
def test_what_our_own_pages_and_programs_send_is_taken(service: Service, headers: dict[str, str]) -> None:
    organiser = service.visitor("organiser")

    assert organiser.post("/leave", headers=headers).status_code == 303
    assert organiser.get(f"{ADDRESS}/desk").status_code == 403


def test_a_cookie_is_closed_to_scripts_and_needs_https_only_where_there_is_https(service: Service) -> None:
    with service.store.write() as session:
        tokens = [make_link(session, role="organiser", who="test") for _ in range(2)]
    client = service.visitor()

    plain = client.post(f"/links/{tokens[0]}").headers["set-cookie"]
    secure = client.post(f"https://testserver/links/{tokens[1]}").headers["set-cookie"]

    assert "HttpOnly" in plain
    assert "SameSite=lax" in plain
    assert "Secure" not in plain
    assert "Secure" in secure
    assert plain.startswith("evenblow=")


def test_pages_of_somebody_who_came_in_are_not_kept_by_caches_for_others(service: Service) -> None:
    assert service.visitor("organiser").get(ADDRESS).headers["cache-control"] == "private, no-cache"
    assert service.visitor().get(ADDRESS).headers["cache-control"] == "no-cache"
