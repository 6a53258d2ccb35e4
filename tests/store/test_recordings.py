"""Recordings: named by their bytes, there whole or not at all."""

import errno
import hashlib
import os
import shutil
import stat
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from judging.errors import InputError, RuleError
from judging.store import (
    Recordings,
    Store,
    StoredRecording,
    add_recording,
    entry_by_key,
    erase_recording,
    recordings_of,
    set_consent,
    wanted_recordings,
)
from judging.store.recordings import verify_file


@pytest.fixture
def recordings(tmp_path: Path) -> Recordings:
    return Recordings(tmp_path, max_bytes=1000)


@given(blocks=st.lists(st.binary(max_size=60), min_size=1, max_size=10).filter(any))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_however_it_is_cut_into_blocks_a_recording_is_named_by_its_bytes(
    recordings: Recordings, blocks: list[bytes]
) -> None:
    whole = b"".join(blocks)

    kept = recordings.keep(blocks, name="band.wav")

    assert kept.sha256 == hashlib.sha256(whole).hexdigest()
    assert kept.size_bytes == len(whole)
    assert recordings.path(kept.sha256).read_bytes() == whole


def test_the_same_recording_is_kept_once(recordings: Recordings) -> None:
    first = recordings.keep([b"dong"], name="a.wav")
    second = recordings.keep([b"do", b"ng"], name="b.wav")

    assert first == second
    assert recordings.names() == [first.sha256]


def test_an_upload_cut_in_the_middle_leaves_nothing(recordings: Recordings) -> None:
    def cut() -> None:
        with recordings.incoming("band.wav") as part:
            part.write(b"half of it")
            raise ConnectionResetError

    with pytest.raises(ConnectionResetError):
        cut()

    assert list(recordings.folder.iterdir()) == []


def test_an_empty_recording_is_refused_in_words(recordings: Recordings) -> None:
    with pytest.raises(InputError, match=r"band\.wav: is empty \(0 bytes\)"):
        recordings.keep([b"", b""], name="band.wav")

    assert list(recordings.folder.iterdir()) == []


def test_a_recording_one_byte_over_the_limit_is_refused_and_one_at_the_limit_is_kept(recordings: Recordings) -> None:
    assert recordings.keep([b"x" * 1000], name="day.wav").size_bytes == 1000
    with pytest.raises(InputError, match=r"day\.wav: is larger than"):
        recordings.keep([b"x" * 1000, b"y"], name="day.wav")

    assert len(list(recordings.folder.iterdir())) == 1


def test_a_nearly_full_disk_is_said_in_words_and_leaves_room_for_marks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recordings = Recordings(tmp_path, max_bytes=1000, min_free_bytes=500)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=505))

    assert recordings.keep([b"x" * 5], name="short.wav").size_bytes == 5
    with pytest.raises(InputError, match=r"band\.wav: could not be kept: the disk is nearly full"):
        recordings.keep([b"x" * 6], name="band.wav")
    assert len(list(tmp_path.iterdir())) == 1


def test_a_disk_that_fills_up_while_syncing_is_said_in_words(
    recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)

    with pytest.raises(InputError, match="the disk is nearly full"):
        recordings.keep([b"dong"], name="band.wav")
    assert list(recordings.folder.iterdir()) == []


