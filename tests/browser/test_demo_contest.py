"""The demo contest as a visitor opens it."""

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from .conftest import Running, serving_folder

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_winner_is_read_a_fault_clicked_and_the_player_is_at_that_time(
    demo: tuple[Path, Any], page: Page, tmp_path: Path
) -> None:
    folder, ran = demo
    assert ran.code == 0, ran.err
    with serving_folder(folder, tmp_path / "service") as running:
        _read_and_hear(page, running, folder)
        page.goto("about:blank")  # a server does not end while somebody still loads from it


def _read_and_hear(page: Page, running: Running, folder: Path) -> None:
    # Where the player first stands once it has been sent somewhere: it plays on while a busy machine asks.
    page.add_init_script("document.addEventListener('seeked', e => { window.sent ??= e.target.currentTime }, true)")
    page.goto(running.address)
    page.get_by_role("link", name="Vale of Ember").click()
    winner = page.locator("table").first.locator("tbody tr").first
    assert "1st" in winner.inner_text()
    winner.get_by_role("link", name="Tillingate").click()
    counted = json.loads((folder / "counts" / "tillingate.json").read_text(encoding="utf-8"))
    first = next(blow for blow in counted["blows"] if blow["charge"])
    # The player begins a little before the fault, so that it is heard coming.
    page.get_by_role("link", name=f"Change {first['change']}, ").first.click()
    page.wait_for_function("() => document.querySelector('audio').currentTime > 1")
    page.wait_for_function("() => window.sent !== undefined")  # it is at its new place a moment before it says so
    at = page.evaluate("window.sent")
    assert first["time_s"] - 3 < at < first["time_s"] + 3
