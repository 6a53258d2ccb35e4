"""A day's recording cut in the service: two jobs, one that finds the cuts and one that makes a recording of each.

Between the two a person looks at the cuts and may move them.
"""

import json
import tempfile
from collections.abc import Sequence
from pathlib import Path

from sqlmodel import Session, col, select

from judging import __version__
from judging.contest.day_file import Cut, DayCuts, NotedTime, cut_day
from judging.errors import RuleError
from judging.jobs.queue import enqueue
from judging.jobs.recordings_heard import enqueue_listening
from judging.jobs.task_frame import Call
from judging.jobs.workers import Step
from judging.store.day_recordings import erase_day_recording, set_cuts
from judging.store.engine import Store
from judging.store.evidence import add_recording, keeps_recordings
from judging.store.lookups import entries_of
from judging.store.recordings import Kept, Recordings
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredDayRecording

#: Changes whenever the same recording would be cut otherwise.
CUT_VERSION = f"cut {__version__}"


def enqueue_finding(
    session: Session, day: StoredDayRecording, noted: Sequence[NotedTime], clock_s: float | None
) -> StoredJob:
    """Ask for the cuts of a day's recording to be found by the steward's times.

    Parameters
    ----------
    session : Session
        A writing session.
    day : StoredDayRecording
        Which.
    noted : sequence of NotedTime
        By entry key.
    clock_s : float or None
        When the recording began by the same clock, where that is known.

    Returns
    -------
    StoredJob
    """
    times = [[time.entry, time.start_s, time.stop_s] for time in noted]
    params = {"day": day.id, "times": times, "clock_s": clock_s}
    return enqueue(session, kind="find cuts", input_sha256=day.sha256, engine_version=CUT_VERSION, params=params)


def enqueue_cutting(session: Session, day: StoredDayRecording, cuts: Sequence[Cut]) -> StoredJob:
    """Ask for a recording to be made of each cut; each is then heard, and the day's recording erased."""
    params = {"day": day.id, "cuts": [[cut.entry, cut.begin_s, cut.end_s] for cut in cuts]}
    return enqueue(session, kind="cut", input_sha256=day.sha256, engine_version=CUT_VERSION, params=params)


def latest_of_day(session: Session, day: StoredDayRecording) -> StoredJob | None:
    """Return the newest job that finds or makes the cuts of a day's recording, if one was asked for."""
    return session.exec(
        select(StoredJob)
        .where(StoredJob.input_sha256 == day.sha256, col(StoredJob.kind).in_(["find cuts", "cut"]))
        .order_by(col(StoredJob.id).desc())
    ).first()


def find_task(
    path: str, times: Sequence[tuple[str, float, float]], clock_s: float | None, *, progress: Step
) -> DayCuts:
    """Find the cuts of a recording; times are entry, start and stop in seconds."""
    from judging.ear.decode import decode  # noqa: PLC0415 only a worker process may load what decodes sound
    from judging.ear.stretches import ringing_stretches  # noqa: PLC0415 the same

    sound = decode(Path(path), progress=lambda share: progress(0.6 * share, "reading the recording"))
    progress(0.6, "finding the ringing")
    spans = [(stretch.begin_s, stretch.end_s) for stretch in ringing_stretches(sound.samples)]
    return cut_day(spans, [NotedTime(*time) for time in times], clock_s=clock_s)


def cut_task(
    path: str, cuts: Sequence[tuple[str, float, float]], folder: str, *, progress: Step
) -> list[tuple[str, Kept]]:
    """Make a recording of each cut in the folder of recordings; returns entry and file of each."""
    from judging.ear.decode import decode  # noqa: PLC0415 only a worker process may load what decodes sound
    from judging.jobs.cutting import cut_out  # noqa: PLC0415 the same

    with tempfile.TemporaryDirectory(dir=Path(folder).parent) as parts:
        sound = decode(Path(path), progress=lambda share: progress(0.8 * share, "reading the recording"))
        progress(0.8, "cutting")
        recordings = Recordings(Path(folder), max_bytes=2**40)
        made = [cut_out(sound, Cut(*cut), Path(parts)) for cut in cuts]
        return [(cut[0], recordings.keep_file(part)) for cut, part in zip(cuts, made, strict=True)]


def call_finding(session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `find_task` is handed."""
    params = json.loads(job.params_json)
    return _call(session, store, job, params["times"], params["clock_s"])


def call_cutting(session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `cut_task` is handed."""
    return _call(session, store, job, json.loads(job.params_json)["cuts"], str(store.recordings.folder))


def keep_found(session: Session, job: StoredJob, found: DayCuts) -> None:
    """Note the cuts that were found."""
    day = _day_there(session, json.loads(job.params_json)["day"])
    set_cuts(session, day, cuts_to_json(found), who="ear")


def keep_parts(session: Session, job: StoredJob, parts: Sequence[tuple[str, Kept]]) -> None:
    """Give each entry its part, ask for it to be heard, and give the day's recording up."""
    day = _day_there(session, json.loads(job.params_json)["day"])
    entries = {entry.key: entry for entry in entries_of(session, day.contest_id)}
    for key, kept in parts:
        if not keeps_recordings(entries[key]):  # taken back meanwhile: the part is swept with the next start
            continue
        recording = add_recording(session, entries[key], kept, name=f"cut from {day.name}", who="ear")
        enqueue_listening(session, entries[key], recording)
    erase_day_recording(session, day, who="ear", reason="cut to its entries")


def cuts_to_json(found: DayCuts) -> str:
    """Cuts as they are kept."""
    return json.dumps(
        {
            "clock_s": found.clock_s,
            "cuts": [[cut.entry, cut.begin_s, cut.end_s, cut.left_out] for cut in found.cuts],
            "silent": found.silent,
            "unclaimed": found.unclaimed,
        }
    )


def cuts_from_json(text: str) -> DayCuts:
    """Cuts as `cuts_to_json` keeps them."""
    read = json.loads(text)
    return DayCuts(
        read["clock_s"],
        tuple(Cut(key, begin_s, end_s, tuple((a, b) for a, b in out)) for key, begin_s, end_s, out in read["cuts"]),
        tuple(read["silent"]),
        tuple((a, b) for a, b in read["unclaimed"]),
    )


def _day_there(session: Session, day_id: int) -> StoredDayRecording:
    day = session.get_one(StoredDayRecording, day_id)
    if day.erased_at is not None:
        raise RuleError("The recording of the day is not there any more.")
    return day


def _call(session: Session, store: Store, job: StoredJob, *what: object) -> Call:
    """Hand a task the day's recording, while it is there, and what is to be done with it."""
    _day_there(session, json.loads(job.params_json)["day"])
    path = str(store.recordings.path(job.input_sha256))
    too_large = "the recording: needs more memory than one job may take; give it in two halves"
    return Call((path, *what), recordings={path: job.input_sha256}, too_large=too_large)
