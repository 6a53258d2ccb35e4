"""What keeps a contest honest in the store: protests, revisions, papers keyed twice, interests, the order changed."""

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from judging.contest import Entry
from judging.errors import InputError, RuleError
from judging.marks.values import Sheet, Tap
from judging.store import (
    Store,
    StoredAudit,
    StoredContest,
    StoredEntry,
    StoredJudge,
    StoredProtest,
    add_late_entry,
    add_protest,
    add_shadow_judge,
    add_sheet,
    answer_protest,
    change_entry,
    declare_interests,
    draw_order,
    entry_by_key,
    is_shown,
    judge_by_key,
    judges_of,
    key_in,
    keyings_of,
    load_day,
    open_keyings,
    open_revision,
    order_of,
    protests_of,
    publications_of,
    publish,
    set_conflicts,
    set_order,
    set_phase,
    sheets_by,
    sheets_of,
    swap_bands,
    verify_chain,
)

ASH = Sheet("a", "ash", Decimal("4.5"), (Tap(3, Decimal(4)), Tap(5, Decimal("0.5"))), "Well led.")


def contest_in(session: Session, contest_id: int) -> StoredContest:
    return session.get_one(StoredContest, contest_id)


def entry_in(session: Session, contest_id: int, key: str) -> StoredEntry:
    entry = entry_by_key(session, contest_id, key)
    assert entry is not None
    return entry


def judge_in(session: Session, contest_id: int, key: str) -> StoredJudge:
    judge = judge_by_key(session, contest_id, key)
    assert judge is not None
    return judge


def deeds(store: Store) -> list[str]:
    with store.read() as session:
        verify_chain(session)
        return list(session.exec(select(StoredAudit.what).order_by(StoredAudit.seq)).all())


def announce(store: Store, contest_id: int, *, minutes_ago: float = 0) -> None:
    """Put a contest into its protest window, with the provisional result published."""
    with store.write() as session:
        contest = contest_in(session, contest_id)
        set_phase(session, contest, "protest", who="organiser")
        publish(session, contest, {"sections": []}, phase="provisional", who="organiser")
        assert contest.phase_since is not None
        contest.phase_since -= timedelta(minutes=minutes_ago)
        session.add(contest)


class TestProtests:
    def test_a_protest_is_registered_and_answered_once(self, store: Store, contest_id: int) -> None:
        announce(store, contest_id)
        with store.write() as session:
            ash = entry_in(session, contest_id, "ash")
            kept = add_protest(session, contest_in(session, contest_id), about="The clock.", entry=ash, who="organiser")
            again = add_protest(
                session, contest_in(session, contest_id), about="The clock.", entry=ash, who="organiser"
            )
            assert again is kept
            answer_protest(
                session, kept, outcome="upheld", answered_by="Committee", answer="It stood.", who="organiser"
            )
            answer_protest(
                session, kept, outcome="upheld", answered_by="Committee", answer="It stood.", who="organiser"
            )
            with pytest.raises(RuleError, match="Protest 1 is answered already: upheld by Committee"):
                answer_protest(session, kept, outcome="dismissed", answered_by="B", answer="No.", who="organiser")
        with store.read() as session:
            [protest] = protests_of(session, contest_id)
        assert (protest.number, protest.revision, protest.outcome, protest.answer) == (1, 1, "upheld", "It stood.")
        assert deeds(store)[-2:] == ["protest handed in", "protest upheld"]

    def test_one_handed_in_after_the_window_is_refused_with_its_rule_and_one_before_its_end_is_taken(
        self, store: Store, contest_id: int
    ) -> None:
        announce(store, contest_id, minutes_ago=20)
        with store.write() as session:
            contest = contest_in(session, contest_id)
            with pytest.raises(RuleError, match="within 10 minutes of the provisional result"):
                add_protest(session, contest, about="Late.", handed_in_by="Captain", who="organiser")
            assert contest.phase_since is not None
            in_time = contest.phase_since + timedelta(minutes=9)
            add_protest(
                session, contest, about="In time.", handed_in_by="Captain", handed_in_at=in_time, who="organiser"
            )
        with store.read() as session:
            assert [protest.about for protest in protests_of(session, contest_id)] == ["In time."]

    @pytest.mark.parametrize(
        ("field", "given"),
        [
            ("about", {"about": " ", "handed_in_by": "Captain"}),
            ("handed_in_by", {"about": "The clock."}),
            ("about", {"about": "x" * 5001, "handed_in_by": "Captain"}),
        ],
    )
    def test_what_is_missing_is_said_beside_its_field(
        self, store: Store, contest_id: int, field: str, given: dict[str, str]
    ) -> None:
        announce(store, contest_id)
        with store.write() as session, pytest.raises(InputError) as refused:
            add_protest(session, contest_in(session, contest_id), who="organiser", **given)  # type: ignore[arg-type]
        assert refused.value.where == field
        with store.read() as session:
            assert session.exec(select(StoredProtest)).all() == []


