"""A phone on the same network, by plain http: no secure context, no Sec-Fetch headers, and everything still works."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from .conftest import Fresh, Running
from .test_an_organisers_day import HOME, Person, let_pass, new_contest

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


def test_a_contest_is_run_from_its_first_link_to_its_final_result(launch: Callable[..., Browser], fresh: Fresh) -> None:
    browser = launch("--host-resolver-rules=MAP laptop.lan 127.0.0.1")
    lan = fresh.address.replace("127.0.0.1", "laptop.lan")
    organiser, judge = (Person(browser, fresh, base=lan, width=390) for _ in range(2))
    organiser.come_in(fresh.link.replace("127.0.0.1", "laptop.lan"))
    assert organiser.page.evaluate("isSecureContext") is False
    new_contest(organiser, "Judge One")
    organiser.enter("Reedham Sluice", "Osier")
    for words in ("Publish the rules", "Draw the order of ringing", "Begin ringing"):
        organiser.step(words)
    judge.come_in(organiser.link_for("Judge One, judge"))
    for band, total in ((1, "12"), (2, "15½")):
        judge.sheet(band, "judge-1", total)
    for words in (
        "All have rung; close the sheets",
        "Show the provisional result",
        "Announce it and open the protest window",
    ):
        organiser.step(words)
    let_pass(fresh, 11)
    organiser.step("Make the result final")
    judge.go(HOME)
    expect(judge.page.get_by_text("Final result").first).to_be_visible()
    assert organiser.broken == judge.broken == {}
    browser.close()
