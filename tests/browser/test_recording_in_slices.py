"""A touch recorded in the ringing room while the signal is lost and the page is closed: all of it arrives."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import av
import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, expect

from judging.sounding import write_wav
from judging.store import Store, contest_by_slug, set_phase

from .conftest import Running

pytestmark = pytest.mark.browser

RECORDER = "/contests/ferry-lane-six-bell-contest/bands/band-1/recorder"


@pytest.fixture
def laptop(launch: Callable[..., Browser], running: Running, tmp_path: Path) -> Iterator[BrowserContext]:
    """A browser with a microphone that plays a tone, on which bands are in the middle of ringing."""
    wav = tmp_path / "microphone.wav"
    write_wav(wav, (0.2 * np.sin(np.arange(96_000) / 20)).astype(np.float32), 48_000)
    browser = launch(
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={wav}",
    )
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_cookies([running.organiser])
    put_contest_into(running, "ringing")
    yield context
    put_contest_into(running, "final")
    browser.close()


def put_contest_into(running: Running, phase: str) -> None:
    with Store.open(running.data) as store, store.write() as session:
        contest = contest_by_slug(session, "ferry-lane-six-bell-contest")
        assert contest is not None
        set_phase(session, contest, phase, who="test")


def seconds(path: Path) -> float:
    """How long a recording lasts, counted in the samples decoded."""
    with av.open(str(path)) as file:
        return sum(frame.samples / frame.sample_rate for frame in file.decode(audio=0))


@pytest.fixture
def newest(running: Running) -> Callable[[], Path]:
    def find() -> Path:
        with Store.open(running.data) as store:
            return max(store.recordings.folder.glob("[0-9a-f]" * 64), key=lambda path: path.stat().st_mtime_ns)

    return find


def test_signal_lost_in_the_middle_loses_nothing(
    laptop: BrowserContext, running: Running, newest: Callable[[], Path]
) -> None:
    page = laptop.new_page()
    page.goto(running.address + RECORDER)
    page.get_by_role("button", name="Record with this laptop").click()
    expect(page.get_by_role("status")).to_contain_text("Recording")
    page.wait_for_timeout(3000)
    laptop.set_offline(True)
    page.wait_for_timeout(5000)
    page.get_by_role("button", name="Stop and hear it").click()
    expect(page.get_by_role("status")).to_contain_text("cannot be reached")
    laptop.set_offline(False)
    expect(page.get_by_text("recorded on this laptop")).to_be_visible()
    assert seconds(newest()) > 7.5


def test_a_page_closed_while_recording_leaves_what_was_recorded_to_be_kept(
    laptop: BrowserContext, running: Running, newest: Callable[[], Path]
) -> None:
    page = laptop.new_page()
    page.goto(running.address + RECORDER)
    page.get_by_role("button", name="Record with this laptop").click()
    page.wait_for_timeout(3000)
    laptop.set_offline(True)
    page.wait_for_timeout(4000)
    page.close()
    laptop.set_offline(False)

    again = laptop.new_page()
    again.goto(running.address + RECORDER)
    kept_here = again.get_by_role("button", name="Keep what is here and hear it")
    expect(again.get_by_text(re.compile("[3-9] slices are here"))).to_be_visible()
    violations = Axe().run(again).response["violations"]
    assert [v["id"] for v in violations] == []
    kept_here.click()
    expect(again.get_by_text("Kept so far")).to_be_visible()
    assert seconds(newest()) > 5.5
