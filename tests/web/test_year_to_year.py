"""Practice nights beside each other: what is told of them, and that what is erased is gone."""

import re
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from judging.piece import Piece
from judging.sounding import Character, human_log
from judging.store import StoredStrikeLog, add_strike_log, contest_by_slug, entries_of, recordings_of, strike_log_of
from judging.store.columns import utc_now
from judging.store.service_tables import StoredJob
from judging.striking import CountingRules, StrikeLog, write_log
from judging.striking.values import Count
from judging.web import nights_of_years

from .conftest import ROWS, SLUG, Service, rows_piece

WAV = b"RIFF\x24\x00\x00\x00WAVEfmt "


@pytest.fixture
def captain(service: Service) -> TestClient:
    return service.visitor("organiser", anywhere=True)


def night(service: Service, captain: TestClient, day: int, spreads_ms: list[float]) -> str:
    """A practice night of so many touches, as the ear would have heard them."""
    address = str(captain.post("/practice", data={"what": "Rows of my own", "rows": ROWS}).headers["location"])
    slug = address.split("/")[2]
    for number in range(len(spreads_ms)):
        recording = WAV + bytes([day, number]) * 500
        assert captain.post(address, files={"recording": ("t.wav", recording)}).status_code == 303
    with service.store.write() as session:
        contest = contest_by_slug(session, slug)
        assert contest is not None
        when = f"date = {date(2026, 1, 1) + timedelta(days=day)}"
        contest.rules_text = re.sub(r"(?m)^date = .*$", when, contest.rules_text)
        session.add(contest)
        for seed, (entry, spread) in enumerate(zip(entries_of(session, contest.id or 0), spreads_ms, strict=True)):
            touch = human_log(
                rows_piece(), Character(spread_ms=spread), seed=100 * day + seed, peal_minutes=165.0, handstroke_gap=1.0
            )
            recording_id = recordings_of(session, entry.id or 0)[0].id
            add_strike_log(
                session,
                entry,
                data=write_log(touch.log),
                name="log",
                origin="heard",
                who="ear",
                recording_id=recording_id,
            )
    return address


def test_touches_of_all_nights_stand_beside_each_other_and_the_trend_is_told(
    service: Service, captain: TestClient
) -> None:
    for number, spread in enumerate([60, 52, 45, 38, 33]):
        night(service, captain, 7 * number, [spread, spread])

    page = captain.get("/practice/year-to-year").text

    assert "On 6 bells" in page
    told = re.search(r"becomes closer, from (\d+) to (\d+) ms over 5 nights", page)
    assert told is not None
    assert int(told[1]) > 1.4 * int(told[2])
    assert 'class="drawing over-time-6"' in page
    links = re.findall(r'scope="row"><a href="([^"]+)">([^<]+)</a>', page)
    assert len(links) == 10
    assert captain.get(links[0][0]).status_code == 200
    assert links[0][1].startswith("29 January 2026")
    assert links[-1][1].startswith("1 January 2026")


def test_years_of_nights_are_counted_once_and_not_at_every_look(
    service: Service, captain: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = night(service, captain, 0, [40, 50])
    night(service, captain, 7, [45])
    counted: list[str] = []
    once = nights_of_years.count_striking

    def counting(log: StrikeLog, piece: Piece, rules: CountingRules) -> Count:
        counted.append(piece.title)
        return once(log, piece, rules)

    monkeypatch.setattr(nights_of_years, "count_striking", counting)
    first = captain.get("/practice/year-to-year").text
    assert len(counted) == 3
    assert captain.get("/practice/year-to-year").text == first
    assert len(counted) == 3

    captain.post(f"{address}/erase")
    assert len(re.findall(r'scope="row"><a href', captain.get("/practice/year-to-year").text)) == 1


def test_few_nights_are_told_to_be_too_few(service: Service, captain: TestClient) -> None:
    night(service, captain, 0, [60])
    night(service, captain, 7, [20])

    page = captain.get("/practice/year-to-year").text

    assert "2 nights: too few to tell" in page
    assert "becomes" not in page.split("How to read it")[0]


def test_nothing_was_heard_yet(captain: TestClient) -> None:
    assert "Nothing has been heard yet" in captain.get("/practice/year-to-year").text


def test_a_night_that_is_being_heard_is_not_erased_under_the_ear(service: Service, captain: TestClient) -> None:
    address = night(service, captain, 0, [40])
    with service.store.write() as session:
        job = session.exec(select(StoredJob).where(StoredJob.kind == "listen")).one()
        job.state, job.lease_until, job.worker = "running", utc_now(), "test"
        session.add(job)

    answer = captain.post(f"{address}/erase")

    assert answer.status_code == 409
    assert "being heard just now" in answer.text
    assert len(re.findall(r'scope="row"><a href', captain.get("/practice/year-to-year").text)) == 1


def test_a_night_that_is_erased_is_gone(service: Service, captain: TestClient) -> None:
    address = night(service, captain, 0, [40, 40])
    kept = night(service, captain, 7, [40])
    before = set(service.store.recordings.names())
    asked = captain.get(f"{address}/erase").text
    assert "Erase it for good" in asked
    assert set(service.store.recordings.names()) == before  # asking erases nothing

    assert captain.post(f"{address}/erase").headers["location"] == "/practice/year-to-year"

    page = captain.get("/practice/year-to-year").text
    assert len(re.findall(r'scope="row"><a href', page)) == 1
    assert f'href="{address}/erase"' not in page
    assert f'href="{kept}/erase"' in page
    assert len(before - set(service.store.recordings.names())) == 2
    with service.store.read() as session:
        slug = address.split("/")[2]
        contest = contest_by_slug(session, slug)
        assert contest is not None
        entries = [entry.id for entry in entries_of(session, contest.id or 0)]
        logs = session.exec(select(StoredStrikeLog)).all()
        assert not [log for log in logs if log.entry_id in entries]
        assert not [job for job in session.exec(select(StoredJob)).all() if job.entry_id in entries]
        assert not [kept for entry in entries for kept in recordings_of(session, entry or 0)]
    assert captain.get(address).status_code == 200
    assert captain.post(f"{address}/erase").status_code == 303  # twice does no harm


def test_the_strike_log_of_a_contest_stays_for_good(service: Service) -> None:
    service.set_phase("draft")
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        log = strike_log_of(session, entries_of(session, contest.id or 0)[0].id or 0)
    assert log is not None
    with pytest.raises(IntegrityError, match="kept for good"), service.store.write() as session:
        session.delete(log)
