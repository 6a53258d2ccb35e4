"""An archive: the whole contest as plain texts, judged again by anyone with the same result."""

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import Entry, judge_contest, read_entries, read_sheets, result_document
from judging.marks.values import Sheet, Tap
from judging.store import (
    Store,
    StoredContest,
    StoredHearing,
    add_hearing,
    add_sheet,
    add_strike_log,
    archive,
    change_entry,
    create_contest,
    entry_by_key,
    head,
    import_folder,
    load_day,
    order_of,
    publish,
    set_order,
)
from judging.store.archive import sheets_text
from judging.store.entry_text import entries_text

#: Words as the store keeps them: no lone surrogates, no NUL, lines ended by a line feed, no blanks around.
WORDS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0\r"), max_size=20).map(str.strip)
LINE = WORDS.map(lambda words: " ".join(words.split())).filter(lambda words: words.isprintable())

ENTRIES = st.builds(
    Entry,
    id=st.sampled_from(["ash", "birch-2", "x"]),
    band=LINE.filter(bool),
    scratch=st.booleans(),
    borrowed=st.integers(0, 16),
    experienced=st.none() | st.integers(0, 16),
    withdrawn=LINE,
    wrong_method=LINE,
    over_time_s=st.integers(0, 100).map(float),
    also_in=st.lists(LINE.filter(bool), max_size=2, unique=True).map(tuple),
    late=st.booleans(),
    may_be_recorded=st.booleans(),
    remarks=LINE,
)

TAPS = st.builds(
    Tap,
    change=st.none() | st.integers(1, 300),
    faults=st.sampled_from([Decimal("0.5"), Decimal(1), Decimal("2.0")]),
    time_s=st.none() | st.integers(0, 86_400_000).map(lambda ms: ms / 1000),
)


@given(entry=ENTRIES)
@settings(max_examples=60)
def test_entries_read_back_as_they_were_written(entry: Entry) -> None:
    assert read_entries(entries_text([entry]), name="entries.toml") == (entry,)


@given(
    total=st.integers(0, 200).map(lambda halves: Decimal(halves) / 2),
    taps=st.lists(TAPS, max_size=4).map(tuple),
    comment=WORDS,
    reason=WORDS.filter(bool),
)
@settings(max_examples=60)
def test_sheets_read_back_as_they_were_written(
    total: Decimal, taps: tuple[Tap, ...], comment: str, reason: str
) -> None:
    sheets = (
        Sheet("a", "ash", total, taps, comment),
        Sheet("a", "ash", total + 1, (), comment, revision=2, reason=reason),
        Sheet("a", "birch", Decimal(0)),
    )

    assert read_sheets(sheets_text(sheets), name="a.csv", judge="a") == sheets


@pytest.fixture
def contest_id(store: Store, folder: Callable[[], Path]) -> int:
    """Id of a contest with sheets of both shapes, a revision, and two bands that have changed places."""
    number = import_folder(store, folder(), who="organiser")
    with store.write() as session:
        revised = Sheet("b", "cedar", Decimal(2), (Tap(4, Decimal(2), 9.5),), 'Fair,\n"even"', reason="missed one")
        add_sheet(session, number, revised, who="judge b")
        contest = session.get_one(StoredContest, number)
        first, *rest = order_of(contest)
        set_order(session, contest, (*rest, first), who="organiser", reason="agreed")
        day = load_day(session, number)
        publish(session, contest, result_document(judge_contest(day), day), phase="provisional", who="organiser")
    return number


@pytest.fixture
def unpacked(store: Store, contest_id: int, tmp_path: Path) -> Path:
    with store.read() as session:
        packed = archive(session, contest_id)
    with zipfile.ZipFile(io.BytesIO(packed)) as source:
        source.extractall(tmp_path / "unpacked")
    return tmp_path / "unpacked"


