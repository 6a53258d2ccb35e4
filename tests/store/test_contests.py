"""Contests made from their texts and read back as one day."""

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from judging.contest import Entry, Phase, draw, read_entries, read_rules
from judging.errors import InputError, RuleError
from judging.store import (
    Kept,
    Store,
    StoredAudit,
    StoredPublication,
    add_entry,
    add_piece,
    add_recording,
    add_strike_log,
    as_entry,
    change_entry,
    contest_by_slug,
    contests,
    create_contest,
    draw_order,
    entries_of,
    entry_by_key,
    head,
    import_folder,
    judges_of,
    load_day,
    make_link,
    order_of,
    piece_of,
    publish,
    set_order,
    set_phase,
    set_rules,
    strike_log_of,
    verify_chain,
)
from judging.store.tables import StoredContest, StoredEntry


@pytest.fixture
def contest(store: Store, contest_id: int) -> StoredContest:
    with store.read() as session:
        return session.get_one(StoredContest, contest_id)


def entry_of(store: Store, contest_id: int, key: str) -> StoredEntry:
    with store.read() as session:
        entry = entry_by_key(session, contest_id, key)
    assert entry is not None
    return entry


def test_the_day_is_read_back_as_its_texts_declare_it(store: Store, contest_id: int, texts: dict[str, str]) -> None:
    rules = read_rules(texts["rules"], name="rules.toml")
    with store.read() as session:
        day = load_day(session, contest_id)

    assert day.rules == rules
    assert day.entries == read_entries(texts["entries"], name="entries.toml", rules=rules)
    assert [judge.id for judge in day.judges] == ["a", "b"]
    assert set(day.pieces) == {"hunt"}
    assert (day.logs, day.sheets) == ({}, ())


def test_every_field_of_an_entry_comes_back(store: Store, contest_id: int) -> None:
    entry = Entry(
        id="dale",
        band="Dale",
        section="Method",
        piece="hunt",
        scratch=True,
        borrowed=2,
        experienced=3,
        withdrawn="ill",
        disqualified="late",
        over_time_s=12.5,
        restarts=1,
        remarks="tenor cover",
        also_in=("Novice",),
        late=True,
        restart_changes=20,
        missing_rows=4,
        wrong_method="Grandsire rung",
        unfinished="rope broke",
        may_be_recorded=False,
        conflicts=("ann",),
        causes=("over time: by the tower clock",),
        number=None,
    )
    plain = Entry(id="elm", band="Elm")
    assert all(getattr(entry, name) != getattr(plain, name) for name in Entry.__dataclass_fields__ if name != "number")

    with store.write() as session:
        add_entry(session, contest_id, entry, who="organiser")
        add_entry(session, contest_id, plain, who="organiser")
    with store.read() as session:
        stored = entries_of(session, contest_id)[-2:]

        assert [as_entry(one) for one in stored] == [entry, plain]


def test_two_contests_of_one_title_get_two_addresses(store: Store, texts: dict[str, str]) -> None:
    with store.write() as session:
        slugs = [create_contest(session, rules_text=texts["rules"], who="organiser").slug for _ in range(3)]
        found = [contest_by_slug(session, slug) for slug in slugs]

        assert slugs == ["spring-six-bell-contest", "spring-six-bell-contest-2", "spring-six-bell-contest-3"]
        assert [one.slug for one in found if one] == slugs
        assert [one.slug for one in contests(session)] == slugs[::-1]


@pytest.mark.parametrize("slug", ["Spring", "a b", "../x", "x" * 65])
def test_an_address_that_is_no_identifier_is_refused(store: Store, texts: dict[str, str], slug: str) -> None:
    with pytest.raises(InputError, match="is no identifier"), store.write() as session:
        create_contest(session, rules_text=texts["rules"], who="organiser", slug=slug)


def test_a_contest_with_one_bad_text_is_not_made_at_all(store: Store, texts: dict[str, str]) -> None:
    with pytest.raises(InputError, match=r"entries\.toml"), store.write() as session:
        create_contest(session, rules_text=texts["rules"], entries_text="[[entry]]\nid = 'x'\n", who="organiser")

    with store.read() as session:
        assert contests(session) == []
        assert head(session).seq == 0


