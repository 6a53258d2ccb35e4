"""From an upload to the strike log in force, through a real worker and the ear; and what spoils it, in words."""

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from sqlmodel import select

from judging.jobs import Runner, enqueue_listening, enqueue_unheard, jobs_of
from judging.jobs.listen_task import Listened, listen_task
from judging.jobs.recordings_heard import call_listen, hear_part, keep_listened
from judging.jobs.task_frame import Call, Refused, run_task
from judging.piece import piece_from_file
from judging.sounding import ideal_log, ring_of_bells, ring_to_file, write_wav
from judging.store import (
    Store,
    StoredAudit,
    StoredEntry,
    StoredJob,
    StoredRecording,
    add_recording,
    create_contest,
    entries_of,
    load_day,
    set_consent,
    strike_log_of,
)
from judging.store.hearings import hearing_of, stretches_of

RULES = 'rules = 1\ntitle = "Practice"\n[[section]]\nname = "Six"\npiece = "hunt"\n[draw]\nseed = "x"\n'


def plain_hunt(changes: int = 24) -> str:
    """Six rounds, then plain hunting on six: pairs change places from the front and from second's place by turns."""
    row = list("123456")
    rows = ["".join(row)] * 6
    for change in range(changes):
        for place in range(change % 2, 5, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append("".join(row))
    return "\n".join(rows) + "\n"


@contextmanager
def no_workers() -> Iterator[Executor]:
    """Workers for jobs that never reach them."""
    with ThreadPoolExecutor(1) as pool:
        yield pool


@pytest.fixture
def entries(store: Store) -> dict[str, StoredEntry]:
    """Four entries of one contest, all of which may be recorded."""
    keys = ("rung", "silent", "text", "changed")
    entries_text = "\n".join(f'[[entry]]\nid = "{key}"\nband = "Band {key}"' for key in keys)
    with store.write() as session:
        contest = create_contest(
            session,
            rules_text=RULES,
            entries_text=entries_text,
            pieces={"hunt.txt": plain_hunt()},
            who="organiser",
        )
        entries = {entry.key: entry for entry in entries_of(session, contest.id)}
        for entry in entries.values():
            set_consent(session, entry, "given", who="steward")
    return entries


def give(store: Store, entry: StoredEntry, path: Path) -> int:
    """Upload a recording with its job, and return the job's id."""
    kept = store.recordings.keep_file(path)
    with store.write() as session:
        recording = add_recording(session, entry, kept, name=path.name, who="steward")
        return enqueue_listening(session, entry, recording).id


@pytest.mark.slow
def test_a_recording_is_heard_in_a_worker_and_bad_ones_say_what_is_wrong_with_them(
    store: Store, entries: dict[str, StoredEntry], ended: Callable[..., StoredJob], tmp_path: Path
) -> None:
    piece = piece_from_file("hunt.txt", plain_hunt())
    log = ideal_log(piece, peal_minutes=165, handstroke_gap=1.0)
    ring_to_file(
        tmp_path / "rung.wav", log, bells=ring_of_bells(6, seed=1, tenor_nominal_hz=880.0), seed=1, rate=22_050
    )
    write_wav(tmp_path / "silent.wav", np.zeros(22_050 * 20, np.float32), 22_050)
    (tmp_path / "text.wav").write_text("this is not sound at all\n" * 100)
    (tmp_path / "changed.wav").write_bytes((tmp_path / "silent.wav").read_bytes() + b"\0")
    ids = {key: give(store, entry, tmp_path / f"{key}.wav") for key, entry in entries.items()}
    with store.read() as session:
        changed = jobs_of(session, entries["changed"].id)[0].input_sha256
    store.recordings.path(changed).write_bytes(b"bit rot")

    with Runner(store):
        jobs = {key: ended(job_id, within_s=60) for key, job_id in ids.items()}

    assert {key: job.state for key, job in jobs.items()} == {
        "rung": "done",
        "silent": "failed",
        "text": "failed",
        "changed": "failed",
    }
    assert jobs["silent"].error.startswith("the recording: is silent")
    assert jobs["text"].error.startswith("the recording: ")
    assert "was changed on the disk" in jobs["changed"].error
    with store.read() as session:
        heard = strike_log_of(session, entries["rung"].id)
        assert heard is not None
        assert heard.origin == "heard"
        assert heard.recording_id is not None
        logs = load_day(session, entries["rung"].contest_id).logs
        [trail] = [entry for entry in session.exec(select(StoredAudit)).all() if entry.what == "recording heard"]
    assert set(logs) == {"rung"}
    assert set(np.unique(logs["rung"].bells)) <= set(range(7))
    assert len(logs["rung"]) > 0.5 * len(log)  # how well it hears is for the ear's own tests
    assert (trail.who, trail.about) == ("ear", "entry rung")


def test_recordings_without_a_log_are_found_and_asked_for_once(
    store: Store, entries: dict[str, StoredEntry], tmp_path: Path
) -> None:
    (tmp_path / "rung.wav").write_bytes(b"RIFF")
    asked = give(store, entries["rung"], tmp_path / "rung.wav")

    with store.write() as session:
        again = [job.id for job in enqueue_unheard(session)]
        once_more = [job.id for job in enqueue_unheard(session, entries["rung"].contest_id)]

    assert again == once_more == [asked]


def test_a_person_who_says_where_the_first_blow_is_gets_another_hearing(
    store: Store, entries: dict[str, StoredEntry], tmp_path: Path
) -> None:
    (tmp_path / "rung.wav").write_bytes(b"RIFF")
    asked = give(store, entries["rung"], tmp_path / "rung.wav")
    with store.write() as session:
        [first] = jobs_of(session, entries["rung"].id)
        recording = session.exec(select(StoredRecording)).one()
        second = enqueue_listening(session, entries["rung"], recording, first_blow_s=12.5)

    assert first.id == asked
    assert second.id != asked


def test_a_part_that_a_person_names_is_heard_again_whatever_was_heard_before(
    store: Store, entries: dict[str, StoredEntry], tmp_path: Path
) -> None:
    (tmp_path / "rung.wav").write_bytes(b"RIFF")
    give(store, entries["rung"], tmp_path / "rung.wav")
    parts = ((3.0, 70.0), (3.0, 70.0), (80.0, 150.0), (3.0, 70.0))
    with store.write() as session:
        asked = [hear_part(session, entries["rung"], part) for part in parts]
        handed = [call_listen(session, store, job).options["between_s"] for job in asked]
    assert asked[0].id == asked[1].id  # the second press of a button
    assert len({job.id for job in asked}) == 3
    assert [tuple(part) for part in handed] == list(parts)


def test_shares_of_the_piece_are_kept_when_a_part_is_heard_that_was_named(
    store: Store, entries: dict[str, StoredEntry], tmp_path: Path
) -> None:
    (tmp_path / "rung.wav").write_bytes(b"RIFF")
    give(store, entries["rung"], tmp_path / "rung.wav")
    log = "time_s,bell\n1.0,1\n1.3,2\n"
    every = Listened(log, (), True, segments=((3.0, 70.0, 1.0, False), (80.0, 150.0, 0.9, True)), segment_is_sure=False)
    named = Listened(log, (), True, segments=((3.0, 70.0, None, True), (80.0, 150.0, None, False)))
    for result in (every, named):
        with store.write() as session:
            job = hear_part(session, entries["rung"], (3.0, 70.0))
            keep_listened(session, job, result)
    with store.read() as session:
        heard = strike_log_of(session, entries["rung"].id)
        assert heard is not None
        hearing = hearing_of(session, heard)
    assert hearing is not None
    assert hearing.segment_is_sure
    assert stretches_of(hearing) == [(3.0, 70.0, 1.0, True), (80.0, 150.0, 0.9, False)]


def test_a_recording_erased_before_it_was_heard_fails_its_job_in_words(
    store: Store, entries: dict[str, StoredEntry], ended: Callable[..., StoredJob], tmp_path: Path
) -> None:
    (tmp_path / "rung.wav").write_bytes(b"RIFF")
    asked = give(store, entries["rung"], tmp_path / "rung.wav")
    store.recordings.erase(store.recordings.names()[0])

    with Runner(store, executor=no_workers, poll_s=0.01):
        assert "is not here; it was erased" in ended(asked).error


def test_a_bad_piece_and_a_bad_recording_are_refused_in_words_without_the_hash(tmp_path: Path) -> None:
    sha256 = hashlib.sha256(b"no sound").hexdigest()
    path = tmp_path / sha256
    path.write_bytes(b"no sound")

    bad_piece, bad_recording = (
        run_task(listen_task, Call((str(path), "hunt.txt", rows), recordings={str(path): sha256}))
        for rows in ("1233\n", "1234\n2143\n")
    )

    assert isinstance(bad_piece, Refused)
    assert bad_piece.message.startswith("hunt.txt")
    assert isinstance(bad_recording, Refused)
    assert bad_recording.message.startswith("the recording")
    assert sha256 not in bad_recording.message


def test_a_recording_that_was_changed_on_the_disk_is_not_decoded(tmp_path: Path) -> None:
    path = tmp_path / ("a" * 64)
    path.write_bytes(b"other bytes")

    changed = run_task(listen_task, Call((str(path), "hunt.txt", "1234\n"), recordings={str(path): "a" * 64}))

    assert isinstance(changed, Refused)
    assert "was changed on the disk" in changed.message
