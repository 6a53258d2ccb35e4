"""The arrow of the room: recording → strike log."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from judging import __version__
from judging.ear.decode import Sound, decode
from judging.ear.doubt import quality_notes, spreads_ms
from judging.ear.features import FRAME_S, band_energy, loudness, onsets
from judging.ear.follow import Walk, follow, refit
from judging.ear.pace import Pace, Rows, find_paces, follow_pulls, steady_out
from judging.ear.start import Start, lay_beside, rows_from, try_starts
from judging.ear.timing import fine_times
from judging.ear.voices import School, bumps, usual_answers
from judging.errors import NothingHeard
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

Progress = Callable[[float, str], None]

#: The pace is found in the opening of the ringing.
_OPENING_S = 30.0
#: Rows decoded without the piece must agree with it this far, or it is something else; and this much better than
#: under any other start, or the start is not sure.
_SAME_PIECE, _SURE_MARGIN = 0.55, 0.15
#: A reading that agrees this far is not bettered by another pace; and so many paces are tried.
_CERTAINLY, _MOST_PACES = 0.85, 3
_ROUNDS = 3
#: Evidence below which a blow counts as not heard, where a usual answer is 1.
_HEARD = 0.25
#: Frames this near an onset are learnt from, and one in ten of the others.
_NEAR, _SHARE = 12, 10


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
    """

    log: StrikeLog
    notes: tuple[str, ...] = ()
    start_is_sure: bool = True


