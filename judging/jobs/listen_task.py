"""A recording heard in a worker process: from its path and the piece's text to the strike log and how it was heard."""

from dataclasses import dataclass
from pathlib import Path

from judging.jobs.workers import Step
from judging.piece import piece_from_file
from judging.striking import write_log


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


def listen_task(
    recording_path: str,
    piece_name: str,
    piece_text: str,
    *,
    progress: Step,
    first_blow_s: float | None = None,
    voices: bytes = b"",
    between_s: tuple[float, float] | None = None,
) -> Listened:
    """Strike log of a recording.

    Parameters
    ----------
    recording_path : str
        Where the recording is.
    piece_name, piece_text : str
        The test piece's file name and text.
    progress : Step
        Told how far it is.
    first_blow_s : float or None
        Where the organiser says the first blow is.
    voices : bytes
        The bells', as they are kept with a tower; empty for none. It is heard without them where they do not fit.
    between_s : (float, float) or None
        Where the organiser says that the piece was rung.

    Returns
    -------
    Listened

    Raises
    ------
    InputError
        The recording or the piece cannot be used.
    NothingHeard
        It holds no ringing of the piece.
    """
    from judging.ear import voices_to_bytes  # noqa: PLC0415 only a worker process may load what decodes sound
    from judging.jobs.with_voices import listen_with  # noqa: PLC0415 the same

    found = listen_with(
        voices,
        Path(recording_path),
        piece_from_file(piece_name, piece_text),
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
