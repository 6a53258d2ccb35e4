"""The judge's pad played as on the day: two judges, a steward and an organiser, each on a device of their own.

The server is a process that is killed and started again; the devices reach it as phones do, by plain http at an
address that is not their own.
"""

import json
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx2
import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from judging.contest import read_rules
from judging.contest.pad import pad_for
from judging.contest.tally import PadEvent, tally
from judging.marks.values import Sheet
from judging.piece import piece_from_file
from judging.store import (
    Settings,
    Store,
    StoredLink,
    StoredPadEvent,
    change_entry,
    contest_by_slug,
    entry_by_key,
    make_link,
    revoke_link,
    set_phase,
    sheets_of,
)
from judging.striking.marking import SCHEMES

from .serve_touches import LINKS, PIECE, RULES
from .test_accessibility import violations

pytestmark = pytest.mark.browser

PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
PAD = "/contests/ferry/bands/band-1/pad"

#: A device whose clock is three quarters of an hour fast, as if nobody had ever set it.
SKEW_MS = 47 * 60_000
SKEWED = f"""
const Real = Date;
globalThis.Date = class extends Real {{
  constructor(...parts) {{ parts.length ? super(...parts) : super(Real.now() + {SKEW_MS}); }}
  static now() {{ return Real.now() + {SKEW_MS}; }}
}};
"""


