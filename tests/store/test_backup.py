"""A backup is the whole service or nothing, and comes back as it was."""

import hashlib
import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path

import pytest

from judging.errors import InputError
from judging.marks.values import Sheet
from judging.store import (
    Settings,
    Store,
    add_recording,
    add_sheet,
    audit,
    backup,
    entry_by_key,
    head,
    import_folder,
    load_day,
    restore,
    verify_chain,
    wanted_recordings,
)
from judging.store.engine import DATABASE_NAME

LIMITS = Settings(min_free_bytes=0)


@pytest.fixture
def filled(store: Store, folder: Callable[[], Path]) -> int:
    """Id of a contest with logs, a recording and sheets."""
    return import_folder(store, folder(), who="organiser")


@pytest.fixture
def saved(store: Store, filled: int, tmp_path: Path) -> Path:
    assert filled
    backup(store.data, tmp_path / "saved")
    return tmp_path / "saved"


def test_what_is_restored_is_what_was_backed_up(store: Store, filled: int, saved: Path, tmp_path: Path) -> None:
    report = restore(saved, tmp_path / "new")

    with Store.open(tmp_path / "new", LIMITS) as again, again.read() as copy, store.read() as original:
        day, known = load_day(copy, filled), load_day(original, filled)
        assert (day.rules, day.entries, day.judges, day.sheets, day.order) == (
            known.rules,
            known.entries,
            known.judges,
            known.sheets,
            known.order,
        )
        assert {key: log.times_s.tolist() for key, log in day.logs.items()} == {
            key: log.times_s.tolist() for key, log in known.logs.items()
        }
        assert str(verify_chain(copy)) == report.audit_head == str(head(original))
        [sha256] = wanted_recordings(copy)
        assert again.recordings.path(sha256).read_bytes() == store.recordings.path(sha256).read_bytes()
    assert (report.recordings, report.missing) == (1, ())


def test_a_backup_is_taken_while_the_service_writes_and_holds_one_moment(
    store: Store, filled: int, tmp_path: Path
) -> None:
    """A transaction not yet committed is not in it; what comes afterwards is not in it either."""
    with store.write() as session:
        add_sheet(session, filled, Sheet("a", "ash", Decimal(7), reason="slip"), who="judge a")
        report = backup(store.data, tmp_path / "during")
    with store.write() as session:
        audit(session, who="organiser", what="note")

    restore(tmp_path / "during", tmp_path / "new")

    with Store.open(tmp_path / "new", LIMITS) as again, again.read() as session:
        assert max(sheet.revision for sheet in load_day(session, filled).sheets) == 1
        assert str(head(session)) == report.audit_head


def test_a_backup_is_a_plain_folder_with_no_log_beside_its_database(saved: Path) -> None:
    [recording] = [path.name for path in (saved / "recordings").iterdir()]

    assert sorted(path.name for path in saved.iterdir()) == ["backup.json", DATABASE_NAME, "recordings"]
    listed = json.loads((saved / "backup.json").read_text())
    assert set(listed["files"]) == {DATABASE_NAME, f"recordings/{recording}"}
    assert [path.name for path in saved.parent.iterdir() if ".part" in path.name] == []


@pytest.mark.usefixtures("filled")
def test_a_recording_that_is_gone_is_named_and_the_rest_is_saved(store: Store, tmp_path: Path) -> None:
    [sha256] = store.recordings.names()
    store.recordings.erase(sha256)

    report = backup(store.data, tmp_path / "saved")

    assert (report.recordings, report.missing) == (0, (sha256,))
    assert restore(tmp_path / "saved", tmp_path / "new").missing == (sha256,)


@pytest.mark.usefixtures("filled")
def test_a_recording_that_nobody_wants_is_not_saved(store: Store, tmp_path: Path) -> None:
    store.recordings.keep([b"orphan"], name="x.wav")

    assert backup(store.data, tmp_path / "saved").recordings == 1


def spoil_database(saved: Path) -> None:
    path = saved / DATABASE_NAME
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 0xFF
    path.write_bytes(content)


def spoil_recording(saved: Path) -> None:
    [path] = (saved / "recordings").iterdir()
    path.write_bytes(path.read_bytes()[:-1])


def remove_recording(saved: Path) -> None:
    [path] = (saved / "recordings").iterdir()
    path.unlink()


def remove_list(saved: Path) -> None:
    (saved / "backup.json").unlink()


def cut_list(saved: Path) -> None:
    path = saved / "backup.json"
    path.write_text(path.read_text()[:-40])


def nest_list_without_end(saved: Path) -> None:
    (saved / "backup.json").write_text("[" * 100_000)


def put_a_folder_for_the_list(saved: Path) -> None:
    remove_list(saved)
    (saved / "backup.json").mkdir()


