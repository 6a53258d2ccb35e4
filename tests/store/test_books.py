"""A band's own book: only its link opens it, the trail does not tell whose it is, and what is erased is in no file."""

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from sqlmodel import select

from judging.errors import InputError, RuleError
from judging.store import (
    Settings,
    Store,
    StoredBook,
    backup,
    begin_book,
    book_held_open,
    close_book,
    erase_book,
    erase_touch,
    hold_open,
    keep_touches,
    new_link_of_book,
    open_book,
    read_kept,
    recount_book,
    touch_in,
    touches_in,
    verify_chain,
)
from judging.store.columns import utc_now
from judging.store.engine import DATABASE_NAME
from judging.store.service_tables import StoredAudit
from judging.striking.touch_figures import TouchFigures
from judging.striking.touches_file import KeptTouch, Strikes


def touch(day: int = 1, *, event: str = "Quarrywood contest", strikes: Strikes | None = None) -> KeptTouch:
    figures = TouchFigures("Plain course", 6, 60, Decimal("18.5"), 30.0 + day, 165.0, 0.9, (), "0.0.1")
    return KeptTouch(date(2026, 5, day), event, figures, strikes)


def begun(store: Store, *touches: KeptTouch) -> tuple[StoredBook, str]:
    with store.write() as session:
        book, token = begin_book(session, "  Our   ringing ")
        if touches:
            keep_touches(session, book, touches)
    return book, token


def files_hold(store: Store, words: str) -> bool:
    """Whether the database's files hold a text, in rows or in what is left of rows."""
    return any(words.encode() in path.read_bytes() for path in store.data.glob(f"{DATABASE_NAME}*"))


def test_only_its_link_opens_a_book_and_no_token_is_kept(store: Store) -> None:
    book, token = begun(store)
    assert book.name == "Our ringing"
    with store.write() as session:
        opened, held = open_book(session, token)
        assert opened.id == book.id
        opened_again, _ = open_book(session, token)  # a link for years works more than once
        assert opened_again.id == book.id
        for wrong in (token[:-1], "", "x" * 43, held):
            with pytest.raises(RuleError, match="No book here has this link"):
                open_book(session, wrong)
        found = book_held_open(session, held, settings=store.settings)
        assert found is not None
        assert book_held_open(session, token, settings=store.settings) is None
    assert not files_hold(store, token)
    assert not files_hold(store, held)


def test_a_session_is_over_when_closed_or_after_its_hours(store: Store) -> None:
    book, _ = begun(store)
    with store.write() as session:
        first, second = hold_open(session, book), hold_open(session, book)
        close_book(session, first)
        settings = Settings(data=store.data, session_hours=10)
        later = utc_now() + timedelta(hours=9)
        assert book_held_open(session, first, settings=settings) is None
        assert book_held_open(session, second, settings=settings, now=later) is not None
        assert book_held_open(session, second, settings=settings, now=later + timedelta(hours=2)) is None


def test_a_link_made_anew_ends_the_old_one_and_all_its_sessions(store: Store) -> None:
    book, old = begun(store, touch())
    with store.write() as session:
        held = hold_open(session, book)
        new = new_link_of_book(session, book)
    with store.write() as session:
        with pytest.raises(RuleError, match="made the link anew"):
            open_book(session, old)
        assert book_held_open(session, held) is None
        opened, _ = open_book(session, new)
        assert len(touches_in(session, opened)) == 1


def test_whoever_still_holds_the_book_as_it_was_changes_nothing_once_its_link_is_anew(store: Store) -> None:
    book, _ = begun(store, touch())
    with store.read() as session:
        stale = session.get_one(StoredBook, book.id)
    with store.write() as session:
        new_link_of_book(session, session.get_one(StoredBook, book.id))
    for change in (
        lambda session: keep_touches(session, stale, [touch(2)]),
        lambda session: erase_touch(session, stale, 1),
        lambda session: erase_book(session, stale),
    ):
        with pytest.raises(RuleError, match="erased meanwhile, or its link was made anew"), store.write() as session:
            change(session)


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\x00b"])
def test_a_book_has_a_name(store: Store, name: str) -> None:
    with pytest.raises(InputError, match="name"), store.write() as session:
        begin_book(session, name)


