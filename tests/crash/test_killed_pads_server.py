"""A server killed again and again while pads send: every touch that was named is there, and every touch there once."""

import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx2
import pytest
from sqlmodel import select

from judging.store import Settings, Store, StoredPadEvent, judge_by_key, make_link

SERVER = Path(__file__).with_name("serve_pads.py")


def serve(data: Path, port: int) -> "subprocess.Popen[bytes]":
    process = subprocess.Popen([sys.executable, str(SERVER), str(data), str(port)])
    until = time.monotonic() + 120
    while time.monotonic() < until:
        with suppress(httpx2.HTTPError):
            httpx2.get(f"http://127.0.0.1:{port}/")
            return process
        time.sleep(0.05)
    process.kill()
    pytest.fail("the server did not start")


@pytest.mark.slow
def test_nothing_named_is_lost_and_nothing_is_there_twice_when_the_server_is_killed(
    tmp_path: Path, steady_port: int
) -> None:
    data, port = tmp_path / "data", steady_port
    process = serve(data, port)
    settings = Settings(data=data, min_free_bytes=0)
    with Store.open(data, settings) as store, store.write() as session:
        judge = judge_by_key(session, 1, "ann")
        assert judge is not None
        token = make_link(session, role="judge", who="test", contest_id=1, judge_id=judge.id)
    instants = random.Random(1731)  # noqa: S311 when to kill, not a secret
    events: list[dict[str, Any]] = []
    named: set[str] = set()
    with httpx2.Client(base_url=f"http://127.0.0.1:{port}") as pad:
        assert pad.post(f"/links/{token}").status_code == 303
        for _ in range(5):
            kill_at = time.monotonic() + instants.uniform(0.1, 0.6)
            while process.poll() is None:
                seq = len(events) + 1
                events.append({"id": f"touch{seq:06d}", "seq": seq, "kind": "tap", "at_ms": seq, "faults": 0.5})
                if time.monotonic() > kill_at:
                    process.send_signal(signal.SIGKILL)
                send(pad, events, named)
            process = serve(data, port)
        while len(named) < len(events):
            send(pad, events, named)
    process.kill()
    process.wait()

    with Store.open(data, settings) as store, store.read() as session:
        kept = [stored.event for stored in session.exec(select(StoredPadEvent)).all()]
    assert len(kept) == len(set(kept))
    assert set(kept) == {event["id"] for event in events} == named
    assert len(events) > 10


def send(pad: httpx2.Client, events: list[dict[str, Any]], named: set[str]) -> None:
    """What a pad does: send what has not been named, and note what is."""
    batch = [event for event in events if event["id"] not in named][:100]
    with suppress(httpx2.HTTPError):
        answer = pad.post(
            "/contests/weir/bands/band-1/pad", json={"device": "phone", "entry": 1, "events": batch}, timeout=5
        )
        if answer.status_code == 200:
            named.update(answer.json()["kept"])