def test_an_identifier_is_given_to_one_entry_only(store: Store, contest_id: int) -> None:
    with pytest.raises(InputError, match="entry ash: is there already"), store.write() as session:
        add_entry(session, contest_id, Entry(id="ash", band="Another Ash"), who="organiser")


def test_a_change_of_an_entry_is_in_the_trail_with_before_and_after(store: Store, contest_id: int) -> None:
    entry = entry_of(store, contest_id, "ash")
    with store.write() as session:
        change_entry(session, session.get_one(StoredEntry, entry.id), who="steward", reason="report", borrowed=2)
    with store.read() as session:
        last = session.exec(select(StoredAudit)).all()[-1]

        assert (last.who, last.what, last.about) == ("steward", "entry changed", "entry ash")
        assert (last.before, last.after, last.reason) == ('{"borrowed": 0}', '{"borrowed": 2}', "report")
        assert last.contest == "spring-six-bell-contest"
        verify_chain(session)


def test_a_field_that_no_entry_has_is_refused(store: Store, contest_id: int) -> None:
    entry = entry_of(store, contest_id, "ash")
    with pytest.raises(InputError, match="has no field place"), store.write() as session:
        change_entry(session, entry, who="steward", place=1)


def test_a_final_contest_takes_no_more_changes(store: Store, contest: StoredContest) -> None:
    with store.write() as session:
        set_phase(session, session.get_one(StoredContest, contest.id), Phase.FINAL, who="organiser")
    entry = entry_of(store, contest.id, "ash")

    with pytest.raises(RuleError, match="is final"), store.write() as session:
        change_entry(session, entry, who="steward", borrowed=2)


def test_a_piece_is_replaced_in_draft_and_frozen_with_the_rules(
    store: Store, contest: StoredContest, texts: dict[str, str]
) -> None:
    with store.write() as session:
        add_piece(session, contest.id, file_name="hunt.txt", text=texts["piece"] * 1, who="organiser")
        set_phase(session, session.get_one(StoredContest, contest.id), Phase.PUBLISHED, who="organiser")

    with pytest.raises(RuleError, match="piece hunt cannot be changed"), store.write() as session:
        add_piece(session, contest.id, file_name="hunt.txt", text=texts["piece"], who="organiser")


def test_a_piece_that_cannot_be_read_is_not_kept(store: Store, contest_id: int) -> None:
    with pytest.raises(InputError, match=r"bad\.txt"), store.write() as session:
        add_piece(session, contest_id, file_name="bad.txt", text="1233\n", who="organiser")


def test_the_declared_seed_draws_the_order_and_numbers_the_bands(
    store: Store, contest: StoredContest, texts: dict[str, str]
) -> None:
    entries = read_entries(texts["entries"], name="entries.toml")
    expected = draw(entries, "wheatsheaf 1931")
    with store.write() as session:
        stored = session.get_one(StoredContest, contest.id)
        assert draw_order(session, contest.id) == expected
        assert [entry.number for entry in load_day(session, contest.id).entries] == [None, None, None]
        set_order(session, stored, expected, who="organiser")

        day = load_day(session, contest.id)

    assert day.order == expected
    assert {entry.id: entry.number for entry in day.entries} == {key: n for n, key in enumerate(expected, start=1)}


@pytest.mark.parametrize("order", [["ash", "birch"], ["ash", "birch", "cedar", "cedar"], ["ash", "birch", "dale"]])
def test_an_order_that_forgets_doubles_or_invents_an_entry_is_refused(
    store: Store, contest: StoredContest, order: list[str]
) -> None:
    with pytest.raises(InputError, match="each entry that rings once: ash, birch, cedar"), store.write() as session:
        set_order(session, session.get_one(StoredContest, contest.id), order, who="organiser")


def test_a_published_result_is_kept_word_for_word_and_never_changed(store: Store, contest: StoredContest) -> None:
    with store.write() as session:
        stored = session.get_one(StoredContest, contest.id)
        before = str(head(session))
        publish(session, stored, {"unit": "faults", "places": []}, phase="provisional", who="organiser")
    with store.read() as session:
        [kept] = session.exec(select(StoredPublication)).all()
    assert kept.result_json == '{"places": [], "unit": "faults"}'
    assert kept.audit_head == before

    for statement in ("UPDATE publication SET result_json = ''", "DELETE FROM publication"):
        with pytest.raises(IntegrityError, match="kept for good"), store.write() as session:
            session.connection().execute(text(statement))


