"""Every page against the axe rules for WCAG 2.2 AA, in light and dark, on a phone and on a desk."""

import json
from typing import Literal

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from judging.jobs import ear_test_named, ear_test_path
from judging.piece import Piece, piece_from_file, rounds
from judging.sounding import Character, human_log, write_wav
from judging.store import (
    Settings,
    Store,
    StoredHearing,
    add_hearing,
    add_stand,
    add_strike_log,
    contest_by_slug,
    create_contest,
    entries_of,
    judge_by_key,
    keep_voices,
    make_link,
    make_tower,
    set_order,
    set_phase,
    set_place,
    towers,
)
from judging.striking import write_log

from .conftest import Running, plain_hunt

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
    f"{CONTEST}/rules",
    SHEET,
    f"{SHEET}?at=3.00",
)
ORGANISERS = (
    f"{CONTEST}/desk",
    f"{CONTEST}/calibration",
    f"{CONTEST}/entries",
    f"{CONTEST}/draw",
    f"{CONTEST}/judges",
    f"{CONTEST}/ringing",
    f"{CONTEST}/protests",
    f"{CONTEST}/revisions",
    f"{SHEET}/penalties",
    f"{SHEET}/take-back",
    "/books",
    f"{CONTEST}/printing",
    f"{CONTEST}/printing?first=noon",
    f"{CONTEST}/test-pieces",
    f"{SHEET}/evidence",
    f"{SHEET}/sheets/ann",
    "/contests/new",
    "/ear-test",
    "/practice/year-to-year",
)
CRITERIA = """
rules = 1
title = "By impression"
[[section]]
name = "Six bells"
piece = "hunt"
[[judge]]
id = "ann"
name = "First judge"
[draw]
seed = "ferry"
[sheets]
lines = "criterion"
[[criterion]]
name = "Rhythm"
most = 20
[[criterion]]
name = "Leads"
most = 30
"""
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


def test_an_evening_of_pull_offs_breaks_no_rule(chromium: Browser, running: Running) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    context.add_cookies([running.organiser])
    page = context.new_page()
    page.goto(f"{running.address}/practice")
    page.get_by_label("What is rung").select_option("Rounds")
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("link", name="Listen for pull-offs").click()
    page.get_by_label("Its bells").fill("8")
    page.get_by_label("Its peal speed").fill("3h10")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("On 8 bells at a peal speed of 3h10").wait_for()
    slug = page.url.split("/")[4]
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        night = contest_by_slug(session, slug)
        assert night is not None
        for seed in range(5):
            piece = Piece("rounds", np.tile(rounds(6), (4, 1)))
            log = human_log(piece, Character(spread_ms=20.0), peal_minutes=170.0, seed=seed).log
            add_stand(session, night.id or 0, row="123456", csv=write_log(log), who="ear")
    page.reload()
    page.get_by_role("heading", name="Pull-off 5").wait_for()

    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    context.close()


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 1280)])
def test_a_towers_pages_break_no_rule(
    chromium: Browser, running: Running, scheme: Literal["light", "dark"], width: int
) -> None:
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        tower = next((one for one in towers(session)), None)
        if tower is None:
            recorder = "below the louvres, north side"
            tower = make_tower(session, name="Ferry", bells=6, recorder=recorder, who="test")
            entries, piece = '[[entry]]\nid = "weir"\nband = "Weir"\n', {"hunt.txt": plain_hunt()}
            rules = CRITERIA.replace("By impression", "Rung there")
            contest = create_contest(session, rules_text=rules, entries_text=entries, pieces=piece, who="test")
            set_place(session, contest, 6, tower, who="test")
            entry = entries_of(session, contest.id)[0]
            touch = human_log(piece_from_file("hunt.txt", plain_hunt()), Character(), peal_minutes=165.0, seed=1).log
            log = add_strike_log(session, entry, data=write_log(touch), name="log", origin="heard", who="ear")
            clarity = [[bell, 0.4 + bell / 12, 1 + bell % 6] for bell in range(1, 7)]
            heard = StoredHearing(strike_log_id=log.id, clarity_json=json.dumps(clarity), learnt=b"voices", blows=192)
            add_hearing(session, heard)
            keep_voices(session, tower, log, learnt_from=contest.title, who="test")
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    context.add_cookies([running.organiser])
    page = context.new_page()
    broken, wide = {}, {}
    for path in ("/towers", f"/towers/{tower.id}", "/contests/rung-there/tower", f"{CONTEST}/tower"):
        assert page.goto(running.address + path).ok
        broken[path], wide[path] = violations(page), page.evaluate("document.documentElement.scrollWidth")
    context.close()

    assert {path: found for path, found in broken.items() if found} == {}
    assert max(wide.values()) <= width


