"""Every page against the axe rules for WCAG 2.2 AA, in light and dark, on a phone and on a desk."""

from typing import Literal

import pytest
from playwright.sync_api import Browser, Page

from .conftest import Running

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")

pytestmark = pytest.mark.browser

CONTEST = "/contests/ferry-lane-six-bell-contest"
SHEET = f"{CONTEST}/bands/band-1"
LINES = f"{CONTEST}/sections/1/lines"
OPEN = (
    "/",
    "/reading",
    "/patterns",
    "/nothing",
    "/links/x",
    "/piece",
    "/verify",
    "/verify?code=0000-0000",
    CONTEST,
    LINES,
    SHEET,
    f"{SHEET}?at=3.00",
)
ORGANISERS = (
    f"{CONTEST}/desk",
    f"{CONTEST}/printing",
    f"{CONTEST}/printing?first=noon",
    f"{CONTEST}/test-pieces",
    f"{SHEET}/evidence",
    f"{SHEET}/sheets/ann",
    "/contests/new",
)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def violations(page: Page) -> list[tuple[str, str]]:
    found = axe.Axe().run(page, options=RULES).response["violations"]
    return [(rule["id"], node["html"][:160]) for rule in found for node in rule["nodes"]]


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 1280)])
def test_no_page_breaks_a_rule(
    chromium: Browser, running: Running, scheme: Literal["light", "dark"], width: int
) -> None:
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()

    broken = {}
    for path in OPEN:
        page.goto(running.address + path)
        broken[path] = violations(page)
    context.add_cookies([running.organiser])
    for path in ORGANISERS:
        page.goto(running.address + path)
        broken[path] = violations(page)
    context.close()

    assert {path: found for path, found in broken.items() if found} == {}


@pytest.mark.parametrize("text", ["1234\n2143\n1234\n", "1234\n1233\n"])
def test_a_piece_that_was_typed_is_answered_without_breaking_a_rule(
    chromium: Browser, running: Running, text: str
) -> None:
    page = chromium.new_page()
    page.goto(f"{running.address}/piece")
    page.get_by_label("The piece").fill(text)
    page.get_by_role("button", name="Prove and draw it").click()
    page.locator("#proof, #text-wrong").wait_for()

    assert violations(page) == []
    page.close()
