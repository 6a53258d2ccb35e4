"""An organiser's whole day in the browser: from the one-time link of a new service to a printed result and a revision.

Nothing is there beforehand. Every page that is opened is held to the axe rules. The only help from outside is time:
the protest window is ten minutes, which are let pass in the store.
"""

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, Page, expect

from judging.store import StoredContest, contest_by_slug

from .conftest import Fresh
from .test_accessibility import violations

pytestmark = pytest.mark.browser

HOME = "/contests/marsh-end-six-bell-contest"
BANDS = "band,remarks\nReedham Sluice,\nOsier and Withy,comes by train\n"


class Person:
    """Somebody with a browser of their own."""

    def __init__(self, chromium: Browser, fresh: Fresh, *, base: str = "", width: int = 1280) -> None:
        self.base = base or fresh.address
        self.page: Page = chromium.new_context(viewport={"width": width, "height": 900}).new_page()
        self.broken: dict[str, list[tuple[str, str]]] = {}

    def look(self) -> None:
        """Hold the page that is open to the rules."""
        found = violations(self.page)
        if found:
            self.broken[self.page.url] = found

    def go(self, path: str) -> None:
        self.page.goto(path if path.startswith("http") else self.base + path)
        self.look()

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=re.compile(f"^{re.escape(name)}")).first.click()
        self.page.wait_for_load_state()
        self.look()

    def fill(self, **values: str) -> None:
        for name, value in values.items():
            self.page.locator(f"[name={name}]:visible").first.fill(value)

    def come_in(self, link: str) -> None:
        self.go(link)
        self.press("Come in")

    def enter(self, *bands: str) -> None:
        """Enter bands by the form, one after the other."""
        self.go(f"{HOME}/entries")
        for band in bands:
            self.page.get_by_label("Band", exact=True).fill(band)
            self.press("Enter it, and another")

    def link_for(self, holder: str) -> str:
        """Personal link made at the desk, as it is shown there this once."""
        self.go(f"{HOME}/desk")
        self.page.get_by_label("For", exact=True).select_option(label=holder)
        self.press("Make a link")
        found = re.search(r"http://\S+/links/[\w-]{43}", self.page.locator(".link-slip .fingerprint").inner_text())
        assert found is not None
        return found[0]

    def step(self, words: str, reason: str = "") -> None:
        self.go(f"{HOME}/desk")
        if reason:
            self.page.locator("summary", has_text=words).click()
            self.page.locator("details[open] [name=reason]").fill(reason)
        self.press(words)
        expect(self.page.get_by_role("heading", level=1)).to_have_text("Marsh End six-bell contest")
        assert self.page.get_by_text("That step was not taken").count() == 0, self.page.inner_text("main")

    def sheet(self, band: int, judge: str, total: str) -> None:
        self.go(f"{HOME}/bands/band-{band}/sheets/{judge}")
        self.fill(total=total)
        self.page.locator("form.sheet .button").click()
        self.page.wait_for_load_state()
        self.look()


def let_pass(fresh: Fresh, minutes: float) -> None:
    with fresh.store.write() as session:
        contest = contest_by_slug(session, HOME.rsplit("/", 1)[1])
        assert isinstance(contest, StoredContest)
        assert contest.phase_since is not None
        contest.phase_since -= timedelta(minutes=minutes)
        session.add(contest)


def new_contest(organiser: Person, judges: str = "Judge One\nJudge Two") -> None:
    organiser.page.get_by_role("link", name="New contest").click()
    organiser.look()
    organiser.page.get_by_label("What is it called?").fill("Marsh End six-bell contest")
    organiser.page.get_by_label("Judges").fill(judges)
    organiser.page.get_by_label("Date").fill("2027-06-19")
    organiser.press("Make the contest")


