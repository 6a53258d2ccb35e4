"""A band's own book on a phone: begun with a touch, opened on another by its link, read without moving sideways."""

import re

import pytest
from playwright.sync_api import Browser, expect

from judging.store import Settings, Store, contest_by_slug, entry_by_key, make_link

from .conftest import Running

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")

pytestmark = pytest.mark.browser


def test_a_band_begins_a_book_and_reads_it_on_another_phone(chromium: Browser, running: Running) -> None:
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        contest = contest_by_slug(session, "ferry-lane-six-bell-contest")
        assert contest is not None
        entry = entry_by_key(session, contest.id or 0, "lock")
        assert entry is not None
        token = make_link(session, role="band", who="test", contest_id=contest.id, entry_id=entry.id)
    one, another = (chromium.new_context(viewport={"width": 390, "height": 800}) for _ in range(2))
    page = one.new_page()
    page.goto(f"{running.address}/links/{token}")
    page.get_by_role("button", name="Come in").click()
    page.get_by_role("link", name=re.compile("Lock Cottage")).first.click()
    page.get_by_label("What the band calls it").fill("Lock Cottage ringing")
    page.get_by_role("button", name="Begin a book").click()
    link = page.locator(".fingerprint").inner_text()

    page = another.new_page()
    page.goto(link)
    page.get_by_role("button", name="Open the book").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lock Cottage ringing")
    expect(page.get_by_role("row")).to_have_count(2)
    page.wait_for_load_state()
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert axe.Axe().run(page).response["violations"] == []
    page.get_by_role("link", name=re.compile("^20 June 2026")).click()
    page.get_by_text("Erase this touch").click()
    page.get_by_role("button", name="Erase it for good").click()
    expect(page.get_by_text("Nothing is in it yet.")).to_be_visible()
    for context in (one, another):
        context.close()
