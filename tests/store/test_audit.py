"""The audit chain: gap-free, append-only, and broken by any change."""

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import col, select

from judging.errors import InputError
from judging.store import Head, Settings, Store, StoredAudit, audit, head, verify_chain
from judging.store.audit import BEGINNING
from judging.store.engine import DATABASE_NAME

#: Lone surrogates are no text: they cannot be written as UTF-8 at all.
WRITABLE = st.characters(exclude_categories=["Cs"])

FIELDS = ("at", "who", "what", "contest", "about", "before", "after", "reason")


def write_some(store: Store, count: int = 5) -> None:
    for number in range(count):
        with store.write() as session:
            audit(session, who="judge a", what="sheet signed", about=f"entry {number}", after={"total": number})


def tamper(path: Path, statement: str) -> None:
    """Change the file behind the service's back, triggers taken away first."""
    with closing(sqlite3.connect(path)) as database, database:
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f"DROP TRIGGER {name}")
        database.execute(statement)


def oracle_hash(entry: StoredAudit) -> str:
    """Say again, slowly, what the module's docstring promises."""
    parts = [b"evenblow audit chain 1\n", bytes.fromhex(entry.prev_hash)]
    for value in (entry.seq, *(getattr(entry, name) for name in FIELDS)):
        encoded = str(value).encode("utf-8")
        parts += [len(encoded).to_bytes(8, "big"), encoded]
    return hashlib.sha256(b"".join(parts)).hexdigest()


def test_each_hash_covers_every_field_and_the_hash_before(store: Store) -> None:
    write_some(store)

    with store.read() as session:
        entries = session.exec(select(StoredAudit).order_by(col(StoredAudit.seq))).all()
        assert [entry.seq for entry in entries] == [1, 2, 3, 4, 5]
        assert [entry.prev_hash for entry in entries] == [BEGINNING, *(entry.hash for entry in entries[:-1])]
        assert [entry.hash for entry in entries] == [oracle_hash(entry) for entry in entries]
        assert verify_chain(session) == Head(5, entries[-1].hash)


def test_an_empty_chain_is_whole(store: Store) -> None:
    with store.read() as session:
        assert verify_chain(session) == Head(0, BEGINNING)


@given(
    first=st.lists(st.text(WRITABLE, max_size=12), min_size=5, max_size=5),
    cut=st.integers(0, 12),
)
@settings(max_examples=60)
def test_moving_text_from_one_field_to_the_next_changes_the_hash(first: list[str], cut: int) -> None:
    """Fields are length-prefixed, so two entries with the same text in all are still two."""
    joined = first[0] + first[1]
    moved = [joined[:cut], joined[cut:], *first[2:]]

    def hashed(values: list[str]) -> str:
        contest, about, before, after, reason = values
        return oracle_hash(
            StoredAudit(
                seq=1,
                at="2027-05-01T10:00:00.000000+00:00",
                who="organiser",
                what="x",
                contest=contest,
                about=about,
                before=before,
                after=after,
                reason=reason,
                prev_hash=BEGINNING,
                hash="",
            )
        )

    assert (hashed(moved) == hashed(first)) is (moved == first)


@given(who=st.text(WRITABLE, min_size=1), after=st.text(WRITABLE))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_any_text_comes_back_from_the_database_as_it_was_hashed(store: Store, who: str, after: str) -> None:
    """One growing chain is meant here: the property holds at every length."""
    with store.write() as session:
        audit(session, who=who, what="note", after=after)

    with store.read() as session:
        verify_chain(session)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE audit SET who = 'somebody else' WHERE seq = 2",
        "DELETE FROM audit WHERE seq = 5",
        "INSERT INTO audit SELECT seq + 9, at, who, what, '', '', '', '', '', hash, prev_hash FROM audit WHERE seq = 5",
        "REPLACE INTO audit SELECT seq, at, 'him', what, '', '', '', '', '', prev_hash, hash FROM audit WHERE seq = 5",
        "REPLACE INTO audit SELECT 6, at, who, what, '', '', '', '', '', prev_hash, hash FROM audit WHERE seq = 5",
    ],
    ids=["update", "delete", "gap", "replace", "fork"],
)
def test_the_database_refuses_to_change_the_chain(store: Store, statement: str) -> None:
    write_some(store)

    with pytest.raises(IntegrityError), store.write() as session:
        session.connection().execute(text(statement))

    with store.read() as session:
        assert verify_chain(session).seq == 5


@pytest.mark.parametrize("column", [*FIELDS, "hash", "prev_hash"])
def test_a_field_changed_in_the_file_is_found(store: Store, column: str) -> None:
    write_some(store)
    change = "UPDATE audit SET {} = hex(zeroblob(31)) || '01' WHERE seq = 3"  # as long as a hash must be
    tamper(store.data / DATABASE_NAME, change.format(column))

    with store.read() as session, pytest.raises(InputError, match=r"audit chain: entry [34] "):
        verify_chain(session)


def test_an_entry_taken_out_of_the_file_is_found(store: Store) -> None:
    write_some(store)
    tamper(store.data / DATABASE_NAME, "DELETE FROM audit WHERE seq = 3")

    with store.read() as session, pytest.raises(InputError, match="entry 3 is missing: after 2 comes 4"):
        verify_chain(session)


def test_a_chain_cut_short_is_only_found_by_a_printed_head(store: Store) -> None:
    write_some(store)
    with store.read() as session:
        printed = str(head(session))
    tamper(store.data / DATABASE_NAME, "DELETE FROM audit WHERE seq = 5")

    with store.read() as session:
        assert verify_chain(session).seq == 4
        with pytest.raises(InputError, match="does not have the hash printed"):
            verify_chain(session, Head.read(printed))


def test_an_older_printed_head_is_found_again_in_a_longer_chain(store: Store) -> None:
    write_some(store, 2)
    with store.read() as session:
        printed = head(session)
    write_some(store, 3)

    with store.read() as session:
        assert verify_chain(session, Head.read(str(printed))).seq == 5


@pytest.mark.parametrize("words", ["", "12", "12-", "x-" + "0" * 64, "3-" + "g" * 64, "3-" + "0" * 63, "٣-" + "0" * 64])
def test_a_head_that_was_not_copied_whole_is_refused_in_words(words: str) -> None:
    with pytest.raises(InputError, match="copied from the paper in full"):
        Head.read(words)


def test_two_writers_never_fork_the_chain(tmp_path: Path) -> None:
    """Each store has its own connections, as two servers on one file would."""
    limits = Settings(min_free_bytes=0)
    with Store.open(tmp_path, limits) as first, Store.open(tmp_path, limits) as second:
        for number in range(20):
            with (first if number % 2 else second).write() as session:
                audit(session, who="organiser", what="note", after=str(number))
        with first.read() as session:
            assert verify_chain(session).seq == 20