def test_the_same_touch_is_kept_once_and_its_strike_log_is_added_when_it_comes(store: Store) -> None:
    book, _ = begun(store, touch(1), touch(2))
    strikes = Strikes("bob.txt", "123456", "time_s,bell")
    with store.write() as session:
        assert keep_touches(session, book, [touch(2, event="Under another name"), touch(3)]) == 1
        assert keep_touches(session, book, [touch(1, strikes=strikes)]) == 0
        kept = touches_in(session, book)
        assert [(one.day.day, one.number) for one in kept] == [(3, 3), (2, 2), (1, 1)]
        assert read_kept(kept[2]).strikes == strikes
        keep_touches(session, book, [touch(1)])
        assert read_kept(touches_in(session, book)[2]).strikes == strikes  # never lost by keeping it again without


def test_a_full_book_takes_no_more_and_keeps_what_it_has(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("judging.store.books.MOST_KEPT", 2)
    book, _ = begun(store, touch(1), touch(2))
    with pytest.raises(RuleError, match="holds 2 touches, and this would make 3"), store.write() as session:
        keep_touches(session, book, [touch(3)])
    with store.read() as session:
        assert len(touches_in(session, book)) == 2


def test_a_recount_takes_the_place_of_older_figures_and_forgives_what_was_erased(store: Store) -> None:
    book, _ = begun(store, touch(1), touch(2))
    with store.write() as session:
        erase_touch(session, book, 2)
        recount_book(session, book, [(1, touch(1, event="Counted anew")), (2, touch(2))])
        (kept,) = touches_in(session, book)
    assert read_kept(kept).event == "Counted anew"


def test_a_touch_counted_again_is_still_known_when_it_comes_again(store: Store) -> None:
    book, _ = begun(store, touch(1), touch(2))
    anew = replace(touch(1), figures=replace(touch(1).figures, spread_ms=50.0, version="0.2.0"))
    with store.write() as session:
        recount_book(session, book, [(1, anew), (2, anew)])  # two that can no longer be told apart are both kept
        assert keep_touches(session, book, [anew]) == 0
        assert len(touches_in(session, book)) == 2


def test_one_touch_erased_is_in_no_file_any_more_and_the_others_stay(store: Store) -> None:
    book, _ = begun(store, touch(1, event="Zinnober meadow"), touch(2))
    assert files_hold(store, "Zinnober meadow")
    with store.write() as session:
        erase_touch(session, book, 1)
        erase_touch(session, book, 1)
        assert touch_in(session, book, 1) is None
        assert len(touches_in(session, book)) == 1
    store.settle()
    assert not files_hold(store, "Zinnober meadow")
    assert files_hold(store, "Quarrywood contest")


def test_a_book_erased_is_in_no_file_any_more(store: Store) -> None:
    with store.write() as session:
        book, token = begin_book(session, "Zinnober meadow ringers")
        held = hold_open(session, book)
        keep_touches(session, book, [touch(day, event=f"Vermilion {day}" + "x" * 150) for day in range(1, 29)])
    with store.write() as session:
        erase_book(session, session.get_one(StoredBook, book.id))
    store.settle()

    assert not files_hold(store, "Zinnober")
    assert not files_hold(store, "Vermilion")
    with store.write() as session:
        assert book_held_open(session, held) is None
        with pytest.raises(RuleError):
            open_book(session, token)
        verify_chain(session)


def test_the_trail_says_that_something_happened_and_neither_what_nor_whose(store: Store) -> None:
    book, _ = begun(store, touch(1))
    with store.write() as session:
        new_link_of_book(session, book)
        here = session.get_one(StoredBook, book.id)
        recount_book(session, here, [])
        erase_touch(session, here, 1)
        erase_book(session, here)
    with store.read() as session:
        trail = session.exec(select(StoredAudit)).all()
    assert [entry.what for entry in trail] == [
        "book begun",
        "touches kept in a book",
        "link of a book made anew",
        "a book counted again",
        "a touch erased from a book",
        "book erased",
    ]
    for entry in trail:
        assert re.fullmatch(r"book \d+", entry.about)
        assert (entry.who, entry.contest, entry.before, entry.after) == ("the holder of a book", "", "", "")


def test_a_backup_made_before_still_has_the_book(store: Store, tmp_path: Path) -> None:
    """What the page says of backups is so."""
    book, _ = begun(store, touch(1, event="Zinnober meadow"))
    backup(store.data, tmp_path / "before")
    with store.write() as session:
        erase_book(session, book)
    store.settle()
    backup(store.data, tmp_path / "after")

    assert b"Zinnober" in (tmp_path / "before" / DATABASE_NAME).read_bytes()
    assert b"Zinnober" not in (tmp_path / "after" / DATABASE_NAME).read_bytes()
