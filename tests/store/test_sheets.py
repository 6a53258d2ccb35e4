"""Judges' sheets: the first version and every revision kept, at most one of each, whoever races."""

import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, rule, run_state_machine_as_test
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from judging.contest import Phase
from judging.errors import InputError, RuleError
from judging.marks.values import Sheet, Tap
from judging.store import (
    Settings,
    Store,
    StoredAudit,
    StoredContest,
    StoredJudge,
    StoredSheet,
    add_sheet,
    create_contest,
    load_day,
    set_phase,
    sheets_of,
    verify_chain,
)
from judging.store.sheet_tables import StoredTap

TAPS = (Tap(3, Decimal("0.5"), 4.25), Tap(None, Decimal(1), 9.0), Tap(7, Decimal("1.0"), None))


def sign(store: Store, contest_id: int, sheet: Sheet) -> StoredSheet:
    with store.write() as session:
        return add_sheet(session, contest_id, sheet, who=f"judge {sheet.judge}")


def kept(store: Store, contest_id: int) -> tuple[Sheet, ...]:
    with store.read() as session:
        return sheets_of(session, contest_id)


def test_a_sheet_comes_back_as_it_was_signed_with_every_tap(store: Store, contest_id: int) -> None:
    sheet = Sheet("a", "ash", Decimal("2.50"), TAPS, "Backstroke leads early.\nA steady pace!")

    sign(store, contest_id, replace(sheet, comment=" Backstroke leads early.\r\nA steady pace!\r\n"))

    [back] = kept(store, contest_id)
    assert back == sheet
    assert str(back.total) == "2.50"


def test_a_revision_keeps_the_first_version_and_says_why(store: Store, contest_id: int) -> None:
    first = Sheet("a", "ash", Decimal(4))
    sign(store, contest_id, first)

    sign(store, contest_id, Sheet("a", "ash", Decimal("3.5"), reason="  change 12 was a slip of the thumb "))

    assert kept(store, contest_id) == (
        first,
        Sheet("a", "ash", Decimal("3.5"), revision=2, reason="change 12 was a slip of the thumb"),
    )
    with store.read() as session:
        entries = [entry for entry in session.exec(select(StoredAudit)).all() if entry.what.startswith("sheet")]
    assert [(entry.what, entry.who, entry.reason) for entry in entries] == [
        ("sheet signed", "judge a", ""),
        ("sheet revised", "judge a", "change 12 was a slip of the thumb"),
    ]


def test_a_second_version_without_a_reason_is_refused(store: Store, contest_id: int) -> None:
    sign(store, contest_id, Sheet("a", "ash", Decimal(4)))

    with pytest.raises(
        RuleError, match=r"Judge A has signed a sheet for this band already \(4 in all\).*needs a reason"
    ):
        sign(store, contest_id, Sheet("a", "ash", Decimal(5), reason=" "))


