"""A phone on the same network, by plain http: no secure context, no Sec-Fetch headers, and everything still works."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from .conftest import Running

pytestmark = pytest.mark.browser


@pytest.fixture
def phone(launch: Callable[..., Browser]) -> Iterator[Page]:
    browser = launch("--host-resolver-rules=MAP laptop.lan 127.0.0.1")
    yield browser.new_context(viewport={"width": 390, "height": 800}).new_page()
    browser.close()


def test_a_link_is_used_a_link_made_and_the_session_left(phone: Page, running: Running) -> None:
    address = running.address.replace("127.0.0.1", "laptop.lan")
    sent: list[dict[str, str]] = []
    phone.on("request", lambda request: sent.append(request.all_headers()) if request.method == "POST" else None)
    phone.context.add_cookies([{**running.organiser, "url": address}])
    phone.goto(f"{address}/contests/ferry-lane-six-bell-contest/desk")
    assert phone.evaluate("isSecureContext") is False

    phone.get_by_label("For", exact=True).select_option("steward")
    phone.get_by_role("button", name="Make a link").click()
    link = re.search(r"http://laptop\.lan:\d+/links/[\w-]{43}", phone.locator(".fingerprint").inner_text())
    assert link is not None

    phone.context.clear_cookies()
    phone.goto(link[0])
    phone.get_by_role("button", name="Come in").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("In the ringing room")
    cookie = next(cookie for cookie in phone.context.cookies() if cookie["name"] == "evenblow")
    assert (cookie["secure"], cookie["httpOnly"], cookie["sameSite"]) == (False, True, "Lax")
    assert all("sec-fetch-site" not in headers for headers in sent)
    assert all(headers["origin"] == address for headers in sent)
