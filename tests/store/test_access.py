"""Personal links and sessions: shown once, used once, over in time, revoked at once."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from itertools import product

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from judging.errors import RuleError
from judging.store import (
    Access,
    Settings,
    Store,
    StoredAudit,
    StoredLink,
    StoredSession,
    create_contest,
    end_session,
    entry_by_key,
    exchange_link,
    find_access,
    has_organiser,
    judge_by_key,
    links_of,
    make_link,
    renew_session,
    revoke_link,
)
from judging.store.columns import utc_now
from judging.store.engine import DATABASE_NAME


@pytest.fixture
def judge_link(store: Store, contest_id: int) -> str:
    with store.write() as session:
        judge = judge_by_key(session, contest_id, "a")
        assert judge is not None
        return make_link(session, role="judge", who="organiser", contest_id=contest_id, judge_id=judge.id)


@pytest.fixture
def judge_session(store: Store, judge_link: str) -> str:
    with store.write() as session:
        return exchange_link(session, judge_link)[0]


def access_now(store: Store, token: str) -> Access | None:
    with store.read() as session:
        return find_access(session, token)


def test_a_judges_link_becomes_a_session_of_that_judge_and_no_other(
    store: Store, contest_id: int, judge_session: str
) -> None:
    access = access_now(store, judge_session)

    with store.read() as session:
        judge = judge_by_key(session, contest_id, "a")
    assert judge is not None
    assert access is not None
    assert (access.role, access.contest_id, access.judge_id, access.entry_id) == ("judge", contest_id, judge.id, None)
    assert access.who == "judge a"


def test_a_link_works_once(store: Store, judge_link: str, judge_session: str) -> None:
    with pytest.raises(RuleError, match="used already"), store.write() as session:
        exchange_link(session, judge_link)

    assert access_now(store, judge_session) is not None


def test_a_link_not_used_in_time_is_over(store: Store, judge_link: str) -> None:
    with store.write() as session:
        link = session.exec(select(StoredLink)).one()
        link.expires_at = utc_now()
        session.add(link)

    with pytest.raises(RuleError, match="not used in time"), store.write() as session:
        exchange_link(session, judge_link)


def test_an_unknown_token_is_nobody(store: Store) -> None:
    with pytest.raises(RuleError, match="not known"), store.write() as session:
        exchange_link(session, "x" * 43)
    assert access_now(store, "x" * 43) is None
    assert access_now(store, "\ud800") is None


def test_a_links_token_is_no_session_token_nor_the_other_way_round(
    store: Store, judge_link: str, judge_session: str
) -> None:
    assert access_now(store, judge_link) is None
    with pytest.raises(RuleError, match="not known"), store.write() as session:
        exchange_link(session, judge_session)


def test_withdrawing_a_link_ends_its_session_at_once(store: Store, judge_session: str) -> None:
    access = access_now(store, judge_session)
    assert access is not None
    with store.write() as session:
        revoke_link(session, access.link_id, who="organiser", reason="phone lost")
        revoke_link(session, access.link_id, who="organiser", reason="phone lost")

    assert access_now(store, judge_session) is None
    with store.read() as session:
        assert [entry.reason for entry in session.exec(select(StoredAudit)).all() if entry.reason] == ["phone lost"]


def test_a_withdrawn_link_cannot_be_used(store: Store, judge_link: str) -> None:
    with store.write() as session:
        revoke_link(session, session.exec(select(StoredLink)).one().id, who="organiser")

    with pytest.raises(RuleError, match="withdrawn"), store.write() as session:
        exchange_link(session, judge_link)


def test_an_ended_session_is_over(store: Store, judge_session: str) -> None:
    access = access_now(store, judge_session)
    assert access is not None
    with store.write() as session:
        end_session(session, access)

    assert access_now(store, judge_session) is None


@pytest.mark.parametrize(("after_s", "is_open"), [(59.0, True), (60.0, False)])
def test_a_session_unused_for_its_idle_time_is_over(
    store: Store, judge_session: str, after_s: float, *, is_open: bool
) -> None:
    limits = Settings(session_idle_minutes=1)
    with store.read() as session:
        seen = session.exec(select(StoredSession)).one().seen_at
        access = find_access(session, judge_session, settings=limits, now=seen + timedelta(seconds=after_s))

    assert (access is not None) is is_open


def test_a_session_in_use_is_renewed_now_and_then_but_ends_at_its_absolute_limit(
    store: Store, judge_session: str
) -> None:
    limits = Settings(session_idle_minutes=16, session_hours=1)
    with store.read() as session:
        begun = session.exec(select(StoredSession)).one().created_at
        fresh = find_access(session, judge_session, settings=limits, now=begun + timedelta(seconds=30))
        stale = find_access(session, judge_session, settings=limits, now=begun + timedelta(seconds=90))
    assert fresh is not None
    assert stale is not None
    assert (fresh.is_stale, stale.is_stale) == (False, True)
    with store.write() as session:
        renew_session(session, stale)
        stored = session.exec(select(StoredSession)).one()
        stored.seen_at = begun + timedelta(minutes=59)
        session.add(stored)

    with store.read() as session:
        assert find_access(session, judge_session, settings=limits, now=begun + timedelta(minutes=59.9)) is not None
        assert find_access(session, judge_session, settings=limits, now=begun + timedelta(minutes=60)) is None


def test_no_token_is_ever_written_to_the_disk(store: Store, judge_link: str, judge_session: str) -> None:
    with closing(sqlite3.connect(store.data / DATABASE_NAME)) as database:
        dump = "\n".join(database.iterdump())

    assert judge_link not in dump
    assert judge_session not in dump
    assert len({judge_link, judge_session}) == 2
    assert {len(judge_link), len(judge_session)} == {43}  # 256 bits, six to a character


def test_a_role_can_only_be_given_over_what_it_is_for(store: Store, contest_id: int) -> None:
    """The whole table of roles and targets, kept by the database itself."""
    with store.read() as session:
        judge, entry = judge_by_key(session, contest_id, "a"), entry_by_key(session, contest_id, "ash")
    assert judge is not None
    assert entry is not None
    targets = {
        "nothing": {},
        "contest": {"contest_id": contest_id},
        "judge": {"contest_id": contest_id, "judge_id": judge.id},
        "entry": {"contest_id": contest_id, "entry_id": entry.id},
        "judge without contest": {"judge_id": judge.id},
        "stranger": {"contest_id": contest_id, "judge_id": judge.id + 100},
    }
    roles = ("organiser", "judge", "shadow judge", "steward", "band", "bishop")

    def is_given(role: str, target: str) -> bool:
        try:
            with store.write() as session:
                make_link(session, role=role, who="organiser", **targets[target])
        except IntegrityError:
            return False
        return True

    assert {(role, target) for role, target in product(roles, targets) if is_given(role, target)} == {
        ("organiser", "nothing"),
        ("organiser", "contest"),
        ("judge", "judge"),
        ("shadow judge", "judge"),
        ("steward", "contest"),
        ("band", "entry"),
    }


def test_a_link_cannot_join_one_contest_to_another_ones_judge(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        other = create_contest(session, rules_text=texts["rules"], who="organiser")
        judge = judge_by_key(session, other.id, "a")
        assert judge is not None

    with pytest.raises(IntegrityError, match="FOREIGN KEY"), store.write() as session:
        make_link(session, role="judge", who="organiser", contest_id=contest_id, judge_id=judge.id)


def test_until_an_organiser_has_come_in_the_service_knows_to_print_a_link(store: Store) -> None:
    with store.write() as session:
        assert not has_organiser(session)
        token = make_link(session, role="organiser", who="service")
        assert not has_organiser(session)
        exchange_link(session, token)
        assert has_organiser(session)
        [link] = links_of(session, None)
        revoke_link(session, link.id, who="organiser")
        assert not has_organiser(session)