@pytest.mark.parametrize("reason", ["", "a slip"])
def test_the_same_sheet_sent_twice_is_kept_once(store: Store, contest_id: int, reason: str) -> None:
    if reason:
        sign(store, contest_id, Sheet("a", "ash", Decimal(1)))
    sheet = Sheet("a", "ash", Decimal("2.5"), TAPS, reason=reason)

    first, second = sign(store, contest_id, sheet), sign(store, contest_id, sheet)

    assert first.id == second.id
    with store.read() as session:
        assert verify_chain(session).seq == len(session.exec(select(StoredAudit)).all())
        assert len(session.exec(select(StoredTap)).all()) == len(TAPS)


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (Sheet("c", "ash", Decimal(1)), "there is no judge c in this contest"),
        (Sheet("a", "dale", Decimal(1)), "there is no entry dale in this contest"),
        (Sheet("a", "ash", Decimal(-1)), "total -1 is not a number from 0"),
        (Sheet("a", "ash", Decimal("NaN")), "total NaN is not a number"),
        (Sheet("a", "ash", Decimal("Infinity")), "total Infinity is not a number"),
        (Sheet("a", "ash", Decimal("1e9")), "is a digit wrong"),
        (Sheet("a", "ash", Decimal("1.25")), "finer than the step declared, 0.5"),
        (Sheet("a", "ash", Decimal(1), (Tap(1, Decimal("sNaN")),)), "tap sNaN is not a number"),
        (Sheet("a", "ash", Decimal(1), (Tap(0, Decimal(1)),)), "tap at change 0"),
        (Sheet("a", "ash", Decimal(1), (Tap(1, Decimal(1), float("nan")),)), "tap at nan s"),
        (Sheet("a", "ash", Decimal(1), (Tap(1, Decimal(1), -1.0),)), "tap at -1.0 s"),
        (Sheet("a", "ash", Decimal(1), (Tap(1, Decimal(11)),)), "tap 11 is not a number from 0 to 10"),
        (Sheet("a", "ash", Decimal(1), (Tap(1, Decimal("0.25")),)), "tap 0.25 is finer than the step declared"),
        (Sheet("a", "ash", Decimal(1), comment="a\0b"), "a character that is no text"),
    ],
)
def test_what_no_judge_means_is_refused_in_words(store: Store, contest_id: int, sheet: Sheet, words: str) -> None:
    with pytest.raises(InputError, match=words):
        sign(store, contest_id, sheet)

    assert kept(store, contest_id) == ()


def test_after_final_no_sheet_is_taken(store: Store, contest_id: int) -> None:
    with store.write() as session:
        set_phase(session, session.get_one(StoredContest, contest_id), Phase.FINAL, who="organiser")

    with pytest.raises(RuleError, match="is final"):
        sign(store, contest_id, Sheet("a", "ash", Decimal(4)))


def test_a_shadow_judges_sheet_is_kept_but_does_not_count(store: Store, contest_id: int) -> None:
    with store.write() as session:
        session.add(StoredJudge(contest_id=contest_id, key="learner", position=2, name="Learner", shadow=True))
    sign(store, contest_id, Sheet("learner", "ash", Decimal(9)))

    with store.read() as session:
        day = load_day(session, contest_id)
        assert len(session.exec(select(StoredSheet)).all()) == 1
    assert day.sheets == ()
    assert [judge.id for judge in day.judges] == ["a", "b"]


@pytest.mark.parametrize("table", ["sheet", "tap"])
def test_the_database_refuses_to_change_a_signed_sheet(store: Store, contest_id: int, table: str) -> None:
    sign(store, contest_id, Sheet("a", "ash", Decimal(4), TAPS))
    column = {"sheet": "total", "tap": "faults"}[table]

    for statement in ("UPDATE {} SET {} = 0", "DELETE FROM {}"):
        with pytest.raises(IntegrityError, match="kept for good"), store.write() as session:
            session.connection().execute(text(statement.format(table, column)))


