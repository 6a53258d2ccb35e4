"""The worker of an evening of pull-offs: at hand before it is needed, begun with again, and never left behind."""

import multiprocessing
import queue
import time
from collections.abc import Callable

import numpy as np
import pytest

from judging.errors import RuleError
from judging.jobs import listening, listening_worker
from judging.jobs.listening import Listening, Listenings
from judging.jobs.listening_worker import Stream, listen_to_streams
from judging.jobs.pull_offs_live import PullOffsLive
from judging.store import Store

QUIET = (6 * np.random.default_rng(1).standard_normal(8_000)).astype("<i2").tobytes()


def wait_until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def is_heard(one: Listening) -> bool:
    one.take(one.next, QUIET)
    return one.standing.is_ready


@pytest.mark.slow
def test_a_worker_is_at_hand_is_begun_with_again_and_is_gone_at_the_end(store: Store) -> None:
    with Listenings(store) as listenings:
        listenings.make_ready(1)
        listenings.make_ready(2)
        (ready,) = multiprocessing.active_children()
        first = listenings.begin(1, "123456", 16_000)
        wait_until(lambda: is_heard(first))
        name = first.stream
        again = listenings.begin(1, "12345678", 16_000)

        assert multiprocessing.active_children() == [ready]
        assert listenings.of(1, name) is None
        assert not again.standing.is_ready
        wait_until(lambda: is_heard(again))
        assert listenings.of(1, again.stream) is again
        listenings.stop(1)
        assert multiprocessing.active_children() == []
        listenings.make_ready(2)
    assert multiprocessing.active_children() == []


def test_no_more_microphones_are_heard_than_the_machine_can(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening, "MOST_AT_ONCE", 1)
    with Listenings(store) as listenings:
        listenings.begin(1, "123456", 16_000)
        listenings.make_ready(2)
        assert len(multiprocessing.active_children()) == 1
        with pytest.raises(RuleError, match="listened to already"):
            listenings.begin(2, "123456", 16_000)
        listenings.begin(1, "123456", 16_000)


def test_a_worker_that_nobody_feeds_ends_and_a_page_that_waits_keeps_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening_worker, "IDLE_S", 0.2)
    blocks: queue.Queue[object] = queue.Queue()
    begun = time.monotonic()
    blocks.put(None)

    listen_to_streams(blocks, queue.Queue(), 1 << 33)

    assert 0.2 <= time.monotonic() - begun < 10


def test_an_ear_that_fails_on_one_stand_says_so_and_hears_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening_worker, "IDLE_S", 0.2)
    feed, failed = PullOffsLive.feed, []

    def fails_once(live: PullOffsLive, block: np.ndarray) -> object:
        if not failed:
            failed.append(True)
            raise ValueError("negative dimensions")
        return feed(live, block)

    monkeypatch.setattr(PullOffsLive, "feed", fails_once)
    blocks: queue.Queue[object] = queue.Queue()
    answers: queue.Queue[tuple[object, ...]] = queue.Queue()
    for one in (Stream("x", "123456", 16_000, 2, b""), (False, QUIET), (False, QUIET)):
        blocks.put(one)

    listen_to_streams(blocks, answers, 1 << 33)

    told = list(answers.queue)
    assert [one[0] for one in told] == ["standing", "told", "standing"]
    assert "The ear failed" in str(told[1][-1])