class TestRevisions:
    def test_what_is_shown_is_not_changed_until_a_revision_is_opened_and_the_first_stays_readable(
        self, store: Store, contest_id: int
    ) -> None:
        announce(store, contest_id)
        with store.write() as session:
            contest, ash = contest_in(session, contest_id), entry_in(session, contest_id, "ash")
            assert is_shown(session, contest)
            with pytest.raises(RuleError, match="correct it as revision 2"):
                change_entry(session, ash, who="organiser", borrowed=1)
            with pytest.raises(RuleError, match="correct it as revision 2"):
                add_sheet(session, contest_id, ASH, who="judge a")
            with pytest.raises(InputError, match="only with a reason"):
                open_revision(session, contest, who="organiser", reason=" ")
            open_revision(session, contest, who="organiser", reason="Protest 1 upheld.")
            set_phase(session, contest, "provisional", who="organiser", reason="Protest 1 upheld.")
            change_entry(session, ash, who="organiser", borrowed=1)
            publish(
                session, contest, {"sections": [1]}, phase="provisional", who="organiser", reason="Protest 1 upheld."
            )
            with pytest.raises(RuleError, match="revision 2 is published already"):
                publish(session, contest, {"sections": [2]}, phase="provisional", who="organiser", reason="x")
        with store.read() as session:
            first, second = publications_of(session, contest_id)
        assert (json.loads(first.result_json), first.reason) == ({"sections": []}, "")
        assert (json.loads(second.result_json), second.reason) == ({"sections": [1]}, "Protest 1 upheld.")
        assert json.loads(first.bands_json)["ash"] == "St Ash"


