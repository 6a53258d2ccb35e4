"""An evening of pull-offs as a tower captain has it: six in a row, and nobody touches the laptop."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from judging.piece import Piece, rounds
from judging.sounding import Character, Lateness, human_log, ring, ring_of_bells, room_named, write_wav
from judging.store import Settings, Store, contest_by_slug, log_of_stand, stands_of
from judging.striking.strike_log import StrikeLog

from .conftest import Running

pytestmark = [pytest.mark.browser, pytest.mark.slow]

RATE = 48_000
#: Pull-off and stand, three times, and three that go on for another whole pull; the fifth bell late in all but one.
WHOLE_PULLS = (1, 2, 1, 2, 1, 2)
PAUSE_S = 7.0
BUFFER_MS = 10.0
#: Each is to be told within so long of its last blow.
TOLD_S = 10.0


@dataclass(frozen=True)
class Evening:
    """A recording of pull-offs, and when each blow of each truly was."""

    wav: Path
    truths: list[StrikeLog]
    seconds: float


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    chance = np.random.default_rng(5)
    parts, truths, at = [np.zeros(25 * RATE)], [], 25.0  # a worker on a busy machine takes its time to begin
    for number, pulls in enumerate(WHOLE_PULLS):
        band = Character(
            spread_ms=15.0,
            pull_off_ms=12.0,
            late=(Lateness(bell=5, stroke="hand", late_ms=90.0 if number != 3 else 60.0),),
        )
        piece = Piece("rounds", np.tile(rounds(6), (2 * pulls, 1)))
        touch = human_log(piece, band, peal_minutes=172.0, seed=number)
        sound, true = ring(
            touch.log,
            ring_of_bells(6, seed=4),
            room_named("ringing chamber"),
            seed=number,
            rate=RATE,
            is_hand=touch.is_hand,
            lead_in_s=1.5,
        )
        truths.append(StrikeLog(true.times_s + at, true.bells.copy(), true.spread_ms.copy()))
        parts += [sound, np.zeros(int(PAUSE_S * RATE))]
        at += len(sound) / RATE + PAUSE_S
    whole = 0.7 * np.concatenate(parts)
    whole += 2e-4 * chance.standard_normal(len(whole))
    wav = tmp_path_factory.mktemp("evening") / "six.wav"
    write_wav(wav, np.concatenate([whole, np.zeros(120 * RATE)]).astype(np.float32), RATE)  # it is played over and over
    return Evening(wav, truths, len(whole) / RATE)


class Slowness(threading.Thread):
    """How many times longer work takes than its processor time while this runs: 1 where nothing else is done."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self._over = threading.Event()
        self._wall_s = self._worked_s = 0.0

    def run(self) -> None:
        while not self._over.wait(0.2):
            begun, worked = time.perf_counter(), time.thread_time()
            while time.thread_time() - worked < 0.02:
                pass
            self._wall_s += time.perf_counter() - begun
            self._worked_s += time.thread_time() - worked

    def measured(self) -> float:
        self._over.set()
        self.join()
        return max(1.0, self._wall_s / self._worked_s)


@pytest.fixture
def captain(launch: Callable[..., Browser], running: Running, evening: Evening) -> Iterator[Page]:
    browser = launch(
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={evening.wav}",
    )
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_cookies([running.organiser])
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield page
    browser.close()
    assert wrong == []


def begin_night(page: Page, running: Running) -> str:
    page.goto(f"{running.address}/practice")
    page.get_by_label("What is rung").select_option("Rounds")
    page.get_by_label("Bells", exact=True).fill("6")
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("link", name="Listen for pull-offs").click()
    return page.url


def without_lost_buffers(error_ms: np.ndarray) -> np.ndarray:
    """Errors without the steps that a browser out of breath puts between two blows.

    Its made-up microphone gives ten milliseconds at a time, and now and then one is lost or given late: what comes
    after is as right among itself as what came before. A step that is taken back at the next blow is a blow put wrong,
    and is left for the test, as is any step of another size.
    """
    steps_ms = np.diff(error_ms)
    buffers = np.where(np.abs(np.abs(steps_ms) - BUFFER_MS) < 1.0, np.sign(steps_ms), 0.0)
    put_wrong = np.flatnonzero(buffers[:-1] * buffers[1:] < 0)
    buffers[np.concatenate([put_wrong, put_wrong + 1])] = 0.0
    return error_ms - BUFFER_MS * np.concatenate([[0.0], np.cumsum(buffers)])


