"""A strike log rung into a file in a worker process, on made-up bells or on those of a recording.

The bells of a recording are measured each time they are rung, and are never louder than it.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from judging import __version__
from judging.jobs.task_frame import Call
from judging.jobs.workers import Step
from judging.striking import read_log, write_log
from judging.striking.strike_log import StrikeLog

if TYPE_CHECKING:
    from judging.sounding import RingOfBells


#: Changes whenever the same log would sound differently.
SOUND_VERSION = f"bells {__version__}"

#: The made-up ring that every band is heard on, so that bands can be compared.
_RING_SEED = 1657


@dataclass(frozen=True, slots=True)
class Recorded:
    """The recording that a tower's own bells are measured from.

    Parameters
    ----------
    path : str
        The file.
    log_csv : str
        Its strike log.
    """

    path: str
    log_csv: str


def sound_task(
    log_csv: str,
    bells: int,
    path: str,
    *,
    progress: Step,
    recorded: Recorded | None = None,
) -> str:
    """Ring a strike log into a file.

    Parameters
    ----------
    log_csv : str
        The log; its first blow is as long after the beginning of the file as after the log's zero.
    bells : int
        How many ring.
    path : str
        The file, whose folder exists.
    progress : Step
        Told how far it is.
    recorded : Recorded or None
        What the bells are measured from, and is not to be sounded louder than; None for made-up bells.

    Returns
    -------
    str
        The file.

    Raises
    ------
    InputError
        The log cannot be rung, the bells cannot be measured, or the file cannot be written.
    """
    from judging.sounding import ring_of_bells, ring_to_file  # noqa: PLC0415 only a worker makes sound

    log = read_log(log_csv.encode(), name="strike log", bells=bells)
    ring, loudness = ring_of_bells(bells, seed=_RING_SEED), None
    if recorded is not None:
        progress(0.0, "measuring the bells")
        own = read_log(recorded.log_csv.encode(), name="the tower’s own bells", bells=bells)
        ring, loudness = own_bells(Path(recorded.path), own, bells)
    ring_to_file(
        Path(path),
        log,
        bells=ring,
        seed=_RING_SEED,
        lead_in_s=max(float(log.times_s[0]), 0.0),
        loudness=loudness,
        progress=progress,
    )
    return path


def call_to_sound(
    log: StrikeLog, bells: int, path: Path, *, recorded: Recorded | None = None, sha256: str = ""
) -> Call:
    """Return what `sound_task` is handed to ring a log into a file, whose folder is made.

    Parameters
    ----------
    log : StrikeLog
        What is rung.
    bells : int
        How many ring.
    path : Path
        The file.
    recorded : Recorded or None
        What the bells are measured from; None for made-up bells.
    sha256 : str
        What the bytes of that recording must hash to.

    Returns
    -------
    Call
    """
    path.parent.mkdir(exist_ok=True)
    return Call(
        (write_log(log), bells, str(path)),
        {} if recorded is None else {"recorded": recorded},
        {} if recorded is None else {recorded.path: sha256},
        "the ringing: is too long to be rung within the memory that one job may take",
    )


def own_bells(recording: Path, log: StrikeLog, bells: int) -> "tuple[RingOfBells, float]":
    """Measure the bells of a recording, and how loud it is.

    Parameters
    ----------
    recording : Path
        Of any kind that the ear reads.
    log : StrikeLog
        Its blows.
    bells : int
        How many there are.

    Returns
    -------
    RingOfBells
        To be rung in a dry room.
    float
        R.m.s. of the ringing, full scale 1.

    Raises
    ------
    InputError
        The recording cannot be read, or its bells cannot be measured.
    """
    from judging.ear.decode import decode  # noqa: PLC0415 only a worker may load what decodes sound
    from judging.ear.features import RATE_HZ  # noqa: PLC0415 the same
    from judging.sounding import bells_of_recording, loudness_of  # noqa: PLC0415 the same

    samples = decode(recording).samples
    return bells_of_recording(samples, RATE_HZ, log, bells), loudness_of(samples, RATE_HZ, log)
