"""Towers: voices kept, replaced and erased; a contest's fixed for every band, a practice night's always the newest."""

import hashlib
import json

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from judging.errors import InputError, RuleError
from judging.store import (
    Store,
    StoredAudit,
    StoredContest,
    StoredEntry,
    StoredHearing,
    StoredTower,
    StoredVoices,
    add_hearing,
    add_strike_log,
    change_tower,
    create_contest,
    entry_by_key,
    erase_tower,
    erase_voices,
    hearing_of,
    keep_voices,
    make_tower,
    places_at,
    publish,
    set_phase,
    set_place,
    strike_log_of,
    verify_chain,
    voices_at,
    voices_of_tower,
)
from judging.store.erasing import erase_night

NIGHT = (
    '# A practice night: nobody is ranked.\nrules = 1\ntitle = "Practice"\n[[section]]\nname = "P"\npiece = "piece"\n'
)


def tower_in(session: Session, bells: int = 4, name: str = "Wheatsheaf") -> StoredTower:
    return make_tower(session, name=name, bells=bells, recorder="on the sound floor", who="organiser")


def heard(
    session: Session, contest_id: int, key: str, log: str, *, learnt: bytes = b"voices of four", is_sure: bool = True
) -> StoredHearing:
    """What the ear keeps of a recording of an entry."""
    entry = entry_by_key(session, contest_id, key)
    assert entry is not None
    kept = add_strike_log(session, entry, data=log, name="log", origin="heard", who="ear", start_is_sure=is_sure)
    clarity = json.dumps([[bell, 0.9, 1 + bell % 4] for bell in range(1, 5)])
    hearing = StoredHearing(strike_log_id=kept.id, clarity_json=clarity, learnt=learnt if is_sure else b"", blows=40)
    add_hearing(session, hearing)
    return hearing


def voices_in(session: Session, contest_id: int, log: str, tower: StoredTower, learnt: bytes) -> StoredVoices:
    heard(session, contest_id, "ash", log, learnt=learnt)
    entry = entry_by_key(session, contest_id, "ash")
    assert entry is not None
    newest = strike_log_of(session, entry.id)
    assert newest is not None
    return keep_voices(session, tower, newest, learnt_from="Spring contest", who="organiser")


def contest_in(session: Session, contest_id: int) -> StoredContest:
    return session.get_one(StoredContest, contest_id)


