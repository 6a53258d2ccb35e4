"""The ear test in the browser: tapped along on the clock of the sound, read afterwards, with no script too."""

import re

import pytest
from playwright.sync_api import Page, expect

from judging.jobs import ear_test_named
from judging.jobs.ear_testing import EarTest, ear_test_path
from judging.jobs.sound_task import sound_task
from judging.jobs.task_frame import ProgressFile
from judging.store import Settings, Store
from judging.striking import write_log

from .conftest import Running

pytestmark = pytest.mark.browser

#: The listener hears whatever is so far out, and taps so much later.
LATE_MS, EARLY_MS, REACTION_S = 33.0, 60.0, 0.45


def begun(page: Page, running: Running) -> EarTest:
    """A test that was asked for on the page, rung as a worker rings it."""
    page.goto(f"{running.address}/ear-test")
    page.get_by_role("button", name="Ring it").click()
    expect(page.get_by_role("heading", name="It is being rung")).to_be_visible()
    test = ear_test_named(page.url.rsplit("/", 1)[1])
    assert test is not None
    with Store.open(running.data, Settings(data=running.data, min_free_bytes=0)) as store:
        path = ear_test_path(store, test)
    path.parent.mkdir(exist_ok=True)
    sound_task(write_log(test.log), test.bells, str(path), progress=ProgressFile(""))
    page.reload()
    return test


def test_tapping_along_tells_what_the_listener_hears(page: Page, running: Running) -> None:
    page.context.add_cookies([running.organiser])
    test = begun(page, running)
    page.keyboard.press(" ")
    expect(page.get_by_text("Begin the sound first.")).to_be_visible()
    page.evaluate("document.querySelector('audio').play()")
    page.evaluate("() => { document.querySelector('audio').playbackRate = 0.1; }")  # so that the script keeps pace
    tapped = 0
    for fault in test.planted:
        if not (fault.late_ms >= LATE_MS or -fault.late_ms >= EARLY_MS):
            continue
        at_s = float(test.log.times_s[fault.row * test.bells + fault.place - 1]) + REACTION_S
        page.evaluate(
            """at => new Promise((done) => {
                const audio = document.querySelector("audio");
                audio.addEventListener("seeked", done, { once: true });
                audio.currentTime = at;
            })""",
            at_s,
        )
        if tapped % 2:
            page.keyboard.press(" ")
        else:
            page.get_by_role("button", name="Out of time").click()
        tapped += 1
    expect(page.get_by_text(f"{tapped} noted.")).to_be_visible()
    page.evaluate("() => { const audio = document.querySelector('audio'); audio.currentTime = audio.duration - 0.01; }")
    page.wait_for_function("document.querySelector('audio').currentTime > document.querySelector('audio').duration - 1")
    page.wait_for_function("Number(document.querySelector('[name=until]').value) > 200")
    page.get_by_role("button", name="I have finished").click()

    expect(page.get_by_role("heading", name="What you hear")).to_be_visible()
    told = page.locator("main").inner_text()
    found = {
        way: tuple(map(int, figures))
        for way, *figures in re.findall(r"half of the (early|late) blows at (\d+) ms \((\d+) to (\d+) ms\)", told)
    }
    assert found["late"][1] <= LATE_MS <= found["late"][2]
    assert found["early"][1] <= EARLY_MS <= found["early"][2]
    assert "You noted nothing where nothing was" in told
    assert page.locator("tbody tr").count() == len(test.planted)
    assert page.get_by_role("cell", name="yes").count() == tapped


def test_without_a_script_rows_are_ticked(without_script: Page, running: Running) -> None:
    without_script.context.add_cookies([running.organiser])
    test = begun(without_script, running)
    assert not without_script.get_by_role("button", name="Out of time").is_visible()
    rows = [fault.row + 1 for fault in test.planted if abs(fault.late_ms) > 35]
    for row in rows:
        without_script.locator(f"#row-{row}").check()
    without_script.get_by_role("button", name="I have finished").click()

    expect(without_script.get_by_role("heading", name="What you hear")).to_be_visible()
    assert without_script.get_by_role("cell", name="yes").count() == len(rows)
