"""Recordings → strike logs, several at once, each in a worker process."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from judging.ear import Heard, Voices, listen
from judging.jobs.with_voices import listen_with_these
from judging.jobs.workers import Progress, Step, run_in_workers
from judging.piece import Piece


def hear(
    recordings: Mapping[str, tuple[Path, Piece]],
    *,
    progress: Progress,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
    between_s: tuple[float, float] | None = None,
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
        The bells', kept from an earlier recording with the recorder of the first in the same place; the first is heard
        with them, or without and a note where they do not fit.
    between_s : (float, float) or None
        From when to when the piece is rung in the first recording, where a person has set it.

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
    first = next(iter(recordings), "")
    return run_in_workers(
        {
            name: partial(_hear, path, piece, first_blow_s, *((voices, between_s) if name == first else (None, None)))
            for name, (path, piece) in recordings.items()
        },
        progress=progress,
    )


def _hear(
    path: Path,
    piece: Piece,
    first_blow_s: float | None,
    voices: Voices | None,
    between_s: tuple[float, float] | None,
    step: Step,
) -> Heard:
    if voices is None:
        return listen(path, piece, progress=step, first_blow_s=first_blow_s, between_s=between_s)
    found = listen_with_these(voices, path, piece, progress=step, first_blow_s=first_blow_s, between_s=between_s)
    if found.with_voices:
        return found.heard
    note = f"the voices given were not used: {found.why_without}"
    return replace(found.heard, notes=(note, *found.heard.notes))