@pytest.fixture
def by_impression(running: Running) -> str:
    """A sheet of criteria while its band rings."""
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        slug = "by-impression"
        contest = contest_by_slug(session, slug)
        if contest is None:
            entries = '[[entry]]\nid = "weir"\nband = "Weir End"\n'
            pieces = {"hunt.txt": plain_hunt()}
            contest = create_contest(
                session, rules_text=CRITERIA, entries_text=entries, pieces=pieces, slug=slug, who="test"
            )
            set_order(session, contest, ["weir"], who="test")
            set_phase(session, contest, "ringing", who="test")
    return f"/contests/{slug}/bands/band-1/sheets/ann"


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 1280)])
def test_no_page_of_a_judge_breaks_a_rule(
    chromium: Browser, running: Running, by_impression: str, scheme: Literal["light", "dark"], width: int
) -> None:
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store, store.write() as session:
        contest = contest_by_slug(session, CONTEST.rsplit("/", 1)[1])
        assert contest is not None
        judge = judge_by_key(session, contest.id or 0, "ann")
        assert judge is not None
        link = make_link(session, role="judge", who="test", contest_id=contest.id, judge_id=judge.id)
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{running.address}/links/{link}")
    page.get_by_role("button", name="Come in").click()
    broken, headed = {}, []
    for path in (f"{CONTEST}/judging", f"{CONTEST}/judging/compared", f"{CONTEST}/judging/cross-check"):
        page.goto(running.address + path)
        headed.append(page.get_by_role("heading", level=1).inner_text())
        broken[path] = violations(page)
    context.clear_cookies()
    context.add_cookies([running.organiser])
    page.goto(running.address + by_impression)
    assert page.get_by_label("Rhythm").is_visible()
    broken[by_impression] = violations(page)
    page.get_by_label("Rhythm").fill("21")
    page.get_by_label("Leads").fill("7")
    page.get_by_role("button", name="Key in the paper").click()
    page.get_by_text("“Rhythm” has", exact=False).or_(page.get_by_text('"Rhythm" has', exact=False)).first.wait_for()
    broken["refused"] = violations(page)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()

    assert headed[1:] == ["How you judged", "Cross-check"]
    assert {path: found for path, found in broken.items() if found} == {}
    assert wide <= width


def test_an_ear_test_and_its_result_break_no_rule(chromium: Browser, running: Running) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 800}, color_scheme="dark")
    context.add_cookies([running.organiser])
    page = context.new_page()
    page.goto(f"{running.address}/ear-test")
    page.get_by_role("button", name="Ring it").click()
    page.get_by_role("heading", name="It is being rung").wait_for()
    broken = {"waiting": violations(page)}
    test = ear_test_named(page.url.rsplit("/", 1)[1])
    assert test is not None
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store:
        path = ear_test_path(store, test)
    path.parent.mkdir(exist_ok=True)
    write_wav(path, np.zeros(8000), 8000)
    page.reload()
    broken["to listen to"] = violations(page)
    page.get_by_text("Tick rows instead").click()
    broken["to tick"] = violations(page)
    for fault in test.planted[::2]:
        page.locator(f"#row-{fault.row + 1}").check()
    page.get_by_role("button", name="I have finished").click()
    page.get_by_role("heading", name="What you hear").wait_for()
    broken["result"] = violations(page)
    context.close()

    assert {name: found for name, found in broken.items() if found} == {}