def test_from_a_one_time_link_to_a_printed_result_and_its_revision(chromium: Browser, fresh: Fresh) -> None:  # noqa: PLR0915  a day is long
    organiser = Person(chromium, fresh)
    organiser.come_in(fresh.link)
    new_contest(organiser)

    # Bands from a spreadsheet, then one more by the form.
    organiser.page.get_by_role("link", name="Enter bands").click()
    organiser.look()
    organiser.page.get_by_label("Table of bands").set_input_files(
        {"name": "bands.csv", "mimeType": "text/csv", "buffer": BANDS.encode()}
    )
    organiser.press("Enter all of them")
    organiser.page.get_by_role("link", name="Enter bands").click()
    organiser.page.get_by_label("Band", exact=True).fill("Heron Lock")
    organiser.press("Enter the band")
    expect(organiser.page.get_by_role("rowheader", name=re.compile("Heron Lock"))).to_be_visible()

    organiser.step("Publish the rules")
    organiser.step("Draw the order of ringing")
    organiser.go(f"{HOME}/draw")
    organiser.go(f"{HOME}/judges")
    judge = Person(chromium, fresh, width=390)
    judge.come_in(organiser.link_for("Judge One, judge"))
    judge.fill(belongs_to="I teach at Heron Lock")
    judge.press("Declare")
    assert judge.page.get_by_text("Heron Lock").count() == judge.page.locator("textarea", has_text="Heron").count()
    steward = Person(chromium, fresh, width=390)
    steward.come_in(organiser.link_for("The steward"))
    second = Person(chromium, fresh)
    second.come_in(organiser.link_for("Another organiser"))

    # Ringing: the open desk follows the steward without being loaded again.
    organiser.step("Begin ringing")
    steward.go(f"{HOME}/ringing")
    steward.page.get_by_role("button", name=re.compile("^Begins")).first.click()
    expect(organiser.page.locator(".facts dd").first).not_to_contain_text("nobody")
    for _ in range(3):
        steward.page.get_by_role("button", name=re.compile("^Has rung")).first.click()
    expect(organiser.page.locator(".facts")).to_contain_text("3 of 3")

    # One judge signs; the other wrote on paper, which two people key in, once differently.
    for band, total in ((1, "12"), (2, "15½"), (3, "20")):
        judge.sheet(band, "judge-1", total)
        organiser.sheet(band, "judge-2", total)
    second.sheet(1, "judge-2", "21")
    expect(second.page.get_by_role("heading", name="Where the two readings differ")).to_be_visible()
    for band, total in ((1, "12"), (2, "15½"), (3, "20")):
        second.sheet(band, "judge-2", total)
    organiser.step("All have rung; close the sheets")

    # A penalty with its cause.
    organiser.go(f"{HOME}/bands/band-1/penalties")
    organiser.page.locator("summary", has_text="Restart").click()
    organiser.page.locator("#restarts-count").fill("1")
    organiser.page.locator("#restarts-changes").fill("20")
    organiser.page.locator("#restarts-why").fill("a rope slipped")
    organiser.press("Give it")
    expect(organiser.page.get_by_text("(a rope slipped): 24 became 26.4")).to_be_visible()

    organiser.step("Show the provisional result")
    organiser.step("Announce it and open the protest window")

    # A protest, upheld, and the correction as revision 2.
    organiser.page.get_by_role("link", name="Protests").click()
    organiser.fill(handed_in_by="The captain of band 1", about="We did not begin again.")
    organiser.press("Enter it in the register")
    organiser.page.get_by_label(re.compile("^Upheld")).check()
    organiser.fill(answered_by="The committee", answer="The steward agrees.")
    organiser.press("Answer protest 1")
    organiser.step("Correct the result", reason="Protest 1: no restart.")
    organiser.go(f"{HOME}/bands/band-1/penalties")
    organiser.page.locator("#restarts-why").fill("protest 1")
    organiser.press("Take it away")
    organiser.step("Announce it and open the protest window")
    let_pass(fresh, 11)
    organiser.step("Make the result final")

    # Everybody reads what changed; the projector tells the places, last first.
    public = Person(chromium, fresh, width=390)
    public.go(HOME)
    expect(public.page.get_by_text("This is revision 2.")).to_be_visible()
    public.go(f"{HOME}/revisions")
    expect(public.page.get_by_text("mark 24, was 26.4").first).to_be_visible()
    organiser.go(f"{HOME}/sections/1/announce")
    organiser.page.get_by_role("link", name="Begin").click()
    organiser.look()
    first_told = organiser.page.locator(".stage .now").inner_text()
    assert "3rd" in first_told or "third" in first_told.lower(), first_told
    for _ in range(2):
        organiser.page.get_by_role("link", name="Next").click()
    expect(organiser.page.get_by_role("link", name="The whole result")).to_be_visible()

    # Everything to print is on one page, and is a paper.
    organiser.go(f"{HOME}/printing")
    for title in ("Results sheet", "Certificates, A4"):
        address = organiser.page.get_by_role("link", name=title).first.get_attribute("href")
        assert organiser.page.request.get(organiser.base + str(address)).body().startswith(b"%PDF-")

    for person in (organiser, judge, steward, second, public):
        assert person.broken == {}
        person.page.context.close()
