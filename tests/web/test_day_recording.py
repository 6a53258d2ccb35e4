"""One recording of the whole day in the service: cut by the steward's times, moved, heard, and erased."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from judging.jobs.kinds import KINDS
from judging.jobs.task_frame import run_task
from judging.piece import Piece
from judging.sounding import Character, human_log, ring, ring_of_bells
from judging.store import (
    StoredEntry,
    StoredJob,
    change_entry,
    contest_by_slug,
    day_recording_of,
    entries_of,
    order_of,
    recordings_of,
    set_consent,
)
from judging.store.tables import StoredContest

from .conftest import ADDRESS, SLUG, Service

#: The ear reads sound from 8 kHz on; small enough for the test's service.
RATE = 11_025
WAITS_S = (20.0, 35.0, 50.0)
TEN = datetime(2026, 6, 13, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, list[tuple[float, float]]]:
    """Three touches of rounds with quiet between, and when each begins and ends."""
    rng = np.random.default_rng(1)
    parts, spans, now = [], [], 0.0
    for number, wait_s in enumerate(WAITS_S):
        rounds = Piece("rounds", np.tile(np.arange(1, 7, dtype=np.int8), (14 + 4 * number, 1)), opening=0)
        touch = human_log(rounds, Character(spread_ms=30), peal_minutes=170, handstroke_gap=1.0, seed=number)
        sound, log = ring(touch.log, ring_of_bells(6, seed=3), seed=number, rate=RATE)
        parts += [1e-3 * rng.standard_normal(int(wait_s * RATE)), sound]
        spans.append((now + wait_s + float(log.times_s[0]), now + wait_s + float(log.times_s[-1])))
        now += wait_s + len(sound) / RATE
    path = tmp_path_factory.mktemp("day") / "day.flac"
    soundfile.write(path, np.concatenate(parts), RATE, subtype="PCM_16")
    return path.read_bytes(), spans


@pytest.fixture
def organiser(service: Service, day: tuple[bytes, list[tuple[float, float]]]) -> TestClient:
    """Come in as the organiser, with the day sent and the steward's times noted by a clock of their own."""
    service.set_phase("ringing")
    with service.store.write() as session:
        contest = here(session)
        entries = {entry.key: entry for entry in entries_of(session, contest.id)}
        for key, (begin_s, end_s) in zip(order_of(contest), day[1], strict=True):
            began, ended = TEN + timedelta(seconds=begin_s), TEN + timedelta(seconds=end_s)
            change_entry(session, entries[key], who="test", began_at=began, ended_at=ended)
            set_consent(session, entries[key], "given", who="test")
    client = service.visitor("organiser")
    assert client.post(f"{ADDRESS}/day", files={"recording": ("day.flac", day[0])}).status_code == 303
    return client


def here(session: Session) -> StoredContest:
    contest = contest_by_slug(session, SLUG)
    assert contest is not None
    return contest


@pytest.fixture
def work(service: Service) -> Callable[[], list[str]]:
    """Do the jobs that cut a day, as the runner does, in this process; returns their kinds."""

    def run() -> list[str]:
        done = []
        with service.store.read() as session:
            waiting = session.exec(select(StoredJob).where(StoredJob.state == "queued")).all()
        for job in waiting:
            if job.kind not in {"find cuts", "cut"}:
                continue
            kind = KINDS[job.kind]
            with service.store.read() as session:
                call = kind.call(session, service.store, job)
            result = run_task(kind.task, call)
            with service.store.write() as session:
                mine = session.get_one(StoredJob, job.id)
                kind.keep(session, mine, result)
                mine.state = "done"
                session.add(mine)
            done.append(job.kind)
        return done

    return run


def entries_in_order(service: Service) -> list[StoredEntry]:
    with service.store.read() as session:
        contest = here(session)
        entries = {entry.key: entry for entry in entries_of(session, contest.id)}
        return [entries[key] for key in order_of(contest)]


def cut_lengths(service: Service) -> list[float | None]:
    """How long the part of each band is, None where it has none."""
    lengths: list[float | None] = []
    for entry in entries_in_order(service):
        with service.store.read() as session:
            parts = [r for r in recordings_of(session, entry.id) if r.name == "cut from day.flac"]
        path = service.store.recordings.path(parts[0].sha256) if parts else None
        lengths.append(soundfile.info(path).duration if path else None)
    return lengths


def test_a_day_is_cut_by_the_stewards_times_and_then_erased(
    organiser: TestClient, service: Service, work: Callable[[], list[str]], day: tuple[bytes, list[tuple[float, float]]]
) -> None:
    assert organiser.post(f"{ADDRESS}/day/find", data={}).status_code == 303
    assert work() == ["find cuts"]
    page = organiser.get(f"{ADDRESS}/day").text
    assert page.count('class="drawing day"') == 1
    found = dict(re.findall(r'name="((?:begin|end)-\d)" value="([^"]*)"', page))
    assert organiser.post(f"{ADDRESS}/day/cut", data=found).status_code == 303
    assert work() == ["cut"]
    for length, (begin_s, end_s) in zip(cut_lengths(service), day[1], strict=True):
        assert length == pytest.approx(end_s - begin_s + 8, abs=3)
    with service.store.read() as session:
        assert day_recording_of(session, here(session).id) is None
    assert "One recording of the whole day" in organiser.get(f"{ADDRESS}/day").text


def test_a_cut_can_be_moved_and_a_band_that_has_not_agreed_is_left_out(
    organiser: TestClient, service: Service, work: Callable[[], list[str]]
) -> None:
    organiser.post(f"{ADDRESS}/day/find", data={})
    work()
    with service.store.write() as session:
        entry = session.get_one(StoredEntry, entries_in_order(service)[1].id)
        set_consent(session, entry, "refused", who="test")
    assert "it has not agreed to be recorded" in organiser.get(f"{ADDRESS}/day").text
    moved = {"begin-1": "00:00:30", "end-1": "00:00:42", "begin-2": "00:01:00", "end-2": "00:01:30"}
    organiser.post(f"{ADDRESS}/day/cut", data=moved)
    work()
    lengths = cut_lengths(service)
    assert lengths[0] == pytest.approx(12)
    assert lengths[1] is None


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        ({"start-1": "soon"}, "is no time such as 14:03:20"),
        ({"start-1": "11:00:00", "stop-1": "10:59:00"}, "Is not after the start, 11:00:00"),
        ({"began": "early"}, "is no time such as 14:03:20"),
    ],
)
def test_a_time_that_is_none_is_refused_beside_its_field_and_kept(
    organiser: TestClient, sent: dict[str, str], told: str
) -> None:
    answer = organiser.post(f"{ADDRESS}/day/find", data=sent)
    assert answer.status_code == 422
    assert told in answer.text
    assert f'value="{next(iter(sent.values()))}"' in answer.text


def test_what_is_no_recording_is_refused_and_nothing_is_kept(service: Service) -> None:
    client = service.visitor("organiser")
    service.set_phase("ringing")
    answer = client.post(f"{ADDRESS}/day", files={"recording": ("day.csv", b"entry,start,stop\n")})
    assert answer.status_code == 422
    assert "Does not begin like any recording" in answer.text
    with service.store.read() as session:
        assert day_recording_of(session, here(session).id) is None


def test_the_days_recording_is_never_swept_while_it_is_wanted(organiser: TestClient, service: Service) -> None:
    del organiser
    with service.store.read() as session:
        kept = day_recording_of(session, here(session).id)
        assert kept is not None
    service.store.sweep(older_than_s=0)
    assert isinstance(service.store.recordings.path(kept.sha256), Path)