@dataclass
class Server:
    """The service as a process."""

    data: Path
    port: int
    process: subprocess.Popen[str] | None = None
    links: dict[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        """As phones on the same network have it."""
        return f"http://laptop.lan:{self.port}"

    def start(self) -> None:
        is_new = not self.data.exists()
        script = Path(__file__).with_name("serve_touches.py")
        self.process = subprocess.Popen(
            [sys.executable, str(script), str(self.data), str(self.port)], stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        if is_new:
            self.links = {name: self.process.stdout.readline().strip() for name in LINKS}
        until = time.monotonic() + 120
        while time.monotonic() < until:
            with suppress(httpx2.HTTPError):
                httpx2.get(f"http://127.0.0.1:{self.port}/")
                return
            time.sleep(0.05)
        pytest.fail("the server did not start")

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate()

    def store(self) -> Store:
        return Store.open(self.data, Settings(data=self.data, min_free_bytes=0))

    def events(self, judge: int = 1) -> list[StoredPadEvent]:
        with self.store() as store, store.read() as session:
            rows = session.exec(select(StoredPadEvent).where(StoredPadEvent.judge_id == judge))
            return sorted(rows.all(), key=lambda event: (event.device, event.seq))

    def sheets(self) -> dict[str, Sheet]:
        """The version in force of each judge's sheet for the first band."""
        with self.store() as store, store.read() as session:
            return {sheet.judge: sheet for sheet in sheets_of(session, 1)}


@pytest.fixture
def server(tmp_path: Path, steady_port: int) -> Iterator[Server]:
    started = Server(tmp_path / "data", steady_port)
    started.start()
    yield started
    started.kill()


@pytest.fixture
def network(launch: Callable[..., Browser]) -> Iterator[Browser]:
    browser = launch("--host-resolver-rules=MAP laptop.lan 127.0.0.1")
    yield browser
    browser.close()


def come_in(network: Browser, server: Server, name: str, *, script: str = "", **device: Any) -> Page:  # noqa: ANN401 options of a device
    """Open the page of somebody on a device of their own."""
    context = network.new_context(**(PHONE | device))
    if script:
        context.add_init_script(script)
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.goto(server.address + server.links[name])
    page.get_by_role("button", name="Come in").click()
    return page


def open_pad(page: Page, server: Server) -> Page:
    page.goto(server.address + PAD)
    return page


def touch(page: Page, *areas: str) -> None:
    for area in areas:
        page.locator(f'[data-press="{area}"]').tap()
        page.wait_for_timeout(40)  # no thumb is quicker than 25 a second


def is_all_sent(page: Page) -> None:
    expect(page.locator('.line[data-state="sent"]:visible').first).to_be_visible()


def says(page: Page, words: str) -> None:
    """What the pad says of its line to the server."""
    expect(page.locator(".line:visible").first).to_have_text(words)


def taps(events: list[StoredPadEvent]) -> list[float]:
    return [float(event.faults or 0) for event in events if event.kind == "tap"]


def sign(page: Page) -> None:
    touch(page, "stop")
    page.get_by_role("button", name="Sign the sheet").click()
    expect(page.get_by_text("Signed and kept. The organiser has it.")).to_be_visible()


def read_back_and_sign(ann: Page, server: Server) -> None:
    """Put one change right, comment, and sign while the server is dead."""
    touch(ann, "stop")
    expect(ann.get_by_role("heading", name="Band 1, read back")).to_be_focused()
    ann.get_by_role("button", name="more at change 1", exact=True).click()
    expect(ann.get_by_label("Why", exact=True)).to_be_focused()
    ann.get_by_label("Why", exact=True).fill("my thumb slipped")
    ann.get_by_role("button", name="more at change 1", exact=True).click()
    expect(ann.locator('[data-part="sum"]')).to_have_text("7")
    ann.get_by_label("To the band").fill("Steady at backstroke.")
    server.kill()
    ann.get_by_role("button", name="Sign the sheet").click()
    expect(ann.get_by_text("Signed on this device")).to_be_visible()
    server.start()
    expect(ann.get_by_text("Signed and kept. The organiser has it.")).to_be_visible()


def test_a_touch_is_counted_through_everything_that_can_go_wrong(network: Browser, server: Server) -> None:
    ann = open_pad(come_in(network, server, "ann"), server)
    ben = open_pad(come_in(network, server, "ben", script=SKEWED), server)
    expect(come_in(network, server, "steward").get_by_role("heading", level=1)).to_have_text("In the ringing room")
    assert ann.evaluate("isSecureContext") is False

    begun_ms = time.time() * 1000
    touch(ann, "start", "light", "heavy", "light", "undo", "lead")
    touch(ben, "start", "heavy", "heavy")
    is_all_sent(ann)
    is_all_sent(ben)

    ann.context.set_offline(True)  # behind a thick wall
    touch(ann, "light", "light", "heavy")
    says(ann, "no signal · 3 kept here")
    server.kill()
    ann.context.set_offline(False)
    touch(ann, "heavy")
    touch(ben, "light", "light")
    says(ben, "no signal · 2 kept here")
    server.start()
    is_all_sent(ann)
    is_all_sent(ben)

    ann.context.set_offline(True)
    touch(ann, "light", "heavy")
    ann.close()  # the tab, with two touches in it that nobody has seen
    ann.context.set_offline(False)
    ann = open_pad(ann.context.new_page(), server)
    expect(ann.locator('[data-part="total"]')).to_have_text("6")
    touch(ann, "light")
    ann.reload()
    expect(ann.locator('[data-part="total"]')).to_have_text("6½")
    touch(ben, "heavy")
    ben.reload()
    ended_ms = time.time() * 1000

    read_back_and_sign(ann, server)
    sign(ben)

    first, second = server.events(1), server.events(2)
    assert [event.seq for event in first] == list(range(1, len(first) + 1))
    assert [event.seq for event in second] == list(range(1, len(second) + 1))
    assert len({event.event for event in first + second}) == len(first + second)
    assert taps(first) == [0.5, 1, 0.5, 0.5, 0.5, 1, 1, 0.5, 1, 0.5]  # the third was taken back
    assert taps(second) == [1, 1, 0.5, 0.5, 1]
    counted = [event for event in first + second if event.kind in {"start", "tap", "lead", "undo"}]
    assert all(begun_ms - 1000 <= event.at_ms <= ended_ms + 1000 for event in counted)
    assert min(event.device_ms for event in second) > begun_ms + SKEW_MS - 1000
    signed = server.sheets()
    assert {judge: sheet.total for judge, sheet in signed.items()} == {"ann": 7, "ben": 4}
    assert signed["ann"].comment == "Steady at backstroke."
    assert all(tap.time_s is not None for sheet in signed.values() for tap in sheet.taps)

    organiser = come_in(network, server, "organiser", viewport={"width": 1280, "height": 900}, is_mobile=False)
    for judge, total in (("ann", "7"), ("ben", "4")):
        organiser.goto(f"{server.address}/contests/ferry/bands/band-1/sheets/{judge}")
        expect(organiser.get_by_role("region", name="Signed so far").get_by_role("listitem")).to_contain_text(total)


def test_a_120_is_counted_with_the_eyes_shut(network: Browser, server: Server) -> None:
    """Touches fall anywhere in a half, some by both thumbs at once, some twice in a moment; nothing zooms or moves."""
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start")
    chance = random.Random(120)  # noqa: S311 where a thumb falls, not a secret
    areas = {name: page.locator(f'[data-press="{name}"]').bounding_box() for name in ("light", "heavy", "undo")}
    thumbs = page.context.new_cdp_session(page)
    expected = 0.0

    def fall(*names: str) -> None:
        points = []
        for finger, name in enumerate(names):
            box = areas[name]
            assert box is not None
            x = box["x"] + box["width"] * chance.uniform(0.06, 0.94)
            y = box["y"] + box["height"] * chance.uniform(0.04, 0.96)
            points.append({"x": x, "y": y, "id": finger})
        thumbs.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
        thumbs.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.wait_for_timeout(45)

    for _ in range(60):
        fall("light")
        expected += 0.5
    for _ in range(20):
        fall("heavy")
        expected += 1
    for _ in range(10):
        fall("light", "heavy")  # both thumbs at once
        page.wait_for_timeout(40)
        expected += 1.5
    fall("undo")
    expected -= 1

    assert page.evaluate("visualViewport.scale") == 1
    assert page.evaluate("[scrollX, scrollY, getSelection().toString()]") == [0, 0, ""]
    is_all_sent(page)
    assert sum(taps(server.events())) == expected + 1
    whole, half = int(expected), expected % 1
    expect(page.locator('[data-part="total"]')).to_have_text(f"{whole}{'½' if half else ''}")


def test_two_phones_of_one_judge_are_both_kept_told_and_chosen_between(network: Browser, server: Server) -> None:
    first = open_pad(come_in(network, server, "ann"), server)
    touch(first, "start", "light", "light")
    is_all_sent(first)
    second = open_pad(come_in(network, server, "ann again"), server)
    expect(second.locator('[data-part="total"]')).to_have_text("1")
    touch(second, "heavy")
    is_all_sent(second)

    expect(second.get_by_text("You are counting on 2 devices")).to_be_visible()
    expect(first.get_by_text("You are counting on 2 devices")).to_be_visible()
    touch(second, "stop")
    expect(second.locator('[data-part="sum"]')).to_have_text("2")
    second.get_by_label("Only this device").check()
    expect(second.locator('[data-part="sum"]')).to_have_text("1")
    second.get_by_role("button", name="Sign the sheet").click()
    expect(second.get_by_text("Signed and kept")).to_be_visible()
    expect(first.get_by_role("heading", name="Band 1, signed")).to_be_visible()
    assert sorted(taps(server.events())) == [0.5, 0.5, 1]


def test_a_signed_sheet_is_revised_with_a_reason_and_both_are_kept(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start", "light", "stop")
    page.get_by_role("button", name="Sign the sheet").click()
    page.get_by_role("button", name="Revise it").click()
    page.get_by_role("button", name="Sign the sheet").click()
    expect(page.get_by_text("Say why the sheet is changed.")).to_be_visible()
    page.get_by_label("Why", exact=True).evaluate("field => { field.closest('details').open = true; }")
    page.get_by_label("Why", exact=True).fill("heard it again")
    page.get_by_role("button", name="more at change 1", exact=True).click()
    page.get_by_label("Why the sheet is changed").fill("heard it again")
    page.get_by_role("button", name="Sign the sheet").click()

    expect(page.get_by_text("version 2")).to_be_visible()
    with server.store() as store, store.read() as session:
        contest = contest_by_slug(session, "ferry")
        assert contest is not None
        assert [str(sheet.total) for sheet in sheets_of(session, contest.id)] == ["0.5", "1"]


#: Another device of the same judge sends fifty taps that charge ten each: more than four for each of 120 changes.
FIFTY_TENS = """async () => {
  const { entry } = JSON.parse(document.querySelector("[data-pad]").dataset.pad);
  const begun_ms = Date.now() - 200_000;
  const one = (seq, kind, faults) => (
    { id: `tablet${String(seq).padStart(8, "0")}`, seq, kind, faults, at_ms: begun_ms + 3000 * seq });
  const events = [one(1, "start", null), ...Array.from({ length: 50 }, (_, i) => one(i + 2, "tap", 10))];
  const body = JSON.stringify({ device: "tablet", entry, events });
  const headers = { "content-type": "application/json", accept: "application/json" };
  return (await (await fetch(location.href, { method: "POST", headers, body })).json()).kept.length;
}"""


def test_a_surprising_figure_is_asked_about_and_signed_with_its_reason(network: Browser, server: Server) -> None:
    ann = open_pad(come_in(network, server, "ann"), server)
    assert ann.evaluate(FIFTY_TENS) == 51
    expect(ann.locator('[data-part="total"]')).to_have_text("500")

    touch(ann, "stop")
    expect(ann.get_by_label("It is as I heard it, because")).to_be_hidden()
    ann.get_by_role("button", name="Sign the sheet").click()
    expect(ann.locator('[data-part="sign-wrong"]')).to_contain_text("is it as you heard it?")
    expect(ann.get_by_label("It is as I heard it, because")).to_be_focused()
    assert violations(ann) == []
    assert server.sheets() == {}

    ann.get_by_label("It is as I heard it, because").fill("they fired out and I counted on")
    ann.get_by_role("button", name="Sign the sheet").click()
    expect(ann.get_by_text("Signed and kept. The organiser has it.")).to_be_visible()
    expect(ann.locator('[data-part="alert"]')).to_be_empty()
    assert (server.sheets()["ann"].total, server.sheets()["ann"].reason) == (500, "they fired out and I counted on")


def test_a_withdrawn_link_keeps_everything_until_a_new_one_is_opened(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start", "light")
    is_all_sent(page)
    with server.store() as store, store.write() as session:
        link = session.exec(select(StoredLink).where(StoredLink.used_at.is_not(None))).all()[-1]  # type: ignore[union-attr]  # a column
        revoke_link(session, link.id, who="test")
        token = make_link(session, role="judge", who="test", contest_id=1, judge_id=1)
    touch(page, "heavy", "heavy")

    expect(page.get_by_text("Your link is over or was withdrawn")).to_be_visible()
    says(page, "link over · 2 kept here")
    page.goto(f"{server.address}/links/{token}")
    page.get_by_role("button", name="Come in").click()
    open_pad(page, server)
    is_all_sent(page)
    assert taps(server.events()) == [0.5, 1, 1]


def test_a_closed_touch_is_told_and_everything_stays_on_the_pad(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start", "light")
    is_all_sent(page)
    with server.store() as store, store.write() as session:
        contest = contest_by_slug(session, "ferry")
        assert contest is not None
        set_phase(session, contest, "final", who="test")
    touch(page, "heavy")

    expect(page.get_by_text("The result is final, so nothing is taken any more")).to_be_visible()
    page.reload()
    expect(page.locator('[data-part="total"]')).to_have_text("1½")
    assert taps(server.events()) == [0.5]


def test_the_stewards_start_opens_the_pad(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    expect(page.get_by_role("button", name="Touch here at the first change")).to_be_visible()
    with server.store() as store, store.write() as session:
        entry = entry_by_key(session, 1, "weir")
        assert entry is not None
        change_entry(session, entry, who="steward", began_at=datetime.now(UTC))

    expect(page.get_by_role("button", name="First change")).to_be_visible()
    touch(page, "lead", "light")
    is_all_sent(page)
    assert [event.kind for event in server.events()] == ["start", "tap"]


def test_what_one_shelf_has_lost_the_other_gives_back(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start", "light")
    is_all_sent(page)
    page.context.set_offline(True)
    touch(page, "heavy", "heavy")
    page.wait_for_timeout(300)
    page.evaluate("""
      Object.keys(localStorage).filter((key) => key.split(":").length > 2)
        .forEach((key) => localStorage.removeItem(key))
    """)
    page.context.set_offline(False)
    page.reload()

    expect(page.locator('[data-part="total"]')).to_have_text("2½")
    is_all_sent(page)
    assert taps(server.events()) == [0.5, 1, 1]


def test_a_stuck_key_is_told_and_is_no_tap(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann"), server)
    touch(page, "start")
    page.evaluate("""
      const area = document.querySelector('[data-press="light"]');
      for (let i = 0; i < 10000; i += 1) area.dispatchEvent(new PointerEvent("pointerdown", { button: 0 }));
    """)

    expect(page.get_by_text("Faster than any thumb")).to_be_visible()
    is_all_sent(page)
    assert len(taps(server.events())) <= 30


def test_a_keyboard_counts_too(network: Browser, server: Server) -> None:
    page = open_pad(come_in(network, server, "ann", viewport={"width": 1100, "height": 700}, is_mobile=False), server)
    page.get_by_role("button", name="Touch here at the first change").focus()
    page.keyboard.press("Enter")
    for key in ("ArrowLeft", "ArrowRight", "ArrowRight", "ArrowDown", "ArrowUp", "Backspace"):
        page.keyboard.press(key)
    expect(page.locator('[data-part="total"]')).to_have_text("1½")
    page.get_by_role("button", name="½ half fault").focus()
    page.keyboard.press("Space")
    expect(page.locator('[data-part="total"]')).to_have_text("2")
    page.get_by_role("button", name="That’s all").press("Enter")
    page.get_by_role("button", name="Sign the sheet").press("Enter")
    expect(page.get_by_role("heading", name="Band 1, signed")).to_be_focused()


@pytest.mark.parametrize("by_day", [False, True])
def test_no_side_of_the_pad_breaks_a_rule_of_accessibility(
    network: Browser,
    server: Server,
    by_day: bool,  # noqa: FBT001 pytest passes it by name
) -> None:
    page = open_pad(come_in(network, server, "ann", reduced_motion="reduce"), server)
    if by_day:
        page.get_by_label("Colours for bright daylight").check()
    broken = {"ready": violations(page)}
    touch(page, "start", "light", "heavy", "undo")
    broken["count"] = violations(page)
    page.set_viewport_size({"width": 844, "height": 390})
    broken["on its side"] = violations(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth") is True
    touch(page, "stop")
    page.locator("details").evaluate("one => { one.open = true; }")
    broken["read back"] = violations(page)
    page.get_by_role("button", name="Sign the sheet").click()
    expect(page.get_by_text("Signed and kept")).to_be_visible()
    broken["signed"] = violations(page)

    assert {side: found for side, found in broken.items() if found} == {}


def test_without_scripts_it_leads_to_the_sheet(network: Browser, server: Server) -> None:
    page = come_in(network, server, "ann", java_script_enabled=False)
    open_pad(page, server)
    page.get_by_role("link", name="the sheet for band 1").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Sheet for band 1", ignore_case=True)


def test_where_the_browser_allows_it_the_pad_opens_without_signal_and_can_be_installed(
    chromium: Browser, server: Server
) -> None:
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    base = f"http://127.0.0.1:{server.port}"
    page.goto(base + server.links["ann"])
    page.get_by_role("button", name="Come in").click()
    page.goto(base + PAD)
    assert page.evaluate("isSecureContext") is True
    page.wait_for_function("caches.open('evenblow-pad-1').then(shelf => shelf.match(location.href))")
    page.wait_for_timeout(500)
    errors = context.new_cdp_session(page).send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [error["errorId"] for error in errors if error["errorId"] != "in-incognito"] == []

    server.kill()
    page.goto(base + PAD)
    touch(page, "start", "light")
    expect(page.locator('[data-part="total"]')).to_have_text("½")
    server.start()
    is_all_sent(page)
    assert taps(server.events()) == [0.5]
    context.close()


def test_the_pads_own_tally_is_the_servers(network: Browser, server: Server) -> None:
    """The same sets of events, under every scheme, counted by the script and by the Python that prefills a sheet."""
    page = come_in(network, server, "ann")
    piece = piece_from_file("doubles.toml", PIECE)
    chance = random.Random(1677)  # noqa: S311 made-up touches, not a secret
    for scheme in SCHEMES:
        rules = read_rules(f'{RULES}\n[sheets]\nstep = 0.5\n[counting]\nscheme = "{scheme}"\n', name="rules.toml")
        shape = pad_for(piece, rules)
        told = {
            **{name: getattr(shape, name) for name in ("rows", "changes", "heads", "opening", "row_ms")},
            "unit": shape.sheets.unit,
            "scheme": {
                "unit_rows": shape.scheme.unit_rows,
                "worst": shape.scheme.adds == "worst",
                "cap": None if shape.scheme.cap is None else float(shape.scheme.cap),
                "step": None if shape.scheme.step is None else float(shape.scheme.step),
                "marks_up": shape.scheme.marks_up,
            },
        }
        for _ in range(25):
            events = made_up_touch(chance, float(shape.light), float(shape.heavy))
            theirs = page.evaluate(
                "async ([events, pad]) => { const { tally } = await import('/static/pad_tally.js');"
                " const { lines, lost, total, comment, start_ms, stop_ms, by_device } = tally(events, pad, 5000, null);"
                " return { lines, lost, total, comment, start_ms, stop_ms, by_device }; }",
                [events, told],
            )
            ours = tally([pad_event(one) for one in events], shape, began_ms=5000)
            assert theirs == {
                "lines": [
                    {"change": line.change, "faults": float(line.faults), "time_s": line.time_s} for line in ours.lines
                ],
                "lost": float(ours.lost),
                "total": None if ours.total is None else float(ours.total),
                "comment": ours.comment,
                "start_ms": ours.start_ms,
                "stop_ms": ours.stop_ms,
                "by_device": dict(ours.by_device),
            }, json.dumps(events)


def made_up_touch(chance: random.Random, light: float, heavy: float) -> list[dict[str, Any]]:
    events: list[dict[str, Any]] = []
    for seq in range(1, chance.randint(2, 60)):
        kind = chance.choice(["tap"] * 8 + ["undo", "lead", "start", "stop", "correct", "comment"])
        one: dict[str, Any] = {
            "id": f"e{seq:07d}",
            "device": chance.choice(["phone", "phone", "tablet"]),
            "seq": seq,
            "kind": kind,
            "at_ms": chance.randrange(0, 260_000),
            "of": "",
            "text": "",
        }
        if kind == "tap":
            one["faults"] = chance.choice([light, heavy])
        if kind == "undo" and events:
            one["of"] = chance.choice(events)["id"]
        if kind == "correct":
            one |= {"change": chance.randint(1, 120), "faults": chance.choice([0, light, heavy])}
        if kind == "comment":
            one["text"] = f"words {seq}"
        events.append(one)
    return events


def pad_event(one: dict[str, Any]) -> PadEvent:
    faults = None if one.get("faults") is None else Decimal(str(one["faults"]))
    return PadEvent(
        one["id"],
        one["device"],
        one["seq"],
        one["kind"],
        one["at_ms"],
        faults,
        one.get("change"),
        one["of"],
        one["text"],
    )
