"""The organiser's desk, left open while the day goes on."""

import pytest
from playwright.sync_api import Browser, expect

from .conftest import Running

pytestmark = pytest.mark.browser

DESK = "/contests/ferry-lane-six-bell-contest/desk"


def test_an_open_desk_shows_what_another_device_does_and_takes_nothing_from_who_is_typing(
    chromium: Browser, running: Running
) -> None:
    context = chromium.new_context()
    context.add_cookies([running.organiser])
    desk, other = context.new_page(), context.new_page()
    desk.goto(running.address + DESK)
    desk.get_by_label("Your own note").fill("half a wo")

    other.goto(running.address + DESK)
    other.get_by_label("For", exact=True).select_option("steward")
    other.get_by_label("Your own note").fill("by the font")
    other.get_by_role("button", name="Make a link").click()
    expect(other.get_by_role("heading", level=1)).to_have_text("A personal link")

    desk.wait_for_timeout(2500)
    expect(desk.get_by_label("Your own note")).to_have_value("half a wo")
    assert desk.get_by_text("by the font").count() == 0
    desk.get_by_role("heading", level=1).click()  # done with typing
    desk.evaluate("document.activeElement.blur()")
    expect(desk.get_by_text("by the font")).to_be_visible()
    context.close()
