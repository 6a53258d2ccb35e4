"""The arrow of the room: recording → strike log."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]  # it ships no types

from judging import __version__
from judging.ear.beside import lay_beside
from judging.ear.blows import Blows, blows_of
from judging.ear.clarity import clarity_of
from judging.ear.decode import SHORTEST_S, Sound, decode
from judging.ear.doubt import label_is_known, spreads_ms
from judging.ear.features import FRAME_S, HOP, band_energy, loudness, onsets, steady_out
from judging.ear.heard import Heard, Segment
from judging.ear.pace import find_paces
from judging.ear.quality import quality_notes
from judging.ear.reading import Start
from judging.ear.rows import rows_from
from judging.ear.segments import hear_segments, parts_of, share_rung
from judging.ear.start import are_plain, find_starts, margin
from judging.ear.stretches import Stretch, ringing_stretches
from judging.ear.timing import fine_times
from judging.ear.touch import Followed, hear_touch
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
#: Blows this near, in gaps, are the same blow.
_SAME_BLOW = 0.5
#: A first blow set by hand may be set this late.
_EARLY_S = 0.15
_FEWEST_ONSETS = 20


def listen(
    path: Path,
    piece: Piece,
    *,
    progress: Progress | None = None,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
    between_s: tuple[float, float] | None = None,
) -> Heard:
    """Hear every blow of a recording, or of the stretch of it in which the piece is rung.

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
    between_s : (float, float), optional
        From when to when the piece was rung, where a person knows better; only this part is heard.

    Returns
    -------
    Heard
        Times count from the beginning of the recording, whichever part of it was heard.

    Raises
    ------
    InputError
        The recording cannot be used, or the voices are of another number of bells.
    NothingHeard
        It holds no ringing, or not the ringing of this piece.
    """
    tell = progress or (lambda _share, _step: None)
    sound = decode(path, progress=lambda share: tell(0.2 * share, "reading the recording"))
    with _one_thread():
        return _hear_where_rung(
            sound, piece, lambda share, step: tell(0.2 + 0.8 * share, step), first_blow_s, voices, between_s
        )


def hear(
    sound: Sound,
    piece: Piece,
    *,
    progress: Progress | None = None,
    first_blow_s: float | None = None,
    voices: Voices | None = None,
) -> Heard:
    """Hear every blow of a decoded recording that is one stretch of ringing; as `listen`."""
    with _one_thread():
        tell = progress or (lambda _share, _step: None)
        return _hear(sound, onsets(sound.samples), piece, tell, first_blow_s, voices)


def _one_thread() -> threadpool_limits:
    """Hold sums of products to one thread.

    They are so small that several threads spend their time waiting for each other, and a sum taken in another order
    would make the last digits depend on the machine.
    """
    return threadpool_limits(limits=1, user_api="blas")


def _hear_where_rung(
    sound: Sound,
    piece: Piece,
    tell: Progress,
    first_blow_s: float | None,
    known: Voices | None,
    between_s: tuple[float, float] | None,
) -> Heard:
    """Hear the recording as a whole, or where bells ring several times in it, where they ring the piece."""
    strengths = onsets(sound.samples)

    def hear_part(part: tuple[float, float], voices: Voices | None, tell: Progress) -> Heard:
        frames = slice(round(part[0] / FRAME_S), round(part[1] / FRAME_S) + 1)
        cut = replace(sound, samples=sound.samples[frames.start * HOP : (frames.stop - 1) * HOP])
        return _hear(cut, strengths[frames], piece, tell, first_blow_s, known or voices, frames.start * FRAME_S)

    stretches = ringing_stretches(sound.samples, strengths)
    if between_s is not None:
        between_s = _within(sound, between_s)
        heard = hear_part(between_s, None, tell)
        return replace(heard, segments=_chosen_between(stretches, between_s))
    parts = parts_of(stretches, sound.seconds)
    if not parts:
        return _hear(sound, strengths, piece, tell, first_blow_s, known)
    if first_blow_s is not None:
        part = next((part for part in parts if part[0] <= first_blow_s < part[1]), (0.0, sound.seconds))
        return replace(hear_part(part, None, tell), segments=_chosen_between(stretches, part))
    return hear_segments(sound.name, piece, stretches, sound.seconds, hear_part, tell)


def _within(sound: Sound, between_s: tuple[float, float]) -> tuple[float, float]:
    """Return the part of the recording that a person named, where there is one."""
    begin_s, end_s = between_s
    if begin_s < 0 or min(end_s, sound.seconds) - begin_s < SHORTEST_S:
        raise InputError(
            sound.name,
            f"lasts {sound.seconds:.0f} s, so that no ringing can be heard from {begin_s:g} to {end_s:g} s in it",
        )
    return begin_s, min(end_s, sound.seconds)


def _chosen_between(stretches: Sequence[Stretch], between_s: tuple[float, float]) -> tuple[Segment, ...]:
    """All stretches, where there are several; heard are those that lie mostly within the part that was."""
    begin_s, end_s = between_s
    return tuple(
        Segment(
            one.begin_s,
            one.end_s,
            is_heard=min(end_s, one.end_s) - max(begin_s, one.begin_s) > one.seconds / 2,
        )
        for one in (stretches if len(stretches) > 1 else ())
    )


def _hear(
    sound: Sound,
    strengths: NDArray[np.float32],
    piece: Piece,
    tell: Progress,
    first_blow_s: float | None,
    known: Voices | None,
    from_s: float = 0.0,
) -> Heard:
    """Hear one stretch of ringing, whose onsets are known, and which begins so late in its recording."""
    if known is not None and len(known) != piece.bells:
        raise InputError(
            sound.name,
            f"the voices given are of {len(known)} bells, but {piece.title or 'the piece'} is for {piece.bells}",
        )
    tell(0.0, "looking at the sound")
    rises = steady_out(strengths)
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
    start, sure, notes = _choose(starts, sound.name, first_blow_s, from_s)
    tell(0.5, "following the bells")
    told_s = None if first_blow_s is None else first_blow_s - from_s
    followed = _followed(loud, rises, starts, start, piece, sound.name, told_s)
    blows, missing = blows_of(followed.walk, followed.answers, rises)
    tell(0.8, "timing the blows")
    log = _log(sound, blows)
    if first_blow_s is not None:
        log = log.between(first_blow_s - from_s - _EARLY_S, np.inf)
    if not len(log):
        raise NothingHeard(sound.name, f"holds no ringing of {piece.bells} bells")
    tell(1.0, "done")
    clarity = clarity_of(followed.walk, followed.answers)
    notes += quality_notes(sound, log, missing, clarity, followed.shadows)
    rung = share_rung(lay_beside(followed.walk, piece), piece)
    heard = Heard(log, tuple(notes), sure, followed.voices, clarity, rung)
    return heard.later(from_s) if from_s else heard


def _followed(
    loud: NDArray[np.float32],
    rises: NDArray[np.float32],
    starts: list[Start],
    start: Start,
    piece: Piece,
    name: str,
    told_s: float | None,
) -> Followed:
    """Follow the touch from a start; where that leads nowhere, from the best one, if it begins where a person says.

    Striking may be so poor that no reading of the opening begins there until it is followed.
    """
    try:
        return hear_touch(loud, rises, start, piece, name)
    except NothingHeard:
        if start is starts[0] or told_s is None:
            raise
        followed = hear_touch(loud, rises, starts[0], piece, name)
        leads_s = followed.walk.times_s[:, piece.rows[0][0] - 1]
        if np.nanmin(np.abs(leads_s - told_s)) > _SAME_BLOW * np.median(start.pulls.gaps_s):
            raise
        return followed


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


def _choose(starts: list[Start], name: str, first_blow_s: float | None, from_s: float) -> tuple[Start, bool, list[str]]:
    if first_blow_s is not None:
        return _nearest(starts, first_blow_s, from_s, name), True, []
    best = starts[0]
    if best.kept or margin(starts) >= _SURE_MARGIN:
        return best, True, []
    rivals = [start for start in starts[1:] if not best.names_as(start)]
    named = "; ".join(
        f"the first row begins at {from_s + start.first_s:.2f} s (rows agree in "
        f"{100 * max(0.0, start.agreement):.0f} %, bells go down the scale {start.descent:.2f})"
        for start in (best, *rivals[:2])
    )
    return best, False, [f"the start is not sure: {named}. Say which by giving the time of the first blow"]


def _nearest(starts: list[Start], first_blow_s: float, from_s: float, name: str) -> Start:
    """Return the best supported start under which a row begins where a person says."""
    fits = {}
    for start in starts:
        rows = rows_from(start.pulls, start.slot, start.taught_s.shape[1])
        off = float((np.abs(from_s + rows.starts_s - first_blow_s) / rows.gaps_s).min())
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
