"""One picture of a recording, and whose blows are when → the partials of every bell in it: where, how loud, how long.

What only leaks in from another bell's partial is told from a bell's own by this: its energy does not rise with the
bell's blows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.sounding.decaying import FIRST_LAG_S, Decay, DecayTable
from judging.sounding.overlapping import DECAYS_S, Picture, overlap_of

#: A bell, or one stroke of it, is not measured from fewer blows.
FEWEST_BLOWS: Final = 12

#: Partials kept: at most so many a resolution, so far under the bell's loudest, and so well explained by a decay.
_MOST_PARTIALS: Final = 14
_SOFTEST_DB: Final = -45.0
_EXPLAINED: Final = 0.05

#: Energy must rise with the bell's own blows, by at least this share of it and so many standard errors: what leaks in
#: from other bells' partials does not.
_RISES: Final = 0.42
_SURELY: Final = 3.5

#: Two partials nearer than this are one: a swinging bell's partial is raised at handstroke and lowered at backstroke.
_NEAREST: Final = 0.015

#: A peak so far under another bell's in the same band is that bell's, dB.
_ANOTHERS_DB: Final = -20.0

#: Where peaks are looked for, after the blow, s: the bell swings less, and what is not a partial has died away.
_LOOKED_AT_S: Final = 0.25

#: Frequencies are taken between these lags, s, Doppler shifts soon after the blow.
_AT_REST_S: Final = (0.25, 1.8)
_SWINGING_S: Final = (0.02, 0.25)

#: Hand and back differ by no more than this, dB; more is chance.
_STROKES_APART_DB: Final = 6.0


@dataclass(frozen=True, slots=True)
class Partial:
    """One partial of one bell, as measured.

    Parameters
    ----------
    hz : float
        Where it lies when the bell is at rest.
    decay : Decay
        How it falls.
    level_db : tuple of float
        60 ms after the blow, at backstroke and at handstroke.
    shift : float
        How much higher it is soon after a handstroke than soon after a backstroke, halved and relative.
    """

    hz: float
    decay: Decay
    level_db: tuple[float, float]
    shift: float


def partials_in(
    picture: Picture, blows_s: Sequence[NDArray[np.float64]], *, from_hz: float, to_hz: float
) -> list[list[Partial]]:
    """Partials of every bell in one picture.

    Parameters
    ----------
    picture : Picture
        Of the recording.
    blows_s : sequence of ndarray of float64
        The blows of each bell, ascending.
    from_hz, to_hz : float
        Between which they are looked for.

    Returns
    -------
    list of list of Partial
        Of each bell, loudest first.
    """
    energy = np.abs(picture.spectrum) ** 2
    overlap = overlap_of(picture, blows_s)
    found = overlap.solved(energy)[:-1].reshape(len(blows_s), len(DECAYS_S), -1)
    later = (found * np.exp(-2 * np.log(1000) * _LOOKED_AT_S / DECAYS_S)[:, None]).sum(axis=1)
    peaks = [
        (bell, band)
        for bell in range(len(blows_s))
        for band in _peaks(picture, later, bell, from_hz=from_hz, to_hz=to_hz)
    ]
    if not peaks:
        return [[] for _ in blows_s]
    around = [_around(picture, band) for _, band in peaks]
    within = np.stack([energy[:, near].sum(axis=1) for near in around], axis=1)
    weights = overlap.solved(within)
    heard = weights.T @ overlap.columns
    table = DecayTable(np.arange(FIRST_LAG_S, 1.7, picture.hop_s), picture.window_s)
    left = [table.left_over(own_s) for own_s in blows_s]
    partials: list[list[Partial]] = [[] for _ in blows_s]
    for column, (bell, band) in enumerate(peaks):
        own = weights[overlap.of_bell(bell), column] @ overlap.columns[overlap.of_bell(bell)]
        alone = within[:, column] - (heard[column] - own)
        share = own / np.maximum(heard[column], 1e-30)
        partial = _partial(
            picture, band, within[:, column], alone, share, blows_s[bell], table=table, left_over=left[bell]
        )
        if partial is not None:
            partials[bell].append(partial)
    return partials


def _peaks(picture: Picture, later: NDArray[np.float64], bell: int, *, from_hz: float, to_hz: float) -> list[int]:
    """Bands in which a bell is loudest, loudest first, a swinging bell's two sides taken as one."""
    own, hz = later[bell], picture.hz
    others = np.delete(later, bell, axis=0).max(axis=0, initial=0.0)
    is_peak = np.zeros(len(own), bool)
    is_peak[1:-1] = (own[1:-1] > own[:-2]) & (own[1:-1] >= own[2:])
    is_peak &= (hz >= from_hz) & (hz < to_hz) & (own > 10 ** (_ANOTHERS_DB / 10) * others) & (own > 1e-5 * later.max())
    chosen: list[int] = []
    bands = np.flatnonzero(is_peak)
    for band in bands[np.argsort(-own[bands])]:
        apart = max(3.0, _NEAREST * hz[band] * picture.window_s)
        if all(abs(band - other) > apart for other in chosen):
            chosen.append(int(band))
    return chosen[:_MOST_PARTIALS]


