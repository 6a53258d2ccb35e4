"""One recording of the whole day → a recording for each entry, cut by the steward's times, in a worker process."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import numpy as np
import soundfile

from judging.contest.day_file import Cut, DayCuts, NotedTime, cut_day
from judging.ear.decode import Sound, decode
from judging.ear.features import RATE_HZ
from judging.ear.stretches import ringing_stretches
from judging.errors import InputError
from judging.jobs.workers import Progress, Step, run_in_workers


def find_cuts(
    recording: Path, noted: Sequence[NotedTime], *, progress: Progress, clock_s: float | None = None
) -> DayCuts:
    """Find each entry's ringing in a day's recording.

    Parameters
    ----------
    recording : Path
        Of the whole day.
    noted : sequence of NotedTime
        By the steward.
    progress : Progress
        Gets one line.
    clock_s : float or None
        When the recording began by the steward's clock, where that is known.

    Returns
    -------
    DayCuts

    Raises
    ------
    InputError
        The recording cannot be used, holds no ringing, or fits the times in more than one way.
    """
    name = recording.name
    return run_in_workers({name: partial(_find, recording, tuple(noted), clock_s)}, progress=progress)[name]


def write_cuts(recording: Path, cuts: Sequence[Cut], folder: Path, *, progress: Progress) -> tuple[Path, ...]:
    """Write each cut as a recording of its own, ``ENTRY.flac``: one channel at the ear's own rate, without tags.

    Parameters
    ----------
    recording : Path
        Of the whole day.
    cuts : sequence of Cut
        Whose parts.
    folder : Path
        Where they go.
    progress : Progress
        Gets one line.

    Returns
    -------
    tuple of Path

    Raises
    ------
    InputError
        The recording cannot be used, a cut lies outside it, or the folder cannot be written to.
    """
    name = recording.name
    return run_in_workers({name: partial(_write, recording, tuple(cuts), folder)}, progress=progress)[name]


def _find(recording: Path, noted: Sequence[NotedTime], clock_s: float | None, step: Step) -> DayCuts:
    sound = decode(recording, progress=lambda share: step(0.5 * share, "reading the recording"))
    step(0.5, "finding the ringing")
    spans = [(stretch.begin_s, stretch.end_s) for stretch in ringing_stretches(sound.samples)]
    return cut_day(spans, noted, clock_s=clock_s)


def _write(recording: Path, cuts: Sequence[Cut], folder: Path, step: Step) -> tuple[Path, ...]:
    sound = decode(recording, progress=lambda share: step(0.7 * share, "reading the recording"))
    for cut in cuts:
        if cut.begin_s >= sound.seconds:
            raise InputError(
                recording.name, f"lasts {sound.seconds:.0f} s, but {cut.entry} is cut from {cut.begin_s:.0f} s on"
            )
    step(0.7, "cutting")
    return tuple(cut_out(sound, cut, folder) for cut in cuts)


def cut_out(sound: Sound, cut: Cut, folder: Path) -> Path:
    """Write one cut of a decoded recording as ``ENTRY.flac``, whole or not at all.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    path = folder / f"{cut.entry}.flac"
    write_part(sound, cut.begin_s, cut.end_s, path)
    return path


def write_part(sound: Sound, begin_s: float, end_s: float, path: Path) -> None:
    """Write a part of a recording as a file of its own: one channel at the ear's own rate, without tags.

    Parameters
    ----------
    sound : Sound
        The recording.
    begin_s, end_s : float
        The part, in seconds from its beginning.
    path : Path
        The file, FLAC; its folder is made where there is none. It is there whole, or not at all.

    Raises
    ------
    InputError
        It cannot be written.
    """
    half = path.with_name(f".{path.stem}.half")
    part = sound.samples[int(begin_s * RATE_HZ) : int(end_s * RATE_HZ)]
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with soundfile.SoundFile(half, "w", RATE_HZ, 1, subtype="PCM_24", format="FLAC") as file:
            for first in range(0, len(part), 10 * RATE_HZ):  # in one write some lengths crash the encoder
                file.write(np.clip(part[first : first + 10 * RATE_HZ], -1.0, 1.0))
        half.replace(path)
    except (OSError, soundfile.LibsndfileError) as problem:
        half.unlink(missing_ok=True)
        raise InputError(str(path), f"cannot be written ({problem}); is there room, and is the folder yours?") from None
