"""What somebody does who comes to read: who won, what was wrong with one band's ringing, and how it sounded."""

import re

import pytest
from playwright.sync_api import Page, expect

from .conftest import Running

pytestmark = pytest.mark.browser


def wait_until(page: Page, condition: str) -> None:
    """Wait for a condition on the page, without the evaluation of text that the page's own policy forbids."""
    for _ in range(200):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never came true: {condition}")


def wait_for_sound(page: Page) -> None:
    wait_until(page, "document.querySelector('audio').readyState > 0")


def wait_until_playing_at(page: Page, at_s: float) -> None:
    wait_until(page, f"Math.abs(document.querySelector('audio').currentTime - {at_s}) < 1.5")


def open_sheet(page: Page, running: Running, band: str) -> None:
    page.goto(running.address)
    page.get_by_role("link", name="Ferry Lane six-bell contest").click()
    page.get_by_role("table").get_by_role("link", name=band).click()
    page.wait_for_load_state()


def test_the_winner_is_read_a_fault_is_chosen_and_the_player_is_there(page: Page, running: Running) -> None:
    page.goto(running.address)
    page.get_by_role("link", name="Ferry Lane six-bell contest").click()
    expect(page.get_by_role("row", name=re.compile("^1st"))).to_contain_text("Weir End")

    page.get_by_role("table").get_by_role("link", name="Lock Cottage").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lock Cottage")
    wait_for_sound(page)
    fault = page.locator(".faults a[data-at]").nth(3)
    at_s = float(fault.get_attribute("data-at") or "nan")
    assert at_s > 2
    fault.click()

    wait_until_playing_at(page, at_s)
    expect(page.locator("#playing")).to_contain_text(fault.inner_text())
    assert re.search(rf"\?at={at_s:.2f}#blow-\d+-\d+$", page.url)


def test_a_bell_on_the_map_is_heard_and_its_sentence_is_marked(page: Page, running: Running) -> None:
    open_sheet(page, running, "Lock Cottage")
    wait_for_sound(page)
    bell = page.locator("td.charged a").last
    at_s = float(bell.get_attribute("data-at") or "nan")

    bell.click()

    wait_until_playing_at(page, at_s)
    marked = page.locator('.faults li[aria-current="true"]')
    expect(marked).to_have_count(1)
    expect(page.locator("#playing")).to_contain_text(marked.locator("a").inner_text())


def test_the_number_of_a_change_plays_from_its_first_blow(page: Page, running: Running) -> None:
    open_sheet(page, running, "Weir End")
    wait_for_sound(page)
    change = page.locator("#row-20 th a")

    change.click()

    wait_until_playing_at(page, float(change.get_attribute("data-at") or "nan"))


def test_the_map_is_walked_with_arrow_keys(page: Page, running: Running) -> None:
    open_sheet(page, running, "Lock Cottage")
    first = page.locator("td.cell a").first
    first.focus()
    expect(page.locator("#playing")).to_contain_text(first.get_attribute("title") or "nothing")

    page.keyboard.press("ArrowRight")

    focused = page.evaluate("document.activeElement.title")
    assert focused != first.get_attribute("title")
    expect(page.locator("#playing")).to_contain_text(focused)


def test_without_a_script_the_fault_is_a_link_and_the_player_starts_there(
    without_script: Page, running: Running
) -> None:
    page = without_script
    open_sheet(page, running, "Lock Cottage")
    fault = page.locator(".faults a[data-at]").nth(3)
    at = fault.get_attribute("data-at")
    sentence = fault.inner_text()

    fault.click()

    expect(page.locator("#playing")).to_contain_text(sentence)
    assert (page.locator("audio").get_attribute("src") or "").endswith(f"#t={at}")


@pytest.mark.parametrize("width", [320, 390, 768, 1280, 1920])
def test_no_page_is_wider_than_the_screen(page: Page, running: Running, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    for path in ("", "/reading", "/patterns"):
        page.goto(running.address + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    open_sheet(page, running, "Lock Cottage")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.go_back()
    page.wait_for_load_state()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