def test_voices_are_kept_replaced_and_erased_and_the_trail_says_so(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower = tower_in(session)
        first = voices_in(session, contest_id, texts["log"], tower, b"first")
        assert (first.blows, first.sha256) == (40, hashlib.sha256(b"first").hexdigest())
        assert voices_in(session, contest_id, texts["log"], tower, b"first") is first

        second = voices_in(session, contest_id, texts["log"], tower, b"second")
        assert voices_of_tower(session, tower) == [second, first]

        erase_voices(session, second, who="organiser")
        assert second.data == b""
        assert voices_of_tower(session, tower) == [first]
    with store.read() as session:
        verify_chain(session)
        deeds = session.exec(select(StoredAudit.what).where(StoredAudit.about == f"tower {tower.id}")).all()
        assert list(deeds) == ["tower made", "voices kept", "voices kept", "voices erased"]


def test_nothing_is_kept_of_a_start_that_is_not_sure_or_of_other_bells(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower, other = tower_in(session), tower_in(session, bells=6, name="Ashby")
        heard(session, contest_id, "ash", texts["log"], is_sure=False)
        heard(session, contest_id, "birch", texts["log"])
        logs = {}
        for key in ("ash", "birch"):
            entry = entry_by_key(session, contest_id, key)
            assert entry is not None
            logs[key] = strike_log_of(session, entry.id)
        with pytest.raises(RuleError, match="its start is not sure"):
            keep_voices(session, tower, logs["ash"], learnt_from="", who="organiser")
        with pytest.raises(RuleError, match="of 4 bells, and Ashby is of 6"):
            keep_voices(session, other, logs["birch"], learnt_from="", who="organiser")


def test_a_contest_keeps_the_voices_it_was_given_and_a_practice_night_follows_the_newest(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower = tower_in(session)
        first = voices_in(session, contest_id, texts["log"], tower, b"first")
        contest = contest_in(session, contest_id)
        night = create_contest(session, rules_text=NIGHT, pieces={"piece.txt": texts["piece"]}, who="organiser")
        assert set_place(session, contest, 4, tower, who="organiser")
        assert set_place(session, night, 4, tower, follows_newest=True, who="organiser")

        second = voices_in(session, contest_id, texts["log"], tower, b"second")

        assert voices_at(session, contest, 4) == first
        assert voices_at(session, night, 4) == second
        assert not set_place(session, night, 4, tower, follows_newest=True, who="organiser")
        assert set_place(session, contest, 4, tower, who="organiser")  # said again, it takes what is there now
        assert voices_at(session, contest, 4) == second
        assert set_place(session, contest, 4, tower, with_voices=False, who="organiser")
        assert voices_at(session, contest, 4) is None
        assert [place.contest_id for place in places_at(session, tower)] == [night.id, contest.id]


def test_voices_that_a_contest_is_heard_with_are_not_erased_before_it_is_final(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower = tower_in(session)
        voices = voices_in(session, contest_id, texts["log"], tower, b"first")
        set_place(session, contest_in(session, contest_id), 4, tower, who="organiser")
        with pytest.raises(RuleError, match="the same for every band"):
            erase_voices(session, voices, who="organiser")

        set_phase(session, contest_in(session, contest_id), "final", who="organiser")
        erase_voices(session, voices, who="organiser")

        assert voices_at(session, contest_in(session, contest_id), 4) is None


def test_where_a_shown_result_was_rung_stays(store: Store, contest_id: int) -> None:
    with store.write() as session:
        tower, contest = tower_in(session), contest_in(session, contest_id)
        set_phase(session, contest, "provisional", who="organiser")
        publish(session, contest, {"sections": []}, phase="provisional", who="organiser")
        with pytest.raises(RuleError):
            set_place(session, contest, 4, tower, who="organiser")


def test_a_tower_of_other_bells_is_refused(store: Store, contest_id: int) -> None:
    with store.write() as session:
        tower = tower_in(session, bells=6)
        with pytest.raises(RuleError, match="Wheatsheaf is of 6 bells, and 4 are rung here"):
            set_place(session, contest_in(session, contest_id), 4, tower, who="organiser")


@pytest.mark.parametrize(
    ("name", "bells", "recorder", "field"),
    [
        (" ", 6, "there", "name"),
        ("x" * 81, 6, "there", "name"),
        ("A", 2, "there", "bells"),
        ("A", 17, "there", "bells"),
        ("A", 6, "", "recorder"),
        ("Wheatsheaf", 6, "on the  sound floor", "name"),
    ],
)
def test_a_tower_that_cannot_be_made_is_refused_beside_its_field(
    store: Store, name: str, bells: int, recorder: str, field: str
) -> None:
    with store.write() as session:
        tower_in(session)
        with pytest.raises(InputError) as refused:
            make_tower(session, name=name, bells=bells, recorder=recorder, who="organiser")
        assert refused.value.where == field


def test_another_place_of_the_recorder_is_another_tower_once_something_is_kept(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower = tower_in(session)
        change_tower(session, tower, name="Wheatsheaf", recorder="by the west window", who="organiser")
        voices_in(session, contest_id, texts["log"], tower, b"first")
        with pytest.raises(InputError, match="Make another tower"):
            change_tower(session, tower, name="Wheatsheaf", recorder="in the porch", who="organiser")
        session.refresh(tower)
        change_tower(session, tower, name="The Wheatsheaf", recorder="by the west window", who="organiser")
        assert tower.name == "The Wheatsheaf"


def test_a_tower_is_erased_with_its_voices_unless_something_is_rung_there(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        tower = tower_in(session)
        voices_in(session, contest_id, texts["log"], tower, b"first")
        contest = contest_in(session, contest_id)
        set_place(session, contest, 4, tower, who="organiser")
        with pytest.raises(RuleError, match="said to ring there"):
            erase_tower(session, tower, who="organiser")
        set_place(session, contest, 4, None, who="organiser")
        erase_tower(session, tower, who="organiser")
        assert session.exec(select(StoredVoices)).all() == []


def test_how_a_log_was_heard_is_kept_for_good_and_goes_only_with_a_practice_night(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        night = create_contest(
            session,
            rules_text=NIGHT,
            entries_text='[[entry]]\nid = "ash"\nband = "Touch 1"\n',
            pieces={"piece.txt": texts["piece"]},
            who="organiser",
        )
        tower = tower_in(session)
        of_night = voices_in(session, night.id, texts["log"], tower, b"of the night")
        of_contest = heard(session, contest_id, "birch", texts["log"])
    with store.write() as session:
        session.delete(session.get_one(StoredHearing, of_contest.strike_log_id))
        with pytest.raises(IntegrityError, match="kept for good"):
            session.flush()
        session.rollback()

    with store.write() as session:
        erase_night(session, contest_in(session, night.id), who="organiser")

    with store.read() as session:
        kept = session.exec(select(StoredHearing)).all()
        assert [hearing.strike_log_id for hearing in kept] == [of_contest.strike_log_id]
        assert session.get_one(StoredVoices, of_night.id).data == b"of the night"


def test_a_second_recorders_log_stands_beside_and_is_never_in_force(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    with store.write() as session:
        entry = entry_by_key(session, contest_id, "ash")
        assert isinstance(entry, StoredEntry)
        first = add_strike_log(session, entry, data=texts["log"], name="log", origin="heard", who="ear")
        second = add_strike_log(
            session, entry, data=texts["log"], name="log", origin="heard", who="ear", is_second=True
        )

        assert strike_log_of(session, entry.id) == first
        assert strike_log_of(session, entry.id, is_second=True) == second
        assert hearing_of(session, first) is None
