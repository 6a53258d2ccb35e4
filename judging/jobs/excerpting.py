"""What a judge may hear of a band before the result is final: its recording from the first judged blow to the last.

A conductor's voice before and after, and a file's tags, name a band. Cut by a worker into a file of its own, named by
what it was made from; it can be thrown away at any time, and is made again.
"""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session

from judging import __version__
from judging.jobs.queue import enqueue
from judging.jobs.task_frame import Call
from judging.jobs.workers import Step
from judging.store.engine import Store
from judging.store.evidence import recordings_of, strike_log_of
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredEntry, StoredRecording, StoredStrikeLog

#: Changes whenever the same recording would be cut differently.
EXCERPT_VERSION = f"excerpt {__version__}"

#: A bell speaks for longer than this; the conductor's next word comes later.
_RING_ON_S = 0.3


@dataclass(frozen=True, slots=True)
class Excerpt:
    """A part of a recording that may be heard.

    Parameters
    ----------
    recording : StoredRecording
        Of the band.
    begin_s, end_s : float
        The part, on the clock of recording and strike log.
    path : Path
        The file, once it is made.
    """

    recording: StoredRecording
    begin_s: float
    end_s: float
    path: Path

    @property
    def is_there(self) -> bool:
        """Whether it is made."""
        return self.path.is_file()


def excerpt_of(session: Session, store: Store, entry: StoredEntry, span_s: tuple[float, float]) -> Excerpt | None:
    """Return what a judge may hear of an entry; None where there is no recording on its strike log's clock.

    Parameters
    ----------
    session : Session
        A reading session will do.
    store : Store
        Where the file is.
    entry : StoredEntry
        Which.
    span_s : tuple of float
        First and last judged blow, on the log's clock.

    Returns
    -------
    Excerpt or None
    """
    log = strike_log_of(session, entry.id)
    recording = None if log is None else _recording_of(session, log)
    if recording is None:
        return None
    begin_s, end_s = round(span_s[0], 3), round(span_s[1] + _RING_ON_S, 3)
    said = f"{EXCERPT_VERSION}\n{recording.sha256}\n{begin_s}\n{end_s}"
    path = store.data / "sounds" / f"{hashlib.sha256(said.encode()).hexdigest()}.flac"
    return Excerpt(recording, begin_s, end_s, path)


def enqueue_excerpt(session: Session, entry: StoredEntry, excerpt: Excerpt) -> StoredJob:
    """Ask for what a judge may hear of an entry.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Which.
    excerpt : Excerpt
        Of that entry. A job that is done whose file was thrown away is done again.

    Returns
    -------
    StoredJob
        Asked for twice, it is one.
    """
    return enqueue(
        session,
        kind="excerpt",
        input_sha256=excerpt.recording.sha256,
        engine_version=EXCERPT_VERSION,
        params={"begin_s": excerpt.begin_s, "end_s": excerpt.end_s, "path": excerpt.path.name},
        entry_id=entry.id,
        makes=excerpt.path,
    )


def excerpt_task(
    recording_path: str,
    begin_s: float,
    end_s: float,
    path: str,
    *,
    progress: Step,
) -> str:
    """Cut a recording.

    Parameters
    ----------
    recording_path : str
        Where it is.
    begin_s, end_s : float
        The part.
    path : str
        The file.
    progress : Step
        Told how far it is.

    Returns
    -------
    str
        The file.

    Raises
    ------
    InputError
        The recording cannot be used, or the file cannot be written.
    """
    from judging.ear.decode import decode  # noqa: PLC0415 only a worker may load what decodes sound
    from judging.jobs.cutting import write_part  # noqa: PLC0415 the same

    sound = decode(Path(recording_path), progress=lambda share: progress(0.8 * share, "reading"))
    write_part(sound, begin_s, end_s, Path(path))
    return path


def call_excerpt(_session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `excerpt_task` is handed for a job."""
    params = json.loads(job.params_json)
    recording = str(store.recordings.path(job.input_sha256))
    file = str(store.data / "sounds" / params["path"])
    return Call((recording, params["begin_s"], params["end_s"], file), recordings={recording: job.input_sha256})


def _recording_of(session: Session, log: StoredStrikeLog) -> StoredRecording | None:
    """Return the recording whose clock a log's times are on; a given log is taken to be of the only one."""
    kept = recordings_of(session, log.entry_id)
    if log.recording_id is None:
        return kept[0] if len(kept) == 1 else None
    return next((one for one in kept if one.id == log.recording_id), None)