@pytest.mark.in_real_time
def test_six_pull_offs_are_told_with_nobody_touching_anything(
    captain: Page, running: Running, evening: Evening
) -> None:
    page = captain
    slug = begin_night(page, running).split("/")[4]
    slowness = Slowness()
    slowness.start()
    page.get_by_role("button", name="Listen", exact=True).click()
    begun = time.monotonic()
    expect(page.locator("#standing")).to_contain_text("Look to")

    late_s = []
    for number, true in enumerate(evening.truths, start=1):
        expect(page.locator("html[data-ringing]")).to_be_attached()
        assert page.get_by_role("heading", level=1).is_hidden()  # nothing is in sight while bells ring
        expect(page.get_by_role("heading", name=f"Pull-off {number} at")).to_be_visible()
        late_s.append(time.monotonic() - begun - float(true.times_s[-1]))

    expect(page.locator(".since").first).to_contain_text("5 is still late at handstroke")
    assert max(late_s) < TOLD_S * slowness.measured(), late_s
    store = Store.open(running.data, Settings(data=running.data, min_free_bytes=0))
    with store.read() as session:
        night = contest_by_slug(session, slug)
        assert night is not None
        stands = stands_of(session, night.id or 0)
        heard = [log_of_stand(stand) for stand in stands if stand.csv]
    store.close()
    assert len(heard) == len(evening.truths)
    for log, true in zip(heard, evening.truths, strict=True):
        assert log.bells.tolist() == true.bells.tolist()
        error_ms = without_lost_buffers(1000 * (log.times_s - true.times_s))
        error_ms -= np.median(error_ms)
        assert np.abs(error_ms).max() < 5.0
        assert np.median(np.abs(error_ms)) < 1.0

    # It is there when the page is opened again, and goes on listening.
    page.reload()
    expect(page.get_by_role("heading", name="Pull-off 6 at")).to_be_visible()
    expect(page.get_by_role("button", name="Stop listening")).to_be_visible()
    page.get_by_role("button", name="Stop listening").click()
    expect(page.locator("#standing")).to_contain_text("Not listening any more")


def test_a_lost_buffer_is_forgiven_and_a_blow_put_wrong_is_not() -> None:
    lost_twice = np.array([0.2, 0.1, 10.3, 10.0, 19.8, 20.1])
    one_blow_out = np.array([0.2, 0.1, 10.1, 0.0, 0.2])
    another_size = np.array([0.0, 0.1, 7.0, 7.2])

    assert np.abs(without_lost_buffers(lost_twice)).max() < 0.5
    assert without_lost_buffers(one_blow_out).tolist() == one_blow_out.tolist()
    assert without_lost_buffers(another_size).tolist() == another_size.tolist()


def test_a_refused_microphone_is_told_in_words(launch: Callable[..., Browser], running: Running) -> None:
    browser = launch("--deny-permission-prompts", "--use-fake-device-for-media-stream")
    context = browser.new_context()
    context.add_cookies([running.organiser])
    page = context.new_page()
    begin_night(page, running)

    page.get_by_role("button", name="Listen", exact=True).click()

    expect(page.locator("#standing")).to_contain_text("not allowed to use the microphone")
    expect(page.get_by_role("button", name="Listen", exact=True)).to_be_enabled()
    browser.close()


def test_a_microphone_taken_away_or_a_laptop_that_slept_is_told_and_listening_goes_on_by_itself(
    launch: Callable[..., Browser], running: Running
) -> None:
    """The page's own microphone is ended as the system ends it, and its clock is stopped as sleep stops it."""
    browser = launch("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")
    context = browser.new_context()
    context.add_cookies([running.organiser])
    page = context.new_page()
    begin_night(page, running)
    standing, track = page.locator("#standing"), "listening.stream.getAudioTracks()[0]"
    page.get_by_role("button", name="Listen", exact=True).click()
    expect(standing).to_contain_text("Look to")

    page.evaluate(f"() => {{ const track = {track}; track.stop(); track.dispatchEvent(new Event('ended')) }}")
    expect(standing).to_contain_text("The microphone was taken away. What was heard is kept.")
    expect(standing).to_contain_text("Look to")

    page.evaluate("() => { listening.context.resume = () => Promise.reject(); listening.context.suspend() }")
    expect(standing).to_contain_text("did the laptop sleep")
    page.evaluate("() => AudioContext.prototype.resume.call(listening.context)")
    expect(standing).to_contain_text("Look to")

    page.evaluate(f"() => {track}.dispatchEvent(new Event('ended'))")
    page.get_by_role("button", name="Stop listening").click()
    expect(standing).to_contain_text("Not listening any more")
    expect(page.get_by_role("button", name="Listen", exact=True)).to_be_enabled()
    browser.close()