class TestPapersKeyedIn:
    def test_one_person_alone_never_makes_a_sheet(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            for _ in range(3):
                assert key_in(session, contest_id, ASH, who="organiser, link 1").signed is None
        with store.read() as session:
            assert sheets_of(session, contest_id) == ()
            assert open_keyings(session, contest_id) == {("a", "ash"): 1}

    def test_two_who_agree_sign_it_together(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            key_in(session, contest_id, ASH, who="organiser, link 1")
            silent = Sheet("a", "ash", ASH.total, ASH.taps)  # a comment is read over and not keyed twice
            signed = key_in(session, contest_id, silent, who="organiser, link 2").signed
            assert signed is not None
            assert key_in(session, contest_id, silent, who="organiser, link 2").signed is signed  # sent twice
        with store.read() as session:
            [sheet] = sheets_of(session, contest_id)
            assert (sheet.total, sheet.taps, sheet.comment) == (ASH.total, ASH.taps, ASH.comment)
            assert open_keyings(session, contest_id) == {}
            last = session.exec(select(StoredAudit).order_by(StoredAudit.seq.desc())).first()  # type: ignore[attr-defined]
            assert last is not None
            assert (last.what, last.who) == (
                "sheet signed",
                "organiser, link 1 and organiser, link 2, from the paper of a",
            )

    def test_two_who_differ_sign_nothing_until_one_has_looked_again(self, store: Store, contest_id: int) -> None:
        wrong = Sheet("a", "ash", Decimal("5.5"), ASH.taps, ASH.comment)
        with store.write() as session:
            key_in(session, contest_id, wrong, who="organiser, link 1")
            answer = key_in(session, contest_id, ASH, who="organiser, link 2")
            assert answer.signed is None
            assert [(keying.who, keying.sheet.total) for keying in answer.others] == [
                ("organiser, link 1", Decimal("5.5"))
            ]
        with store.write() as session:
            assert key_in(session, contest_id, ASH, who="organiser, link 1").signed is not None

    def test_a_signed_sheet_is_revised_from_paper_with_a_reason_by_two_again(
        self, store: Store, contest_id: int
    ) -> None:
        better = Sheet("a", "ash", Decimal(4), reason="added up wrongly")
        with store.write() as session:
            add_sheet(session, contest_id, ASH, who="judge a")
            with pytest.raises(RuleError, match="needs a reason"):
                key_in(session, contest_id, Sheet("a", "ash", Decimal(4)), who="organiser, link 1")
            key_in(session, contest_id, better, who="organiser, link 1")
            signed = key_in(session, contest_id, better, who="organiser, link 2").signed
            assert signed is not None
            assert (signed.revision, signed.total) == (2, Decimal(4))
            judge, entry = judge_in(session, contest_id, "a"), entry_in(session, contest_id, "ash")
            assert keyings_of(session, judge, entry) == ()


class TestPeople:
    def test_a_shadow_judges_sheets_are_kept_and_do_not_count(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            shadow = add_shadow_judge(session, contest_in(session, contest_id), "Learner", who="organiser")
            add_sheet(session, contest_id, Sheet(shadow.key, "ash", Decimal(9)), who="shadow judge")
            with pytest.raises(InputError, match="judges already"):
                add_shadow_judge(session, contest_in(session, contest_id), "judge a", who="organiser")
        with store.read() as session:
            shadow = judge_in(session, contest_id, "shadow-learner")
            assert [sheet.total for sheet in sheets_by(session, shadow)] == [Decimal(9)]
            assert sheets_of(session, contest_id) == ()
            day = load_day(session, contest_id)
            assert [judge.id for judge in day.judges] == ["a", "b"]
            assert len(judges_of(session, contest_id)) == 3

    def test_a_judges_interests_and_what_they_mean_are_kept_apart(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            declare_interests(session, judge_in(session, contest_id, "a"), "I ring at Ash.", who="judge a")
            set_conflicts(session, entry_in(session, contest_id, "ash"), ["a"], who="organiser", reason="own tower")
            with pytest.raises(InputError, match="is no judge of this contest"):
                set_conflicts(session, entry_in(session, contest_id, "ash"), ["zoe"], who="organiser")
        with store.read() as session:
            assert load_day(session, contest_id).entries[0].conflicts == ("a",)
            assert judge_in(session, contest_id, "a").declared_at is not None
        assert deeds(store)[-2:] == ["interests declared", "entry changed"]


class TestOrder:
    @pytest.fixture(autouse=True)
    def drawn(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            contest = contest_in(session, contest_id)
            set_order(session, contest, draw_order(session, contest_id), who="organiser")
            set_phase(session, contest, "drawn", who="organiser")

    def test_two_bands_change_places_with_a_reason(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            contest = contest_in(session, contest_id)
            before = order_of(contest)
            with pytest.raises(InputError, match="say why"):
                swap_bands(session, contest, before[0], before[2], who="organiser", reason="")
            swap_bands(session, contest, before[0], before[2], who="organiser", reason="both agree")
            assert order_of(contest) == (before[2], before[1], before[0])

    def test_a_band_that_has_begun_keeps_its_place(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            contest = contest_in(session, contest_id)
            first, second, _ = order_of(contest)
            change_entry(session, entry_in(session, contest_id, first), who="steward", began_at=contest.phase_since)
            with pytest.raises(RuleError, match="has begun to ring"):
                swap_bands(session, contest, first, second, who="organiser", reason="both agree")

    def test_a_late_band_rings_after_the_others_and_numbers_stay(self, store: Store, contest_id: int) -> None:
        late = Entry("dogwood", "Dogwood", section="Method", late=True)
        with store.write() as session:
            contest = contest_in(session, contest_id)
            before = order_of(contest)
            add_late_entry(session, contest, late, who="organiser")
            assert order_of(contest) == (*before, "dogwood")

    def test_rules_that_allow_neither_are_kept(self, store: Store, contest_id: int) -> None:
        with store.write() as session:
            contest = contest_in(session, contest_id)
            contest.rules_text += 'late = "refused"\nswaps = "not allowed"\n'  # [draw] stands last
            first, second, _ = order_of(contest)
            with pytest.raises(RuleError, match="do not change places"):
                swap_bands(session, contest, first, second, who="organiser", reason="both agree")
            with pytest.raises(RuleError, match="after the draw does not ring"):
                add_late_entry(session, contest, Entry("elm", "Elm", section="Method", late=True), who="organiser")
