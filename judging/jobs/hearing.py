"""Recordings → strike logs, several at once, each in a worker process."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path

from judging.ear import Heard, Voices, listen
from judging.jobs.workers import Progress, Step, run_in_workers
from judging.piece import Piece


def hear(
    recordings: Mapping[str, tuple[Path, Piece]],
    *,
    progress: Progress,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
) -> dict[str, Heard]:
    """What the ear makes of each recording.

    Parameters
    ----------
    recordings : mapping of str to (Path, Piece)
        By name: the file, and what should have been rung.
    progress : Progress
        Gets one line a recording.
    first_blow_s : float or None
        When the first blow is, where a person has set it.
    voices : Voices or None
        The bells', kept from an earlier recording.

    Returns
    -------
    dict of str to Heard

    Raises
    ------
    InputError
        Naming the first recording that cannot be used.
    NothingHeard
        Where a recording holds no ringing of its piece.
    """
    return run_in_workers(
        {name: partial(_hear, path, piece, first_blow_s, voices) for name, (path, piece) in recordings.items()},
        progress=progress,
    )


def _hear(path: Path, piece: Piece, first_blow_s: float | None, voices: Voices | None, step: Step) -> Heard:
    return listen(path, piece, progress=step, first_blow_s=first_blow_s, voices=voices)
