"""A touch recorded by the laptop itself, through a made-up microphone that plays a file."""

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from judging.sounding import write_wav

from .conftest import Running

pytestmark = pytest.mark.browser


@pytest.fixture
def with_microphone(launch: Callable[..., Browser], running: Running, tmp_path: Path) -> Iterator[Page]:
    wav = tmp_path / "microphone.wav"
    write_wav(wav, (0.2 * np.sin(np.arange(96_000) / 20)).astype(np.float32), 48_000)
    browser = launch(
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={wav}",
    )
    context = browser.new_context()
    context.add_cookies([running.organiser])
    yield context.new_page()
    browser.close()


def test_a_touch_is_recorded_stopped_and_sent_without_choosing_a_file(with_microphone: Page, running: Running) -> None:
    page = with_microphone
    page.goto(f"{running.address}/practice")
    page.get_by_label("What is rung").select_option("Plain Bob Minor")
    page.get_by_role("button", name="Begin").click()

    page.get_by_role("button", name="Record with this laptop").click()
    expect(page.locator("#recorder")).to_have_text("Recording. Look to …")
    page.wait_for_timeout(1500)
    page.get_by_role("button", name="Stop and hear it").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("The recording is kept, and waits to be heard")
    night = page.locator("a[href^='/contests/'][href$='/practice']").first.get_attribute("href") or ""
    page.goto(f"{running.address}{night.removesuffix('/practice')}/bands/touch-1/evidence")
    expect(page.get_by_text("Recording “touch.webm”")).to_be_visible()