def listen(path: Path, piece: Piece, *, progress: Progress | None = None, first_blow_s: float | None = None) -> Heard:
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

    Returns
    -------
    Heard

    Raises
    ------
    InputError
        The recording cannot be used.
    NothingHeard
        It holds no ringing, or not the ringing of this piece.
    """
    tell = progress or (lambda _share, _step: None)
    sound = decode(path, progress=lambda share: tell(0.2 * share, "reading the recording"))
    return hear(sound, piece, progress=lambda share, step: tell(0.2 + 0.8 * share, step), first_blow_s=first_blow_s)


def hear(sound: Sound, piece: Piece, *, progress: Progress | None = None, first_blow_s: float | None = None) -> Heard:
    """Hear every blow of a decoded recording; as `listen`."""
    tell = progress or (lambda _share, _step: None)
    tell(0.0, "looking at the sound")
    energy = band_energy(sound.samples)
    rises = steady_out(onsets(sound.samples))
    tell(0.2, "finding the ringing")
    whole = loudness(energy, slice(0, len(energy)))
    opening = _opening(rises)
    paces = find_paces(whole[opening], rises[opening], piece.bells)
    tell(0.3, "finding the first blow")
    reading = _best_reading(energy, rises, paces, piece)
    if reading is None:
        raise NothingHeard(sound.name, f"holds no ringing of {piece.bells} bells")
    loud, pulls, starts = reading
    start, sure, notes = _choose(starts, sound.name, piece, first_blow_s)
    tell(0.5, "following the bells")
    walk = _decode(loud, rises, pulls, start, piece, sound.name)
    tell(0.8, "timing the blows")
    log, more = _log(sound, walk)
    tell(1.0, "done")
    return Heard(log, (*notes, *more), sure)


def _opening(rises: NDArray[np.float32]) -> slice:
    """The first half minute of anything that sounds like blows."""
    busy = np.flatnonzero(rises > 0.5)
    first = max(0, int(busy[0]) - 100) if len(busy) else 0
    return slice(first, first + int(_OPENING_S / FRAME_S))


def _best_reading(
    energy: NDArray[np.float32], rises: NDArray[np.float32], paces: list[Pace], piece: Piece
) -> tuple[NDArray[np.float32], Rows, list[Start]] | None:
    """Follow the ringing at each possible pace until its rows agree with the piece; keep the best."""
    best: tuple[NDArray[np.float32], Rows, list[Start]] | None = None
    for pace in paces[:_MOST_PACES]:
        pulls = follow_pulls(rises, piece.bells, pace)
        if len(pulls) == 0:
            continue
        first, last = int(pulls.starts_s[0] / FRAME_S), int(pulls.starts_s[-1] / FRAME_S) + 1
        loud = loudness(energy, slice(first, max(last, first + 400)))
        starts = try_starts(loud, rises, pulls, piece)
        if best is None or starts[0].agreement > best[2][0].agreement:
            best = loud, pulls, starts
        if starts[0].agreement > _CERTAINLY:
            break
    return best


def _choose(starts: list[Start], name: str, piece: Piece, first_blow_s: float | None) -> tuple[Start, bool, list[str]]:
    if first_blow_s is not None:
        gap = float(np.median(np.diff(sorted(start.first_s for start in starts))))
        nearest = min(starts, key=lambda start: abs(start.first_s - first_blow_s))
        if abs(nearest.first_s - first_blow_s) > 2 * gap:
            raise NothingHeard(name, f"no row begins near {first_blow_s:.2f} s")
        return nearest, True, []
    best = starts[0]
    rivals = [start for start in starts[1:] if (start.slot - best.slot) % piece.bells]
    if not rivals or best.agreement - rivals[0].agreement >= _SURE_MARGIN:
        return best, True, []
    named = "; ".join(
        f"bell 1 first struck at {start.first_s:.2f} s (agrees in {100 * start.agreement:.0f} %)"
        for start in (best, *rivals[:2])
    )
    return best, False, [f"the start is not sure: {named}. Say which by giving the time of the first blow"]


def _decode(
    loud: NDArray[np.float32], rises: NDArray[np.float32], pulls: Rows, start: Start, piece: Piece, name: str
) -> Walk:
    """Decode the whole touch, learning the voices again from what was decoded."""
    rows = rows_from(_one_more_each_end(pulls), start.slot, piece.bells)
    voices, taught = start.voices, start.taught_s
    frames = _telling_frames(rises)
    school: School | None = None
    known: NDArray[np.int64] | None = None
    trust: NDArray[np.float64] | float = 0.0
    for turn in range(_ROUNDS):
        answers = voices.answer(loud)
        walk = follow(answers / usual_answers(answers, taught, 0), 0, rows, known, trust)
        if turn == _ROUNDS - 1:
            break
        beside = lay_beside(walk, piece)
        if (
            turn == 0
            and (agreement := beside.agreement(piece, slice(start.taught.start + 2, start.taught.stop + 2)))
            < _SAME_PIECE
        ):
            raise NothingHeard(
                name,
                f"no ringing of {piece.title or 'this piece'} on {piece.bells} bells was heard: the rows that can be "
                f"made out agree with it in {100 * agreement:.0f} % of their places; is it the right recording?",
            )
        known = np.argsort(piece.rows[beside.row], axis=1)
        trust = 0.85
        rows = refit(walk, rows)
        school = school or School(loud, frames)
        heights = np.clip(walk.evidence, 0.2, 1.0)
        voices = school.teach(bumps(walk.times_s, heights, 0, len(loud))[frames])
        taught = walk.times_s
    return walk


def _one_more_each_end(pulls: Rows) -> Rows:
    """Whole pulls, and one more before and after, where single blows of the first and last rows may lie."""
    if len(pulls) > 1:
        first = pulls.starts_s[0] - (pulls.starts_s[1] - pulls.starts_s[0])
        last = pulls.starts_s[-1] + (pulls.starts_s[-1] - pulls.starts_s[-2])
    else:
        first, last = pulls.starts_s[0] - 20 * pulls.gaps_s[0], pulls.starts_s[0] + 20 * pulls.gaps_s[0]
    return Rows(np.r_[first, pulls.starts_s, last], np.r_[pulls.gaps_s[0], pulls.gaps_s, pulls.gaps_s[-1]])


def _telling_frames(rises: NDArray[np.float32]) -> NDArray[np.int64]:
    """Frames near onsets, and an even share of all others, to learn from."""
    inner = rises[1:-1]
    peaks = np.flatnonzero((inner > rises[:-2]) & (inner >= rises[2:]) & (inner > 0.1)) + 1
    told = np.zeros(len(rises), bool)
    told[::_SHARE] = True
    for offset in range(-_NEAR, _NEAR + 1):
        told[np.clip(peaks + offset, 0, len(rises) - 1)] = True
    return np.flatnonzero(told)


def _log(sound: Sound, walk: Walk) -> tuple[StrikeLog, list[str]]:
    """Time the decoded blows and write them down in order."""
    bells = walk.times_s.shape[1]
    heard = walk.evidence > _HEARD
    rung = np.flatnonzero(heard.sum(axis=1) * 2 >= bells)
    if len(rung) == 0:
        raise NothingHeard(sound.name, f"holds no ringing of {bells} bells")
    inside = np.zeros(len(heard), bool)
    inside[rung[0] : rung[-1] + 1] = True
    heard &= inside[:, None]
    times: list[NDArray[np.float64]] = []
    spreads: list[NDArray[np.float64]] = []
    names: list[NDArray[np.int8]] = []
    for bell in range(bells):
        fit = fine_times(sound.samples, walk.times_s[heard[:, bell], bell])
        times.append(fit.times_s)
        spreads.append(spreads_ms(fit.likeness))
        names.append(np.full(len(fit.times_s), bell + 1, np.int8))
    time_s, spread, name = np.concatenate(times), np.concatenate(spreads), np.concatenate(names)
    order = np.lexsort((name, time_s))
    log = StrikeLog(np.round(time_s[order], 5), name[order], np.round(spread[order], 1), source=f"ear {__version__}")
    blows = int(inside.sum()) * bells
    return log, quality_notes(sound, blows - len(log), int((spread > 5).sum()), blows)
