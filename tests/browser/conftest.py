"""The service on a real port, on a small contest with sound, and the system's Chromium to look at it."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect, sync_playwright

from judging.piece import piece_from_file
from judging.sounding import Character, Lateness, human_log, ring_of_bells, ring_to_file
from judging.store import Settings, Store
from judging.striking import write_log
from judging.web import create_app, organiser_link
from judging.web.importing import take_in

#: No sandbox inside a container, and nothing that talks to anybody.
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--mute-audio",
    "--autoplay-policy=no-user-gesture-required",
)

#: What is waited for comes at once on a quiet machine; a busy one is waited for, which costs only where it never comes.
expect.set_options(timeout=60_000)

RULES = """
rules = 1
title = "Ferry Lane six-bell contest"
district = "Ferry Lane District"
date = 2026-06-20
place = "Ferry Lane"
[[section]]
name = "Six bells"
piece = "hunt"
[[judge]]
id = "ann"
name = "First judge"
[draw]
seed = "ferry"
[public]
fault_sheets = true
"""

BANDS = {"weir": ("Weir End", 22.0, "4"), "lock": ("Lock Cottage", 45.0, "19.5")}


def plain_hunt() -> str:
    """Plain hunt on five with a cover, 30 changes, by its rule: all swap but the last, then all but the first."""
    row, rows = list("12345"), ["123456"] * 2
    for change in range(30):
        for place in range(change % 2, 4, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append("".join(row) + "6")
    return "\n".join(rows) + "\n"


@dataclass(frozen=True, slots=True)
class Running:
    """The service: its address, the cookie of its organiser, and its data folder."""

    address: str
    organiser: Any
    data: Path


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder = tmp_path_factory.mktemp("contest")
    for name in ("pieces", "logs", "recordings", "sheets"):
        (folder / name).mkdir()
    (folder / "rules.toml").write_text(RULES, encoding="utf-8")
    (folder / "pieces" / "hunt.txt").write_text(plain_hunt(), encoding="utf-8")
    piece = piece_from_file("hunt.txt", plain_hunt())
    entries, sheet = "", "entry,total\n"
    for seed, (key, (band, spread_ms, total)) in enumerate(BANDS.items()):
        entries += f'[[entry]]\nid = "{key}"\nband = "{band}"\npiece = "hunt"\n'
        sheet += f"{key},{total}\n"
        character = Character(spread_ms=spread_ms, late=(Lateness(bell=5, stroke="back", late_ms=80.0),))
        meant = human_log(piece, character, seed=seed, peal_minutes=165.0, handstroke_gap=1.0).log
        log = ring_to_file(folder / "recordings" / f"{key}.wav", meant, bells=ring_of_bells(6, seed=3), seed=seed)
        (folder / "logs" / f"{key}.csv").write_text(write_log(log), encoding="utf-8")
    (folder / "entries.toml").write_text(entries, encoding="utf-8")
    (folder / "sheets" / "ann.csv").write_text(sheet, encoding="utf-8")
    with serving_folder(folder, tmp_path_factory.mktemp("service") / "data") as service:
        yield service


@dataclass(frozen=True, slots=True)
class Fresh:
    """A service that nobody has opened yet: its address, the organiser's one-time link, and its store."""

    address: str
    link: str
    store: Store


@contextmanager
def serving(data: Path, folder: Path | None = None) -> Iterator[Fresh]:
    """Serve a data folder, with a judged contest folder taken in or with nothing."""
    settings = Settings(data=data, min_free_bytes=0)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    with Store.open(data, settings) as store:
        if folder is not None:
            take_in(store, folder)
        link = organiser_link(store, base=address)
    assert link is not None
    app = create_app(settings, runs_jobs=False)
    # It does not wait at its end for an open page to have played its recording.
    server = uvicorn.Server(
        uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server did not start"
        time.sleep(0.01)
    yield Fresh(address, link, app.state.store)
    server.should_exit = True
    thread.join()


@contextmanager
def serving_folder(folder: Path, data: Path) -> Iterator[Running]:
    """Serve a judged contest folder to its organiser."""
    with serving(data, folder) as service:
        with httpx2.Client() as client:
            token = client.post(service.link).cookies["evenblow"]
        yield Running(service.address, {"name": "evenblow", "value": token, "url": service.address}, data)


@pytest.fixture(scope="session")
def launch() -> Iterator[Callable[..., Browser]]:
    """Start the system's Chromium, with more flags if wanted."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("the system has no Chromium; install the package chromium")
        pytest.skip("the system has no Chromium; install the package chromium to run the browser's tests")
    with sync_playwright() as playwright:
        yield lambda *flags: playwright.chromium.launch(executable_path=path, args=[*QUIET, *flags])


@pytest.fixture(scope="session")
def chromium(launch: Callable[..., Browser]) -> Iterator[Browser]:
    browser = launch()
    yield browser
    browser.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A page that fails the test on any error in its console, and on anything fetched from elsewhere."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    wrong: list[str] = []
    opened.on("console", lambda message: wrong.append(message.text) if message.type in {"error", "warning"} else None)
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("request", lambda sent: wrong.append(sent.url) if "127.0.0.1" not in sent.url else None)
    yield opened
    context.close()
    assert wrong == []


@pytest.fixture
def without_script(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 390, "height": 800}, java_script_enabled=False)
    yield context.new_page()
    context.close()


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Fresh]:
    with serving(tmp_path / "data") as service:
        yield service
