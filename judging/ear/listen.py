"""The arrow of the room: recording → strike log."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]  # it ships no types

from judging import __version__
from judging.ear.blows import Blows, blows_of
from judging.ear.clarity import Clarity, clarity_of
from judging.ear.decode import Sound, decode
from judging.ear.doubt import label_is_known, spreads_ms
from judging.ear.features import FRAME_S, band_energy, loudness, onsets, steady_out
from judging.ear.pace import find_paces
from judging.ear.quality import quality_notes
from judging.ear.reading import Start
from judging.ear.rows import rows_from
from judging.ear.start import are_plain, find_starts, margin
from judging.ear.timing import fine_times
from judging.ear.touch import hear_touch
from judging.ear.voices import Voices
from judging.errors import InputError, NothingHeard
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

Progress = Callable[[float, str], None]

#: The pace is found in the opening of the ringing.
_OPENING_S = 30.0
#: A start this much better supported than any other is sure.
_SURE_MARGIN = 3.0
#: What it costs a start to be a gap away from where a person says that it is.
_OFF = 60.0
#: A first blow set by hand may be set this late.
_EARLY_S = 0.15
_FEWEST_ONSETS = 20


@dataclass(frozen=True, slots=True)
class Heard:
    """What the ear heard.

    Parameters
    ----------
    log : StrikeLog
        Every blow.
    notes : tuple of str
        How good the recording is, in words, and what to do about it.
    start_is_sure : bool
        False where another reading of the start fits nearly as well; the notes then name the candidates.
    voices : Voices or None
        The bells' voices, which may be kept and given when the same bells are heard through the same microphone again.
    clarity : tuple of Clarity
        How well each bell is told from the others in this recording.
    """

    log: StrikeLog
    notes: tuple[str, ...] = ()
    start_is_sure: bool = True
    voices: Voices | None = None
    clarity: tuple[Clarity, ...] = ()


def listen(
    path: Path,
    piece: Piece,
    *,
    progress: Progress | None = None,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
) -> Heard:
    """Hear every blow of a recording.

    Parameters
    ----------
    path : Path
        The recording.
    piece : Piece
        What should have been rung.
    progress : callable, optional
        Told the share done, from 0 to 1, and what is being done.
    first_blow_s : float, optional
        When the first blow of the piece's first row was struck, where a person knows better.
    voices : Voices, optional
        Of these bells, kept from an earlier recording with the microphone in the same place, the treble's first. No
        opening rounds are needed then, one whole pull is enough, and which bell is which cannot slip.

    Returns
    -------
    Heard

    Raises
    ------
    InputError
        The recording cannot be used, or the voices are of another number of bells.
    NothingHeard
        It holds no ringing, or not the ringing of this piece.
    """
    tell = progress or (lambda _share, _step: None)
    sound = decode(path, progress=lambda share: tell(0.2 * share, "reading the recording"))
    return hear(
        sound,
        piece,
        progress=lambda share, step: tell(0.2 + 0.8 * share, step),
        first_blow_s=first_blow_s,
        voices=voices,
    )


def hear(
    sound: Sound,
    piece: Piece,
    *,
    progress: Progress | None = None,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
) -> Heard:
    """Hear every blow of a decoded recording; as `listen`.

    One thread only: the products are so small that several spend their time waiting for each other, and a sum taken
    in another order would make the last digits depend on the machine.
    """
    with threadpool_limits(limits=1, user_api="blas"):
        return _hear(sound, piece, progress or (lambda _share, _step: None), first_blow_s, voices)


def _hear(sound: Sound, piece: Piece, tell: Progress, first_blow_s: float | None, known: Voices | None) -> Heard:
    if known is not None and len(known) != piece.bells:
        raise InputError(
            sound.name,
            f"the voices given are of {len(known)} bells, but {piece.title or 'the piece'} is for {piece.bells}",
        )
    tell(0.0, "looking at the sound")
    rises = steady_out(onsets(sound.samples))
    loud = loudness(band_energy(sound.samples), _busy(rises))
    tell(0.2, "finding the ringing")
    starts: list[Start] = []
    for stretch in _stretches(rises):
        paces = find_paces(loud[stretch], rises[stretch], piece.bells)
        tell(0.3, "finding the first blow")
        found = find_starts(loud, rises, paces, piece, known)
        if found and (not starts or found[0].agreement > starts[0].agreement):
            starts = found
        if starts and are_plain(starts, piece):
            break
    if not starts:
        raise NothingHeard(sound.name, f"holds no ringing of {piece.bells} bells")
    start, sure, notes = _choose(starts, sound.name, first_blow_s)
    tell(0.5, "following the bells")
    followed = hear_touch(loud, rises, start, piece, sound.name)
    blows, missing = blows_of(followed.walk, followed.answers, rises)
    tell(0.8, "timing the blows")
    log = _log(sound, blows)
    if first_blow_s is not None:
        log = _since(log, first_blow_s - _EARLY_S)
    if not len(log):
        raise NothingHeard(sound.name, f"holds no ringing of {piece.bells} bells")
    tell(1.0, "done")
    clarity = clarity_of(followed.walk, followed.answers)
    notes += quality_notes(sound, log, missing, clarity, followed.shadows)
    return Heard(log, tuple(notes), sure, followed.voices, clarity)


def _stretches(rises: NDArray[np.float32]) -> Iterator[slice]:
    """Half minutes to find the pace in: the first that sounds like blows, then the middle of all that does."""
    busy = np.flatnonzero(rises > 0.5)
    length = int(_OPENING_S / FRAME_S)
    first = max(0, int(busy[0]) - 100) if len(busy) else 0
    yield slice(first, first + length)
    if len(busy) and busy[-1] - busy[0] > 2 * length:
        middle = int(np.median(busy)) - length // 2
        yield slice(middle, middle + length)


def _busy(rises: NDArray[np.float32]) -> slice:
    """The stretch in which nearly all onsets are: what is usual there is usual while the bells ring."""
    busy = np.flatnonzero(rises > 0.5)
    if len(busy) < _FEWEST_ONSETS:
        return slice(0, len(rises))
    first, last = np.percentile(busy, (5, 95))
    return slice(int(first), int(last) + 1)


def _choose(starts: list[Start], name: str, first_blow_s: float | None) -> tuple[Start, bool, list[str]]:
    if first_blow_s is not None:
        return _nearest(starts, first_blow_s, name), True, []
    best = starts[0]
    if best.kept or margin(starts) >= _SURE_MARGIN:
        return best, True, []
    rivals = [start for start in starts[1:] if not best.names_as(start)]
    named = "; ".join(
        f"the first row begins at {start.first_s:.2f} s (rows agree in {100 * max(0.0, start.agreement):.0f} %, "
        f"bells go down the scale {start.descent:.2f})"
        for start in (best, *rivals[:2])
    )
    return best, False, [f"the start is not sure: {named}. Say which by giving the time of the first blow"]


def _nearest(starts: list[Start], first_blow_s: float, name: str) -> Start:
    """Return the best supported start under which a row begins where a person says."""
    fits = {}
    for start in starts:
        rows = rows_from(start.pulls, start.slot, start.taught_s.shape[1])
        off = float((np.abs(rows.starts_s - first_blow_s) / rows.gaps_s).min())
        if off < 1:
            fits[start.support - _OFF * off**2] = start
    if not fits:
        raise NothingHeard(name, f"no row begins near {first_blow_s:.2f} s, where the first blow was said to be")
    return fits[max(fits)]


def _log(sound: Sound, blows: list[Blows]) -> StrikeLog:
    """Time the decoded blows and write them down in order."""
    times, spreads, names = [np.zeros(0)], [np.zeros(0)], [np.zeros(0, np.int8)]
    for bell, mine in enumerate(blows, 1):
        if len(mine.times_s):
            fit = fine_times(sound.samples, mine.times_s)
            times.append(fit.times_s)
            spreads.append(spreads_ms(fit, mine.margin, sound.rate_hz))
            names.append(np.where(label_is_known(mine.margin), bell, 0).astype(np.int8))
    time_s, spread, name = np.concatenate(times), np.concatenate(spreads), np.concatenate(names)
    order = np.lexsort((name, time_s))
    return StrikeLog(np.round(time_s[order], 5), name[order], np.round(spread[order], 2), source=f"ear {__version__}")


def _since(log: StrikeLog, begin_s: float) -> StrikeLog:
    kept = log.times_s >= begin_s
    return StrikeLog(log.times_s[kept], log.bells[kept], log.spread_ms[kept], log.source)