def _around(picture: Picture, band: int) -> slice:
    """Bands that hold a partial's energy, shifted by the swing of its bell or not."""
    wide = max(2, int(np.ceil(0.6 * _NEAREST * picture.hz[band] * picture.window_s)))
    return slice(max(0, band - wide), band + wide + 1)


def _partial(
    picture: Picture,
    band: int,
    within: NDArray[np.float32],
    alone: NDArray[np.float64],
    share: NDArray[np.float64],
    blows_s: NDArray[np.float64],
    *,
    table: DecayTable,
    left_over: NDArray[np.float64],
) -> Partial | None:
    """Measure one partial from its energy without the other bells'; nothing where no decay explains it."""
    each = np.array([np.interp(blow_s + table.lag_s, picture.middle_s, alone) for blow_s in blows_s])
    mean = each.mean(axis=0)
    decay = table.fitted(mean, each.std(axis=0) / np.sqrt(len(each)), left_over)
    if not _rises(picture, within, alone, blows_s) or decay.explained < _EXPLAINED or not decay.energy:
        return None
    hand = is_hand(blows_s)
    level_db = 10 * np.log10(decay.energy) - 60 * 0.06 / decay.t60_s
    apart_db = [0.0, 0.0]
    if min(hand.sum(), (~hand).sum()) >= FEWEST_BLOWS:
        both = table.energy_of(decay, mean, left_over)
        for side in (0, 1):
            one = table.energy_of(decay, each[hand == bool(side)].mean(axis=0), left_over)
            apart_db[side] = float(
                np.clip(10 * np.log10(max(one, 1e-30) / max(both, 1e-30)), -_STROKES_APART_DB, _STROKES_APART_DB)
            )
    back, fore = _frequencies(picture, band, share, blows_s, _AT_REST_S)
    hz = (back + fore) / 2
    back, fore = _frequencies(picture, band, share, blows_s, _SWINGING_S)
    return Partial(hz, decay, (level_db + apart_db[0], level_db + apart_db[1]), (fore - back) / 2 / hz)


def _rises(
    picture: Picture, within: NDArray[np.float32], alone: NDArray[np.float64], blows_s: NDArray[np.float64]
) -> bool:
    """Whether a band's energy, without the other bells', rises with the bell's own blows."""
    soon_s = picture.window_s / 2 + 0.02
    before, after = (np.interp(blows_s + lag_s, picture.middle_s, alone) for lag_s in (-soon_s, soon_s))
    rise = float((after - before).mean())
    chance_rise = float((after - before).std()) / np.sqrt(len(blows_s))
    loud = float(np.interp(blows_s + soon_s, picture.middle_s, within).mean())
    return rise > _SURELY * chance_rise and rise > _RISES * loud


def is_hand(blows_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Strokes of one bell's blows: the first is at hand, and a blow that is missing is a stroke all the same.

    Parameters
    ----------
    blows_s : ndarray of float64, shape (B,)
        Ascending.

    Returns
    -------
    ndarray of bool, shape (B,)
    """
    waits = np.diff(blows_s)
    strokes = np.maximum(1, np.rint(waits / np.median(waits)))
    return np.asarray(np.concatenate([[0], np.cumsum(strokes)]) % 2 == 0)


def _frequencies(
    picture: Picture,
    band: int,
    share: NDArray[np.float64],
    blows_s: NDArray[np.float64],
    between_s: tuple[float, float],
) -> tuple[float, float]:
    """Frequency after backstrokes and after handstrokes: how fast the phase turns where the bell has most of a band."""
    last = np.searchsorted(blows_s, picture.middle_s) - 1
    lag_s = np.where(last >= 0, picture.middle_s - blows_s[np.maximum(last, 0)], -1.0)
    near = picture.spectrum[:, max(0, band - 2) : band + 3]
    turned = (near[1:] * np.conj(near[:-1])).sum(axis=1) * share[:-1] ** 2
    used = (lag_s[:-1] >= between_s[0]) & (lag_s[:-1] < between_s[1]) & (lag_s[1:] > lag_s[:-1])
    hand = is_hand(blows_s)[np.maximum(last[:-1], 0)]
    middle_hz = float(picture.hz[band])
    expected = np.exp(-2j * np.pi * middle_hz * picture.hop_s)
    back, fore = (
        middle_hz + float(np.angle(turned[used & (hand == side)].sum() * expected)) / (2 * np.pi * picture.hop_s)
        for side in (False, True)
    )
    return back, fore


def distinct(own: list[Partial]) -> list[Partial]:
    """Partials of a bell that can be heard, each once, lowest first; from all pictures together."""
    if not own:
        return []
    loudest_db = max(max(p.level_db) for p in own)
    kept: list[Partial] = []
    for partial in sorted(own, key=lambda p: -max(p.level_db)):
        near = any(abs(np.log(partial.hz / other.hz)) < _NEAREST for other in kept)
        if not near and max(partial.level_db) > loudest_db + _SOFTEST_DB:
            kept.append(partial)
    return sorted(kept, key=lambda p: p.hz)
