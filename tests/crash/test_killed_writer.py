"""A writer killed at any instant: nothing acknowledged is lost, nothing half-written is referred to.

What this shows is that an acknowledgement comes after the commit and that commits are all or nothing. It does not
show safety from a power cut, since a killed process leaves the system's cache in place: for that stand
``synchronous = FULL`` and the syncs of recordings, tested in ``tests/store``.
"""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from sqlmodel import select

from judging.store import (
    Settings,
    Store,
    StoredAudit,
    create_contest,
    entry_by_key,
    recordings_of,
    set_consent,
    sheets_of,
    verify_chain,
    wanted_recordings,
)
from judging.store.engine import DATABASE_NAME
from judging.store.recordings import verify_file

ROUNDS = 5
RULES = 'rules = 1\ntitle = "Crash"\n[[section]]\nname = "Six"\n[[judge]]\nid = "a"\nname = "A"\n[draw]\nseed = "x"\n'


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_when_a_writer_is_killed_again_and_again(tmp_path: Path) -> None:
    settings = Settings(data=tmp_path, min_free_bytes=0)
    with Store.open(tmp_path, settings) as store, store.write() as session:
        contest_id = create_contest(
            session, rules_text=RULES, entries_text='[[entry]]\nid = "ash"\nband = "Ash"\n', who="organiser"
        ).id
        entry = entry_by_key(session, contest_id, "ash")
        assert entry is not None
        set_consent(session, entry, "given", who="steward")
    instants = random.Random(1731)  # noqa: S311 when to kill, not a secret
    acknowledged: list[list[str]] = []
    for _ in range(ROUNDS):
        acknowledged += kill_a_writer(tmp_path, instants.randint(6, 20), instants.uniform(0.0, 0.03))

    signed = [int(number) for kind, number in acknowledged if kind == "sheet"]
    given = {sha256 for kind, sha256 in acknowledged if kind == "recording"}
    assert len(signed) >= 4 * ROUNDS  # of six lines at least four are sheets
    assert len(given) >= ROUNDS
    with closing(sqlite3.connect(tmp_path / DATABASE_NAME)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with Store.open(tmp_path, settings) as store, store.read() as session:
        versions = [int(sheet.total) for sheet in sheets_of(session, contest_id)]
        assert versions == list(range(len(versions)))
        assert set(signed) <= set(versions)
        # At most one commit a round was made whose acknowledgement the kill cut off.
        assert len(versions) - len(signed) <= ROUNDS
        deeds = [deed.what for deed in session.exec(select(StoredAudit)).all()]
        assert deeds.count("sheet signed") + deeds.count("sheet revised") == len(versions)
        assert verify_chain(session).seq == len(deeds)
        stored = {recording.sha256 for recording in recordings_of(session, entry.id)}
        assert given <= stored
        for sha256 in stored:
            verify_file(store.recordings.path(sha256), sha256)
        store.recordings.sweep(wanted_recordings(session), older_than_s=-1.0)
        assert set(store.recordings.names()) == stored
        assert {path.name for path in store.recordings.folder.iterdir()} == stored


def kill_a_writer(data: Path, lines: int, after_s: float) -> list[list[str]]:
    """Start a writer, kill it so long after so many lines, and return all that it acknowledged."""
    script = Path(__file__).with_name("keep_writing.py")
    with subprocess.Popen([sys.executable, str(script), str(data)], stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        first = [writer.stdout.readline() for _ in range(lines)]
        time.sleep(after_s)
        writer.send_signal(signal.SIGKILL)
        said = [*first, *writer.stdout]
    # A last line that the kill has cut off is no acknowledgement.
    return [line.split() for line in said if line.endswith("\n")]
