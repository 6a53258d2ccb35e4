"""What surrounds every task in its worker process: the limits, the progress, and bad input told in words.

A task is a plain function from paths and texts to a plain result; it knows no database, tells a `Step` how far it is,
and raises what is wrong with its input. That comes back as a `Refused`, not as an exception, since it must cross from
one process to another in words. How far a task is stands in a small file, which the runner reads.
"""

import json
import os
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from judging.errors import JudgingError
from judging.jobs.limits import Limits, limited
from judging.store.recordings import verify_file

#: A person sees no more than this, and a decoder that tells every block would write hundreds of files a second.
_PROGRESS_EVERY_S = 0.1


@dataclass(frozen=True, slots=True)
class Call:
    """What a worker is handed: plain values only.

    Parameters
    ----------
    arguments : tuple
        By position.
    options : mapping
        By name.
    recordings : mapping of str to str
        Paths of the recordings that the task reads, and what their bytes must hash to. A person is told of them as
        "the recording": a hash tells nothing, and the name that was given might tell a judge which band it is.
    too_large : str
        What is said where the task needs more memory than it may take.
    """

    arguments: tuple[Any, ...]
    options: Mapping[str, Any] = field(default_factory=dict)
    recordings: Mapping[str, str] = field(default_factory=dict)
    too_large: str = "the recording: needs more memory than one job may take; cut it to the ringing"


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a task could not be done, as a person is told.

    Parameters
    ----------
    message : str
        Names the file, what was found and the likely cause.
    """

    message: str


def run_task(task: Callable[..., Any], call: Call, *, progress_path: str = "", limits: Limits | None = None) -> Any:  # noqa: ANN401 each kind of job has its own result
    """Run a task in this process.

    Parameters
    ----------
    task : callable
        Takes what it is handed, and ``progress``.
    call : Call
        What it is handed; its recordings are compared with their hashes before anything is decoded.
    progress_path : str
        A file to write progress to; empty for none.
    limits : Limits or None
        Memory and time that may be used.

    Returns
    -------
    object
        What the task returns, or a `Refused`.
    """
    try:
        with limited(limits):
            for path, sha256 in call.recordings.items():
                verify_file(Path(path), sha256)
            return task(*call.arguments, **call.options, progress=ProgressFile(progress_path))
    except JudgingError as problem:
        words = str(problem)
        for sha256 in call.recordings.values():
            words = words.replace(sha256, "the recording")
        return Refused(words)
    except MemoryError:
        return Refused(call.too_large)


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