def test_a_second_revision_needs_a_reason(store: Store, contest: StoredContest) -> None:
    def publish_second(reason: str) -> None:
        with store.write() as session:
            stored = session.get_one(StoredContest, contest.id)
            stored.revision = 2
            publish(session, stored, {}, phase="final", who="organiser", reason=reason)

    with pytest.raises(IntegrityError, match="revision_has_reason"):
        publish_second(" ")
    publish_second("a protest was upheld")


def test_the_newest_strike_log_is_in_force_and_the_older_is_kept(
    store: Store, contest_id: int, texts: dict[str, str]
) -> None:
    entry = entry_of(store, contest_id, "ash")
    later = texts["log"].replace("0.300,2", "0.310,2")
    with store.write() as session:
        first = add_strike_log(session, entry, data=texts["log"], name="ash.csv", origin="given", who="steward")
        second = add_strike_log(session, entry, data=later.encode(), name="ash.csv", origin="given", who="steward")

        assert strike_log_of(session, entry.id) == second
        assert first.sha256 != second.sha256
        assert load_day(session, contest_id).logs["ash"].times_s[1] == pytest.approx(0.310)


def test_a_log_that_cannot_be_read_is_not_kept(store: Store, contest_id: int) -> None:
    entry = entry_of(store, contest_id, "ash")
    with pytest.raises(InputError, match=r"ash\.csv"), store.write() as session:
        add_strike_log(session, entry, data=b"", name="ash.csv", origin="given", who="steward")

    with store.read() as session:
        assert strike_log_of(session, entry.id) is None


def test_a_folder_is_taken_in_whole(store: Store, folder: Callable[[], Path]) -> None:
    contest_id = import_folder(store, folder(), who="organiser")
    with store.read() as session:
        day = load_day(session, contest_id)
        contest = session.get_one(StoredContest, contest_id)

        assert set(day.logs) == {"ash", "birch"}
        assert {(s.judge, s.entry): (str(s.total), len(s.taps), s.comment) for s in day.sheets} == {
            ("a", "ash"): ("3.5", 0, "Steady"),
            ("a", "birch"): ("4", 0, ""),
            ("a", "cedar"): ("9", 0, ""),
            ("b", "ash"): ("1.5", 2, "Leads a little late"),
            ("b", "birch"): ("1", 1, ""),
            ("b", "cedar"): ("0", 0, ""),
        }
        assert order_of(contest) == draw_order(session, contest_id)
        assert contest.phase == Phase.SHEETS_IN
        assert [one.key for one in judges_of(session, contest_id)] == ["a", "b"]
        verify_chain(session)
    assert len(store.recordings.names()) == 1


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("rules.toml", None, r"rules\.toml: there is no such file"),
        ("rules.toml", b"\xff\xfe", "is not UTF-8 text"),
        ("entries.toml", b"[[entry]\n", r"entries\.toml"),
        ("pieces/hunt.txt", b"1234\n1233\n", r"hunt\.txt"),
        ("logs/dale.csv", b"time_s,bell\n", r"dale\.csv: there is no entry dale"),
        ("logs/ash.csv", b"", r"ash\.csv"),
        ("recordings/ash.wav", b"", r"ash\.wav: is empty"),
        ("recordings/dale.wav", b"x", r"dale\.wav: there is no entry dale"),
        ("sheets/c.csv", b"entry,total\nash,1\n", r"c\.csv: 'c' is no judge of rules"),
        ("sheets/a.csv", b"entry,total\ndale,1\n", r"a\.csv, line 2"),
        ("sheets/a.csv", b"entry,total\nash,minus one\n", r"a\.csv, line 2"),
    ],
)
def test_a_folder_with_one_thing_wrong_is_not_taken_in_at_all(
    store: Store, folder: Callable[[], Path], name: str, content: bytes | None, words: str
) -> None:
    root = folder()
    if content is None:
        (root / name).unlink()
    else:
        (root / name).write_bytes(content)

    with pytest.raises(InputError, match=words):
        import_folder(store, root, who="organiser")

    with store.read() as session:
        assert contests(session) == []
        assert head(session).seq == 0


