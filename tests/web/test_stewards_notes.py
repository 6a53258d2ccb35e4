"""What the steward notes of a band's turn: practice and touch timed against what is allowed, and what happened."""

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from judging.contest import read_rules
from judging.store import StoredEntry, contest_by_slug, entry_by_key, order_of
from judging.web import day_page
from judging.web.entry_page import times_of

from .conftest import ADDRESS, RULES, SLUG, Service

BAND = f"{ADDRESS}/bands/band-1"
TEN = datetime(2026, 6, 13, 10, tzinfo=UTC)
TIMED = RULES.replace('piece = "bob"', 'piece = "bob"\npractice_minutes = 5\nminutes_allowed = 4.5', 1)


def first(service: Service) -> StoredEntry:
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        entry = entry_by_key(session, contest.id, order_of(contest)[0])
        assert entry is not None
        return entry


def test_practice_and_touch_are_timed_one_after_the_other_and_once(service: Service) -> None:
    service.set_phase("ringing")
    steward = service.visitor("steward")
    for turn in ("practises", "has practised", "begins", "begins", "has rung"):
        assert steward.post(f"{BAND}/turn", data={"turn": turn}).status_code == 303
    entry = first(service)
    times = [entry.practice_began_at, entry.practice_ended_at, entry.began_at, entry.ended_at]
    assert None not in times
    assert times == sorted(times)  # type: ignore[type-var]  # none is missing
    again = entry.began_at
    steward.post(f"{BAND}/turn", data={"turn": "begins"})
    assert first(service).began_at == again
    steward.post(f"{BAND}/turn", data={"turn": "has not begun"})
    assert first(service).practice_began_at is None


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (270, "rung 10:05 to 10:09, 4:30 of 4:30 allowed"),
        (275, "rung 10:05 to 10:09, 4:35 of 4:30 allowed, 0:05 over"),
    ],
)
def test_the_time_used_is_said_beside_what_is_allowed(seconds: int, said: str) -> None:
    entry = StoredEntry(
        key="weir",
        band="Weir",
        received=0,
        contest_id=1,
        practice_began_at=TEN,
        practice_ended_at=TEN + timedelta(minutes=4),
        began_at=TEN + timedelta(minutes=5),
        ended_at=TEN + timedelta(minutes=5, seconds=seconds),
    )
    rules = read_rules(TIMED, name="rules.toml")
    assert times_of(entry, rules) == f"practice 10:00 to 10:04, 4:00 of 5:00 allowed; {said}"


@pytest.fixture
def in_summer_time(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A tower in which clocks show an hour more than UTC."""
    monkeypatch.setenv("TZ", "Europe/London")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("in_summer_time")
def test_times_are_told_by_the_clock_on_the_wall(service: Service) -> None:
    service.set_phase("ringing")
    entry = first(service)
    with service.store.write() as session:
        kept = session.get_one(StoredEntry, entry.id)
        kept.began_at = TEN
        session.add(kept)

    assert "rings since 11:00" in service.visitor("steward").get(f"{ADDRESS}/ringing").text
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        assert day_page.bands_of(session, contest, None, {})[0].start == "11:00:00"  # its recording is cut by this


def test_what_happened_is_kept_for_the_organiser_and_no_judge_reads_it(service: Service) -> None:
    service.set_phase("ringing")
    steward = service.visitor("steward")
    happened = "The ringer of the third was substituted before the start."
    assert steward.post(f"{BAND}/report", data={"incidents": happened}).status_code == 303
    assert happened in steward.get(f"{BAND}/report").text
    assert happened in service.visitor("organiser").get(f"{ADDRESS}/desk").text
    assert happened not in service.visitor("judge", "ann").get(f"{ADDRESS}/judging").text