def test_an_archive_taken_in_again_is_the_same_day(store: Store, contest_id: int, unpacked: Path) -> None:
    again_id = import_folder(store, unpacked, who="organiser")
    with store.read() as session:
        day, again = load_day(session, contest_id), load_day(session, again_id)

    assert (again.rules, again.entries, again.judges, again.sheets, again.order) == (
        day.rules,
        day.entries,
        day.judges,
        day.sheets,
        day.order,
    )
    assert {key: log.times_s.tolist() for key, log in again.logs.items()} == {
        key: log.times_s.tolist() for key, log in day.logs.items()
    }


def test_the_result_made_again_from_an_archive_is_the_one_published(store: Store, unpacked: Path) -> None:
    again_id = import_folder(store, unpacked, who="organiser")
    with store.read() as session:
        day = load_day(session, again_id)

    now = json.loads(json.dumps(result_document(judge_contest(day), day)))
    assert now == json.loads((unpacked / "result.json").read_text())


def test_an_archive_is_the_same_bytes_twice_and_lists_all_it_holds(store: Store, contest_id: int) -> None:
    with store.read() as session:
        packed = archive(session, contest_id)
        assert packed == archive(session, contest_id)
        printed = str(head(session))
    with zipfile.ZipFile(io.BytesIO(packed)) as source:
        contents = {name: source.read(name) for name in source.namelist()}

    listed = json.loads(contents.pop("archive.json"))
    assert listed["files"] == {name: hashlib.sha256(content).hexdigest() for name, content in contents.items()}
    assert listed["audit_head"] == printed
    assert not any(name.startswith("recordings") for name in contents)


def test_the_trail_of_other_contests_is_not_in_it(store: Store, contest_id: int, texts: dict[str, str]) -> None:
    with store.write() as session:
        create_contest(session, rules_text=texts["rules"].replace("Spring", "Secret"), who="organiser")
        packed = archive(session, contest_id)

    assert b"Secret" not in b"".join(zipfile.ZipFile(io.BytesIO(packed)).read(name) for name in ("audit.jsonl",))


def test_a_band_withdrawn_after_it_rang_does_not_spoil_the_archive(
    store: Store, contest_id: int, tmp_path: Path
) -> None:
    with store.write() as session:
        entry = entry_by_key(session, contest_id, "ash")
        assert entry is not None
        change_entry(session, entry, who="organiser", reason="protest", withdrawn="a ringer in two bands")
        packed = archive(session, contest_id)
    zipfile.ZipFile(io.BytesIO(packed)).extractall(tmp_path / "again")

    again_id = import_folder(store, tmp_path / "again", who="organiser")

    with store.read() as session:
        assert {sheet.entry for sheet in load_day(session, again_id).sheets} == {"birch", "cedar"}
    with (tmp_path / "again" / "sheets" / "a.csv").open(newline="") as file:
        assert {line["entry"] for line in csv.DictReader(file)} == {"birch", "cedar"}


def test_an_archive_says_how_each_log_was_heard_and_a_recount_needs_none_of_it(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        entry = entry_by_key(session, contest_id, "ash")
        assert entry is not None
        heard = add_strike_log(session, entry, data=texts["log"], name="log", origin="heard", who="ear")
        said = "Heard with the voices kept at Ashby on 1 June 2026, learnt from 400 blows."
        hearing = StoredHearing(strike_log_id=heard.id, voices_sha256="a" * 64, said=said, clarity_json="[[1, 0.9, 2]]")
        add_hearing(session, hearing)
        add_strike_log(session, entry, data=texts["log"], name="log", origin="heard", who="ear", is_second=True)
    with store.read() as session:
        packed = zipfile.ZipFile(io.BytesIO(archive(session, contest_id)))

    told = json.loads(packed.read("heard.json"))["ash"]
    assert (told["voices_sha256"], told["said"], told["bells"]) == ("a" * 64, said, [[1, 0.9, 2]])
    assert packed.read("second/ash.csv") == packed.read("logs/ash.csv")