def test_a_band_that_refused_is_not_recorded_even_where_the_folder_has_a_recording(
    store: Store, folder: Callable[[], Path]
) -> None:
    root = folder()
    (root / "entries.toml").write_text(
        (root / "entries.toml").read_text().replace('id = "cedar"', 'id = "cedar"\nmay_be_recorded = false')
    )

    contest_id = import_folder(store, root, who="organiser")

    with store.read() as session:
        day = load_day(session, contest_id)
    assert [entry.may_be_recorded for entry in day.entries] == [True, True, False]
    assert store.recordings.sweep(set(), older_than_s=0) != ()


def test_draft_rules_are_replaced_with_their_title_and_judges(
    store: Store, contest: StoredContest, texts: dict[str, str]
) -> None:
    other = texts["rules"].replace("Spring", "Autumn").replace('id = "a"', 'id = "c"').replace("Judge A", "Judge C")
    with store.write() as session:
        set_rules(session, session.get_one(StoredContest, contest.id), other, who="organiser")

        day = load_day(session, contest.id)

    assert day.rules.title == "Autumn Six-Bell Contest"
    assert [(judge.id, judge.name) for judge in day.judges] == [("c", "Judge C"), ("b", "Judge B")]


def test_rules_cannot_drop_a_judge_who_has_a_link(store: Store, contest: StoredContest, texts: dict[str, str]) -> None:
    with store.write() as session:
        [judge, _] = judges_of(session, contest.id)
        make_link(session, role="judge", who="organiser", contest_id=contest.id, judge_id=judge.id)

    other = texts["rules"].replace('id = "a"', 'id = "c"')
    with pytest.raises(RuleError, match="Judge A has a link or a sheet already"), store.write() as session:
        set_rules(session, session.get_one(StoredContest, contest.id), other, who="organiser")
    with store.read() as session:
        assert session.get_one(StoredContest, contest.id).rules_text == texts["rules"]


def test_published_rules_are_frozen(store: Store, contest: StoredContest, texts: dict[str, str]) -> None:
    with store.write() as session:
        set_phase(session, session.get_one(StoredContest, contest.id), Phase.PUBLISHED, who="organiser")

    with pytest.raises(RuleError, match="published and cannot be changed"), store.write() as session:
        set_rules(session, session.get_one(StoredContest, contest.id), texts["rules"], who="organiser")


def test_an_entry_that_names_no_piece_has_its_sections(store: Store, contest_id: int) -> None:
    with store.write() as session:
        entry = add_entry(session, contest_id, Entry(id="dale", band="Dale"), who="organiser")
        assert piece_of(session, entry).key == "hunt"
        change_entry(session, entry, who="organiser", piece="stedman")
        with pytest.raises(RuleError, match="No test piece is declared for dale"):
            piece_of(session, entry)


def test_a_final_contest_is_closed(store: Store, contest: StoredContest, texts: dict[str, str]) -> None:
    entry = entry_of(store, contest.id, "ash")
    with store.write() as session:
        stored = session.get_one(StoredContest, contest.id)
        set_phase(session, stored, Phase.FINAL, who="organiser")
        log = {"data": texts["log"], "name": "ash.csv", "origin": "given"}
        deeds: list[Callable[[], object]] = [
            lambda: add_entry(session, contest.id, Entry(id="dale", band="Dale"), who="organiser"),
            lambda: set_order(session, stored, ["ash", "birch", "cedar"], who="organiser"),
            lambda: add_strike_log(session, entry, who="steward", **log),
            lambda: add_recording(session, entry, Kept("0" * 64, 4), name="ash.wav", who="steward"),
        ]
        for deed in deeds:
            with pytest.raises(RuleError, match="is final; a correction is made as a new revision"):
                deed()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"band": ""}, "entry ash, band"),
        ({"remarks": "bell\x07"}, "entry ash, remarks"),
        ({"borrowed": 17}, "entry ash, borrowed"),
        ({"over_time_s": float("inf")}, "entry ash"),
    ],
)
def test_what_an_entrys_file_could_not_hold_is_refused_by_field(
    store: Store, contest_id: int, change: dict[str, object], words: str
) -> None:
    entry = entry_of(store, contest_id, "ash")
    with pytest.raises(InputError, match=words), store.write() as session:
        change_entry(session, entry, who="organiser", **change)

    assert entry_of(store, contest_id, "ash").band == "St Ash"
