"""Rules written in the form: the example follows as they change; with a script at once, without one by a button."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from judging.contest import PRESETS
from judging.store import Settings, Store, create_contest

from .conftest import Running

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")

pytestmark = pytest.mark.browser

WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def violations(page: Page) -> list[tuple[str, str]]:
    found = axe.Axe().run(page, options=WCAG).response["violations"]
    return [(rule["id"], node["html"][:160]) for rule in found for node in rule["nodes"]]


@pytest.fixture(scope="module")
def address(running: Running) -> str:
    """The form of a contest whose rules are a draft."""
    text = PRESETS["six bells, 120 changes"]
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        contest = create_contest(session, rules_text=text, slug="weir-lane", who="test")
        return f"{running.address}/contests/{contest.slug}/rules"


@pytest.fixture(params=[("light", 390), ("dark", 1280)])
def window(request: pytest.FixtureRequest, chromium: Browser, running: Running) -> Iterator[BrowserContext]:
    scheme, width = request.param
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    context.add_cookies([running.organiser])
    yield context
    context.close()


def test_the_example_and_the_text_follow_a_field_and_a_field_follows_the_text(
    window: BrowserContext, address: str
) -> None:
    page = window.new_page()
    page.goto(address)
    page.locator("summary", has_text="Penalties and handicaps").click()
    percent = page.get_by_label("Per cent").first
    example = page.locator("#example table")
    before = example.inner_text()

    percent.fill("30")
    percent.press("Tab")
    expect(page.get_by_label("The text, rules.toml")).to_have_value(
        PRESETS["six bells, 120 changes"].replace("15\nmost", "30\nmost")
    )
    expect(example).not_to_have_text(before)
    assert "30" in example.inner_text()
    assert page.evaluate("document.activeElement.name") == "penalty-1-amount"

    percent.fill("many")
    percent.press("Tab")
    expect(page.locator("#penalty-1-percent-wrong")).to_contain_text("is not a number")
    assert violations(page) == []
    percent.fill("12½")
    percent.press("Tab")
    expect(page.locator("#penalty-1-percent-wrong")).to_have_count(0)

    text = page.get_by_label("The text, rules.toml")
    text.fill(text.input_value().replace("percent = 12.5", "percent = 25"))
    text.press("Tab")
    expect(percent).to_have_value("25")
    assert violations(page) == []


def test_without_a_script_a_button_shows_what_the_rules_do(
    without_script: Page, running: Running, address: str
) -> None:
    page = without_script
    page.context.add_cookies([running.organiser])
    page.goto(address)
    page.locator("summary", has_text="How the sheets become one mark").click()
    page.get_by_label("What is done with the judges’ figures?").select_option("mean")
    page.get_by_role("button", name="Show what this does").click()

    assert 'policy = "mean"' in page.get_by_label("The text, rules.toml").input_value()
    assert "Not kept yet" in page.locator("#example").inner_text()