def escape_from_list(saved: Path) -> None:
    path = saved / "backup.json"
    listed = json.loads(path.read_text())
    listed["files"]["../../outside"] = "0" * 64
    path.write_text(json.dumps(listed))


def rewrite_chain(saved: Path) -> None:
    """Somebody drops the last deed and fits the hash in the list, but forgets the head."""
    path = saved / DATABASE_NAME
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("DROP TRIGGER audit_no_delete")
        database.execute("DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit)")
    listed = json.loads((saved / "backup.json").read_text())
    listed["files"][DATABASE_NAME] = hashlib.sha256(path.read_bytes()).hexdigest()
    (saved / "backup.json").write_text(json.dumps(listed))


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (spoil_database, r"evenblow\.sqlite3: was changed since it was written"),
        (spoil_recording, "was changed since it was written"),
        (remove_recording, "is missing from the backup"),
        (remove_list, r"is no backup: it has no backup\.json"),
        (cut_list, "is not the list of a backup"),
        (nest_list_without_end, "is not the list of a backup"),
        (put_a_folder_for_the_list, r"is no backup: it has no backup\.json to be read"),
        (escape_from_list, "which is no file of a backup"),
        (rewrite_chain, "its audit chain ends at"),
    ],
)
def test_a_backup_that_is_not_whole_is_refused_by_name_and_nothing_is_restored(
    saved: Path, tmp_path: Path, spoil: Callable[[Path], None], words: str
) -> None:
    spoil(saved)

    with pytest.raises(InputError, match=words):
        restore(saved, tmp_path / "new")

    assert not (tmp_path / "new").exists()
    assert [path.name for path in tmp_path.iterdir() if ".part" in path.name] == []


def test_a_data_folder_in_use_is_never_written_over(store: Store, saved: Path) -> None:
    before = sorted(path.name for path in store.data.iterdir())

    with pytest.raises(InputError, match="is not empty"):
        restore(saved, store.data)

    assert sorted(path.name for path in store.data.iterdir()) == before


def test_a_backup_never_goes_over_another_one(store: Store, saved: Path) -> None:
    with pytest.raises(InputError, match="is there already"):
        backup(store.data, saved)


def test_a_folder_without_a_database_cannot_be_backed_up(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no Evenblow database"):
        backup(tmp_path, tmp_path / "saved")


@pytest.mark.usefixtures("filled")
def test_a_backup_that_breaks_off_leaves_nothing(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", full)

    with pytest.raises(InputError, match=r"saved: cannot be written.*No space left"):
        backup(store.data, tmp_path / "saved")

    assert [path.name for path in tmp_path.iterdir() if "saved" in path.name] == []


def test_a_stale_log_beside_a_backups_database_is_not_played_back(saved: Path, tmp_path: Path) -> None:
    (saved / f"{DATABASE_NAME}-wal").write_bytes(b"stale")
    (saved / f"{DATABASE_NAME}-shm").write_bytes(b"stale")

    restore(saved, tmp_path / "new")

    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == [DATABASE_NAME, "recordings"]


@pytest.mark.usefixtures("filled")
def test_a_shared_recording_is_saved_once(
    store: Store, contest_id: int, consenting: Callable[[str], int], tmp_path: Path
) -> None:
    kept = store.recordings.keep([b"the whole day"], name="day.wav")
    for key in ("ash", "birch"):
        consenting(key)
        with store.write() as session:
            entry = entry_by_key(session, contest_id, key)
            assert entry is not None
            add_recording(session, entry, kept, name="day.wav", who="steward")

    assert backup(store.data, tmp_path / "saved").recordings == 2


def test_a_file_is_no_backup(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("x")
    with pytest.raises(InputError, match=r"notes\.txt: is no backup"):
        restore(tmp_path / "notes.txt", tmp_path / "new")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (lambda whole: b"x" * 100 + whole[100:], r"evenblow\.sqlite3: is not a usable database"),
        (lambda whole: whole[: len(whole) // 2], r"evenblow\.sqlite3: is not a usable database"),
        (lambda _: b"", r"evenblow\.sqlite3: has not the tables of this Evenblow .* another version"),
    ],
    ids=["its head gone", "cut in half", "emptied"],
)
def test_a_database_that_is_not_usable_is_told_and_no_backup_is_left(
    store: Store, tmp_path: Path, content: Callable[[bytes], bytes], words: str
) -> None:
    with closing(sqlite3.connect(store.data / DATABASE_NAME)) as database:
        whole = database.serialize()
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / DATABASE_NAME).write_bytes(content(whole))

    with pytest.raises(InputError, match=words):
        backup(broken, tmp_path / "saved")

    assert not (tmp_path / "saved").exists()