def test_it_is_on_the_disk_under_its_name_before_it_is_acknowledged(
    recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In any other order a power cut could leave a name without its bytes."""
    deeds: list[str] = []
    fsync, replace = os.fsync, Path.replace

    def spy_fsync(handle: int) -> None:
        deeds.append("sync folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "sync file")
        fsync(handle)

    def spy_replace(self: Path, target: Path) -> Path:
        deeds.append("rename")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", spy_fsync)
    monkeypatch.setattr(Path, "replace", spy_replace)

    recordings.keep([b"dong"], name="band.wav")

    assert deeds == ["sync file", "rename", "sync folder"]


def test_bytes_changed_on_the_disk_are_found_when_read(recordings: Recordings) -> None:
    kept = recordings.keep([b"dong"], name="band.wav")
    recordings.path(kept.sha256).write_bytes(b"dang")

    with pytest.raises(InputError, match="was changed on the disk"):
        verify_file(recordings.path(kept.sha256), kept.sha256)


@pytest.mark.parametrize("name", ["", "../evenblow.sqlite3", "/etc/passwd", "0" * 63, "G" * 64, "0" * 64])
def test_no_name_leads_out_of_the_folder_or_to_nothing(recordings: Recordings, name: str) -> None:
    with pytest.raises(InputError, match="is not here"):
        recordings.path(name)
    recordings.erase(name)


def test_the_sweep_takes_old_cut_uploads_and_orphans_and_leaves_the_rest(recordings: Recordings) -> None:
    wanted = recordings.keep([b"wanted"], name="a.wav").sha256
    orphan = recordings.keep([b"orphan"], name="b.wav").sha256
    young = recordings.keep([b"young orphan"], name="c.wav").sha256
    cut = recordings.folder / "incoming-0123.part"
    cut.write_bytes(b"cut")
    other = recordings.folder / "note.txt"
    other.write_text("not ours")
    two_days_ago = time.time() - 2 * 86_400
    for path in (recordings.path(wanted), recordings.path(orphan), cut, other):
        os.utime(path, (two_days_ago, two_days_ago))

    removed = recordings.sweep({wanted})

    assert sorted(removed) == sorted([orphan, cut.name])
    assert sorted(path.name for path in recordings.folder.iterdir()) == sorted([wanted, young, "note.txt"])


@pytest.mark.parametrize(("consent", "words"), [("not asked", "has not been asked"), ("refused", "does not agree")])
def test_no_recording_is_kept_without_consent(store: Store, contest_id: int, consent: str, words: str) -> None:
    kept = store.recordings.keep([b"dong"], name="ash.wav")

    with store.write() as session:
        entry = entry_by_key(session, contest_id, "ash")
        assert entry is not None
        set_consent(session, entry, consent, who="steward")
        with pytest.raises(RuleError, match=words):
            add_recording(session, entry, kept, name="ash.wav", who="steward")


def test_a_recording_given_twice_is_one_and_erased_it_may_be_given_again(
    store: Store, contest_id: int, consenting: Callable[[str], int]
) -> None:
    entry_id = consenting("ash")
    kept = store.recordings.keep([b"dong"], name="ash.wav")
    with store.write() as session:
        entry = entry_by_key(session, contest_id, "ash")
        assert entry is not None
        first = add_recording(session, entry, kept, name="ash.wav", who="steward")
        second = add_recording(session, entry, kept, name="ash again.wav", who="steward")
        assert first.id == second.id
        erase_recording(session, first, who="organiser", reason="consent withdrawn")
        assert recordings_of(session, entry_id) == []
        assert wanted_recordings(session) == set()

        again = add_recording(session, entry, kept, name="ash.wav", who="steward")

        assert [recording.id for recording in recordings_of(session, entry_id)] == [again.id]


def test_a_file_that_two_entries_share_outlives_the_erasing_of_one(
    store: Store, contest_id: int, consenting: Callable[[str], int]
) -> None:
    consenting("ash")
    consenting("birch")
    kept = store.recordings.keep([b"the whole day"], name="day.wav")
    with store.write() as session:
        shared = []
        for key in ("ash", "birch"):
            entry = entry_by_key(session, contest_id, key)
            assert entry is not None
            shared.append(add_recording(session, entry, kept, name="day.wav", who="steward"))
    for recording, is_kept in zip(shared, (True, False), strict=True):
        with store.write() as session:
            erase_recording(session, session.get_one(StoredRecording, recording.id), who="organiser", reason="asked")
        store.sweep(older_than_s=-1.0)

        assert (kept.sha256 in store.recordings.names()) is is_kept