def test_a_sheet_cannot_join_one_contest_to_another_ones_judge(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        other = create_contest(session, rules_text=texts["rules"], who="organiser")
        judge = session.exec(select(StoredJudge).where(StoredJudge.contest_id == other.id)).first()
        assert judge is not None

    with pytest.raises(IntegrityError, match="FOREIGN KEY"), store.write() as session:
        session.add(StoredSheet(contest_id=contest_id, entry_id=1, judge_id=judge.id, total=Decimal(1)))


def test_of_two_processes_signing_the_same_sheet_at_once_one_signs_and_one_is_told(
    store: Store, contest_id: int
) -> None:
    script = Path(__file__).with_name("sign_when_told.py")
    racers = [
        subprocess.Popen(
            [sys.executable, str(script), str(store.data), str(contest_id), total],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for total in ("3", "4")
    ]
    with racers[0] as first, racers[1] as second:
        for racer in (first, second):
            assert racer.stdout is not None
            assert racer.stdout.readline() == "ready\n"
        for racer in (first, second):
            assert racer.stdin is not None
            racer.stdin.write("go\n")
            racer.stdin.flush()
        heard = sorted(racer.communicate(timeout=120)[0].strip() for racer in (first, second))

    assert heard[1] == "signed"
    assert "has signed a sheet for this band already" in heard[0]
    assert [sheet.revision for sheet in kept(store, contest_id)] == [1]


FIGURES = st.integers(0, 60).map(lambda halves: Decimal(halves) / 2)
TAP_LISTS = st.lists(
    st.builds(
        Tap,
        st.none() | st.integers(1, 10),
        st.sampled_from([Decimal("0.5"), Decimal(1)]),
        st.none() | st.integers(0, 100_000).map(lambda ms: ms / 1000),
    ),
    max_size=4,
).map(tuple)


class SheetsMachine(RuleBasedStateMachine):
    """Sheets signed, revised, sent twice and read again from a store that is now and then closed and opened."""

    texts: dict[str, str]

    def __init__(self) -> None:
        super().__init__()
        self.folder = TemporaryDirectory()
        self.store = self.open()
        with self.store.write() as session:
            self.contest_id = create_contest(
                session, rules_text=self.texts["rules"], entries_text=self.texts["entries"], who="organiser"
            ).id
        self.model: dict[tuple[str, str], list[Sheet]] = {}
        self.is_final = False

    def open(self) -> Store:
        return Store.open(Path(self.folder.name), Settings(min_free_bytes=0))

    signed = Bundle("signed")

    @rule(
        target=signed,
        judge=st.sampled_from("ab"),
        entry=st.sampled_from(["ash", "birch", "cedar"]),
        total=FIGURES,
        taps=TAP_LISTS,
        reason=st.sampled_from(["", " ", "a slip"]),
    )
    def sign(self, judge: str, entry: str, total: Decimal, taps: tuple[Tap, ...], reason: str) -> Sheet:
        sheet = Sheet(judge, entry, total, taps, reason=reason)
        self.attempt(sheet)
        return sheet

    @rule(sheet=signed)
    def send_again(self, sheet: Sheet) -> None:
        self.attempt(sheet)

    def attempt(self, sheet: Sheet) -> None:
        """Sign, and say what should come of it by a model of plain lists."""
        versions = self.model.setdefault((sheet.judge, sheet.entry), [])
        revision = len(versions) + 1
        again = versions and versions[-1] == Sheet(
            sheet.judge,
            sheet.entry,
            sheet.total,
            sheet.taps,
            revision=len(versions),
            reason=versions[-1].reason if len(versions) == 1 else sheet.reason.strip(),
        )
        allowed = again or (not self.is_final and (revision == 1 or bool(sheet.reason.strip())))
        if not allowed:
            with pytest.raises(RuleError):
                sign(self.store, self.contest_id, sheet)
            return
        sign(self.store, self.contest_id, sheet)
        if not again:
            reason = sheet.reason.strip()
            versions.append(Sheet(sheet.judge, sheet.entry, sheet.total, sheet.taps, revision=revision, reason=reason))

    @rule()
    def reopen(self) -> None:
        self.store.close()
        self.store = self.open()

    @rule()
    def make_final(self) -> None:
        with self.store.write() as session:
            set_phase(session, session.get_one(StoredContest, self.contest_id), Phase.FINAL, who="organiser")
        self.is_final = True

    @invariant()
    def the_store_holds_what_the_model_holds(self) -> None:
        expected = [version for key in sorted(self.model) for version in self.model[key]]
        assert list(kept(self.store, self.contest_id)) == expected

    @invariant()
    def the_chain_is_whole(self) -> None:
        with self.store.read() as session:
            verify_chain(session)

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()


def test_any_sequence_of_signing_and_revising_is_kept_as_a_list_of_versions(texts: dict[str, str]) -> None:
    SheetsMachine.texts = texts
    run_state_machine_as_test(SheetsMachine, settings=settings(max_examples=15, stateful_step_count=12, deadline=None))
