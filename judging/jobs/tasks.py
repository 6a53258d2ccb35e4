"""What runs in a worker process: plain functions from paths and texts to plain results, with no database.

Bad input comes back as a `Refused`, not as an exception, since it must cross from one process to another in words.
How far a task is, it writes to a small file beside its input, which the runner reads.
"""

import json
import os
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from judging.errors import JudgingError
from judging.jobs.limits import Limits, limited
from judging.piece import piece_from_file
from judging.store.recordings import verify_file
from judging.striking import write_log

#: A person sees no more than this, and a decoder that tells every block would write hundreds of files a second.
_PROGRESS_EVERY_S = 0.1


@dataclass(frozen=True, slots=True)
class Listened:
    """What the ear made of a recording.

    Parameters
    ----------
    log_csv : str
        The strike log as CSV.
    notes : tuple of str
        The quality report, in sentences.
    start_is_sure : bool
        False where the organiser should say where the first blow is.
    with_voices : bool
        Whether the voices given were used.
    why_without : str
        Why not, in words; empty where none were given.
    clarity : tuple of (int, float, int)
        Of each bell: its number, how far apart it is told (1 at best), and from which bell least well (0 for none).
    learnt : bytes
        The voices that came of it, as they are kept.
    blows : int
        That they were learnt from.
    segments : tuple of (float, float, float or None, bool)
        Where it holds several stretches of ringing, each: begin and end in seconds, the share of the piece rung there
        where that was asked, and whether it is the one that was heard.
    segment_is_sure : bool
        False where the organiser should say which of them is meant.
    """

    log_csv: str
    notes: tuple[str, ...]
    start_is_sure: bool
    with_voices: bool = False
    why_without: str = ""
    clarity: tuple[tuple[int, float, int], ...] = ()
    learnt: bytes = b""
    blows: int = 0
    segments: tuple[tuple[float, float, float | None, bool], ...] = ()
    segment_is_sure: bool = True


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a task could not be done, as a person is told.

    Parameters
    ----------
    message : str
        Names the file, what was found and the likely cause.
    """

    message: str


def listen_task(
    recording_path: str,
    sha256: str,
    piece_name: str,
    piece_text: str,
    *,
    first_blow_s: float | None = None,
    voices: bytes = b"",
    between_s: tuple[float, float] | None = None,
    progress_path: str = "",
    limits: Limits | None = None,
) -> Listened | Refused:
    """Strike log of a recording.

    Parameters
    ----------
    recording_path : str
        Where the recording is.
    sha256 : str
        What its bytes must hash to; checked before anything is decoded.
    piece_name, piece_text : str
        The test piece's file name and text.
    first_blow_s : float or None
        Where the organiser says the first blow is.
    voices : bytes
        The bells', as they are kept with a tower; empty for none. It is heard without them where they do not fit.
    between_s : (float, float) or None
        Where the organiser says that the piece was rung.
    progress_path : str
        A file to write progress to; empty for none.
    limits : Limits or None
        Memory and time that may be used.

    Returns
    -------
    Listened or Refused
        The log, or why there is none.
    """
    progress = ProgressFile(progress_path)
    try:
        with limited(limits):
            # Imported here: only a worker process may load what decodes sound.
            from judging.ear import voices_to_bytes  # noqa: PLC0415
            from judging.jobs.with_voices import listen_with  # noqa: PLC0415

            verify_file(Path(recording_path), sha256)
            piece = piece_from_file(piece_name, piece_text)
            found = listen_with(
                voices,
                Path(recording_path),
                piece,
                progress=progress,
                first_blow_s=first_blow_s,
                between_s=between_s,
            )
            heard = found.heard
            return Listened(
                write_log(heard.log),
                tuple(heard.notes),
                heard.start_is_sure,
                found.with_voices,
                found.why_without,
                tuple((one.bell, one.apart, one.most_like) for one in heard.clarity),
                voices_to_bytes(heard.voices) if heard.voices is not None else b"",
                int((heard.log.bells > 0).sum()),
                tuple((one.begin_s, one.end_s, one.rung, one.is_heard) for one in heard.segments),
                heard.segment_is_sure,
            )
    except JudgingError as problem:
        # The file is named by its hash, which tells a person nothing; its given name might tell a judge which band.
        return Refused(str(problem).replace(sha256, "the recording"))
    except MemoryError:
        return Refused("the recording: needs more memory than one job may take; cut it to the ringing")


class ProgressFile:
    """A file that says how far a task is; call it with a share from 0 to 1 and what is being done, however often.

    Parameters
    ----------
    path : str
        The file; empty for none.
    """

    def __init__(self, path: str) -> None:
        self._path = path
        self._message = ""
        self._next_s = 0.0

    def __call__(self, share: float, message: str) -> None:
        """Write, replacing what was said before in one step; a full disk must not stop the task itself."""
        now_s = time.monotonic()
        if self._path and (message != self._message or now_s >= self._next_s):
            self._message, self._next_s = message, now_s + _PROGRESS_EVERY_S
            temporary = Path(f"{self._path}.{os.getpid()}")
            with suppress(OSError):
                temporary.write_text(json.dumps([share, message]), encoding="utf-8")
                temporary.replace(self._path)


def read_progress(path: Path) -> tuple[float, str]:
    """Share and message that a task last wrote; 0 and nothing where it has not begun.

    Parameters
    ----------
    path : Path
        As given to `ProgressFile`.

    Returns
    -------
    tuple of float and str
        From 0 to 1, and what is being done.
    """
    try:
        share, message = json.loads(path.read_text(encoding="utf-8"))
        return min(1.0, max(0.0, float(share))), str(message)
    except (OSError, ValueError, TypeError):
        return 0.0, ""
