"""Thirty judges' pads at once, on the real service: how soon each touch is acknowledged, and whether any is lost.

Run by hand, on a machine with nothing else to do::

    python tests/bench/load_pads.py                     # undisturbed
    python tests/bench/load_pads.py --kills 4 --lossy   # the server killed, signal and answers lost

Locust plays the pads; ``evenblow serve`` is a process of its own. A pad touches at random moments, a second apart on
average, which is four times as often as a judge who hears sixty faults in four minutes, and like the page itself sends
what no answer has named. At the end the database must hold exactly what was touched.
"""

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import gevent
import httpx2
from locust import FastHttpUser, task
from locust.env import Environment
from sqlmodel import select

from judging.store import Settings, Store, StoredPadEvent, create_contest, judges_of, make_link, set_order, set_phase

#: Milliseconds in which 99 of 100 touches shall be acknowledged.
LIMIT_MS = 50.0

RULES = """
rules = 1
title = "Load"
[[section]]
name = "Six"
piece = "doubles"
[draw]
seed = "load"
"""
ENTRIES = '[[entry]]\nid = "weir"\nband = "Weir End"\npiece = "doubles"\n'
PIECE = 'piece = 1\nmethod = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 8\n'
PAD = "/contests/load/bands/band-1/pad"

tokens: list[str] = []
pads: list["Pad"] = []
is_lossy = False


class Pad(FastHttpUser):
    """A judge's pad: touches, sends, and sends again until each touch is named."""

    connection_timeout = 3.0
    network_timeout = 8.0

    def on_start(self) -> None:
        """Come in by a link."""
        self.chance = random.Random(len(pads))  # noqa: S311 moments of touches, not secrets
        self.device = f"pad{len(pads):04d}"
        self.events: list[dict[str, Any]] = []
        self.named: set[str] = set()
        self.waits_ms: list[float] = []
        self.offline_until_s = 0.0
        self.after = 0
        pads.append(self)
        self.client.post(f"/links/{tokens.pop()}", name="link", allow_redirects=False)
        while tokens:
            gevent.sleep(0.1)  # judges come in before the ringing begins
        gevent.sleep(self.wait_time())

    def wait_time(self) -> float:
        """Seconds to the next touch."""
        return min(self.chance.expovariate(1.0), 5.0)

    @task
    def touch(self) -> None:
        """Touch once, and send what is not acknowledged."""
        seq = len(self.events) + 1
        self.events.append(
            {
                "id": f"{self.device}{seq:06d}",
                "seq": seq,
                "kind": "tap",
                "at_ms": int(time.time() * 1000),
                "faults": self.chance.choice([0.5, 1]),
            }
        )
        if is_lossy and self.chance.random() < 0.05:
            self.offline_until_s = time.monotonic() + self.chance.uniform(1, 6)  # behind a thick wall
        if time.monotonic() >= self.offline_until_s:
            self.send()

    def send(self) -> None:
        """Send one batch; a lost answer is as good as none."""
        batch = [event for event in self.events if event["id"] not in self.named][:100]
        begun_s = time.perf_counter()
        with self.client.post(
            PAD,
            json={"device": self.device, "entry": 1, "after": self.after, "events": batch},
            headers={"accept": "application/json"},
            name="touches",
            catch_response=True,
        ) as answer:
            if answer.status_code == 200:
                self.waits_ms.append(1000 * (time.perf_counter() - begun_s))
                if not (is_lossy and self.chance.random() < 0.1):
                    told = answer.json()
                    self.named.update(told["kept"])
                    self.after = told["after"]
            answer.success()  # a server that is dead is part of the play


def make_contest(data: Path, judges: int) -> None:
    """Make a contest with so many judges, and a link for each."""
    rules = RULES + "".join(f'[[judge]]\nid = "j{number}"\nname = "Judge {number}"\n' for number in range(judges))
    with Store.open(data, Settings(data=data, min_free_bytes=0)) as store, store.write() as session:
        contest = create_contest(
            session, rules_text=rules, entries_text=ENTRIES, pieces={"doubles.toml": PIECE}, slug="load", who="bench"
        )
        set_order(session, contest, ["weir"], who="bench")
        set_phase(session, contest, "ringing", who="bench")
        tokens.extend(
            make_link(session, role="judge", who="bench", contest_id=contest.id, judge_id=judge.id)
            for judge in judges_of(session, contest.id)
        )


def serve(data: Path, port: int) -> "subprocess.Popen[bytes]":
    """Start the service, and wait until it answers."""
    command = [str(Path(sys.executable).with_name("evenblow")), "serve", "--data", str(data), "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    for _ in range(600):
        with suppress(httpx2.HTTPError):
            httpx2.get(f"http://127.0.0.1:{port}/")
            return process
        gevent.sleep(0.1)
    process.kill()
    sys.exit("the service did not start")


def main() -> int:
    global is_lossy  # noqa: PLW0603 locust makes the users itself
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pads", type=int, default=30)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--lossy", action="store_true")
    parser.add_argument("--port", type=int, default=8397)
    asked = parser.parse_args()
    is_lossy = asked.lossy
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        make_contest(data, asked.pads)
        process = serve(data, asked.port)
        environment = Environment(user_classes=[Pad], host=f"http://127.0.0.1:{asked.port}")
        runner = environment.create_local_runner()
        runner.start(asked.pads, spawn_rate=asked.pads)
        for _ in range(asked.kills):
            gevent.sleep(asked.seconds / (asked.kills + 1))
            process.send_signal(signal.SIGKILL)
            process.wait()
            gevent.sleep(1.0)
            process = serve(data, asked.port)
        gevent.sleep(asked.seconds / (asked.kills + 1))
        runner.stop()
        for pad in pads:
            while len(pad.named) < len(pad.events):
                pad.send()
        process.terminate()
        process.wait()
        return told(data)


def told(data: Path) -> int:
    """Say what was measured; 1 where something is lost, doubled or late."""
    done = {event["id"] for pad in pads for event in pad.events}
    with Store.open(data, Settings(data=data, min_free_bytes=0)) as store, store.read() as session:
        kept = [stored.event for stored in session.exec(select(StoredPadEvent)).all()]
    waits_ms = sorted(wait for pad in pads for wait in pad.waits_ms)
    p50, p99 = (waits_ms[int(len(waits_ms) * share)] for share in (0.5, 0.99))
    print(f"{len(pads)} pads, {len(done)} touches, {len(waits_ms)} messages answered")
    print(f"lost {len(done - set(kept))}, doubled {len(kept) - len(set(kept))}, never made {len(set(kept) - done)}")
    print(f"acknowledged after {p50:.1f} ms (median), {p99:.1f} ms (99 of 100), {waits_ms[-1]:.0f} ms (slowest)")
    is_right = set(kept) == done and len(kept) == len(done)
    print("nothing lost, nothing twice" if is_right else "WRONG", end="; ")
    print(f"p99 {'within' if p99 < LIMIT_MS else 'NOT within'} {LIMIT_MS:.0f} ms")
    return 0 if is_right and p99 < LIMIT_MS else 1


if __name__ == "__main__":
    sys.exit(main())
