"""How the energy of one partial falls after its bell's blows → how long it sounds, and how its two halves beat.

A partial has two halves a little apart in frequency, which a blow sets off together; their beat makes the decay dip and
come back. Decay and beat are looked for on a grid, each against the mean over all blows and how sure that mean is.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.sounding.overlapping import FALL, seen_decay

#: Grid: times to fall 60 dB; beats, Hz; share of the louder half. Beats are looked for only where a partial sounds long
#: enough to show one.
_T60S: Final = np.geomspace(0.15, 20.0, 36)
_BEATS_HZ: Final = np.geomspace(0.35, 5.0, 14)
_SHARES: Final = np.array([0.55, 0.62, 0.70, 0.80, 0.90])
_SHORTEST_BEATING: Final = 8

#: From so long after a blow its decay is looked at, until the bell's next blow or a little before.
FIRST_LAG_S: Final = 0.03

#: What no decay of this kind can explain, as a share of the mean: partials nearby, the mouth that turns.
_UNEXPLAINED: Final = 0.1

#: A beat is believed where it leaves less than this share of what a plain decay leaves unexplained.
_BEAT_MUST_LEAVE: Final = 0.6

#: Earlier blows of the same bell that still sound.
_EARLIER: Final = 7


@dataclass(frozen=True, slots=True)
class Decay:
    """One partial's decay.

    Parameters
    ----------
    energy : float
        Squared amplitude at the blow.
    t60_s : float
        Time to fall 60 dB.
    beat_hz, share : float
        How far its halves lie apart (0: no beat to be seen), and the share of the louder.
    explained : float
        Share of what was seen that this decay explains, weighed by how sure it is; 1 is all.
    """

    energy: float
    t60_s: float
    beat_hz: float
    share: float
    explained: float


class DecayTable:
    """Every decay of the grid, as frames of one length see it.

    Parameters
    ----------
    lag_s : ndarray of float64, shape (L,)
        At which lags after a blow.
    window_s : float
        Length of a frame.
    """

    def __init__(self, lag_s: NDArray[np.float64], window_s: float) -> None:
        self.lag_s = lag_s
        plain = np.array([seen_decay(lag_s, t60_s, window_s) for t60_s in _T60S])
        beating = [
            seen_decay(lag_s, t60_s, window_s, beat_hz=beat_hz, share=share)
            for t60_s in _T60S[_SHORTEST_BEATING:]
            for beat_hz in _BEATS_HZ
            for share in _SHARES
        ]
        self._seen = np.concatenate([plain, np.array(beating)])
        kinds = [(t60_s, 0.0, 1.0) for t60_s in _T60S]
        kinds += [(t, b, s) for t in _T60S[_SHORTEST_BEATING:] for b in _BEATS_HZ for s in _SHARES]
        self._kinds = np.array(kinds)
        whole_s = np.array([window_s])  # from here on the frame holds nothing but decay
        self._lead = np.array([seen_decay(whole_s, t, window_s)[0] * np.exp(2 * FALL / t * window_s) for t in _T60S])

    def left_over(self, blows_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """What a bell's own earlier blows leave at each lag, on average over its blows; shape of the whole grid."""
        falls = 2 * FALL / _T60S
        earlier = np.zeros(len(_T60S))
        for back in range(1, min(_EARLIER, len(blows_s) - 1) + 1):
            apart_s = blows_s[back:] - blows_s[:-back]
            earlier += np.exp(-falls[:, None] * apart_s).sum(axis=1) / len(blows_s)
        left = (self._lead * earlier)[:, None] * np.exp(-falls[:, None] * self.lag_s)
        t60_s, _, share = self._kinds.T
        return np.asarray(left[np.searchsorted(_T60S, t60_s)] * (share**2 + (1 - share) ** 2)[:, None])

    def fitted(self, mean: NDArray[np.float64], error: NDArray[np.float64], left_over: NDArray[np.float64]) -> Decay:
        """Decay that comes nearest to what was seen.

        Parameters
        ----------
        mean : ndarray of float64, shape (L,)
            Energy at each lag, mean over the blows, what other bells have of it taken away.
        error : ndarray of float64, shape (L,)
            Standard error of that mean.
        left_over : ndarray of float64, shape (K, L)
            From `left_over`.

        Returns
        -------
        Decay
        """
        seen = self._seen + left_over
        weight = 1 / (error**2 + (_UNEXPLAINED * mean) ** 2 + (1e-3 * max(float(mean.max()), 1e-30)) ** 2)
        energy = np.maximum(seen @ (weight * mean) / (seen**2 @ weight), 0.0)
        missed = (weight * (mean - energy[:, None] * seen) ** 2).sum(axis=1)
        plain, best = int(missed[: len(_T60S)].argmin()), int(missed.argmin())
        if missed[best] > _BEAT_MUST_LEAVE * missed[plain]:
            best = plain
        t60_s, beat_hz, share = (float(value) for value in self._kinds[best])
        explained = 1 - float(missed[best] / max(float((weight * mean**2).sum()), 1e-30))
        return Decay(float(energy[best]), t60_s, beat_hz, share, explained)

    def energy_of(self, decay: Decay, mean: NDArray[np.float64], left_over: NDArray[np.float64]) -> float:
        """Squared amplitude of a decay of known kind in another mean, such as that of one stroke alone."""
        kind = int(np.flatnonzero((self._kinds == (decay.t60_s, decay.beat_hz, decay.share)).all(axis=1))[0])
        seen = self._seen[kind] + left_over[kind]
        weight = 1 / (np.abs(mean) + 0.1 * max(float(mean.max()), 1e-30)) ** 2
        return max(float((weight * seen * mean).sum() / (weight * seen**2).sum()), 0.0)
