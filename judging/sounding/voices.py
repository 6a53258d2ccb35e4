"""A bell's stroke as tables of decaying vibration, one a partial, ready to be added up blow by blow.

A blow is a weighted sum of its bell's tables, so that no two blows share a waveform: each weight is a complex number,
its size the loudness of that partial in this blow, its angle the phase, which also carries the fraction of a sample
by which the blow falls between two samples. Tables of a bell are kept in two groups by length (the low partials sound
long).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.sounding.bells import Bell

#: Grid of the slowly varying part of a vibration (decay, warble, turning mouth), in samples.
COARSE: Final = 64

#: A partial is let go when it has fallen by 60 dB; its last tenth fades so that letting go cannot be heard.
FADE: Final = 0.1


@dataclass(frozen=True, slots=True)
class Voice:
    """What one stroke of a bell is made of.

    Parameters
    ----------
    hz : ndarray of float64, shape (P,)
        Frequency of each partial at the blow, Doppler shift included.
    groups : tuple of (slice, ndarray of float32, shape (2, p, L))
        Which partials, and their tables: real part and negative imaginary part, so that the weighted sum of both rows
        is the real part of weight times vibration.
    """

    hz: NDArray[np.float64]
    groups: tuple[tuple[slice, NDArray[np.float32]], ...]


def voice(bell: Bell, *, is_hand: bool, rate: int) -> Voice:
    """Tables of one stroke of a bell.

    Parameters
    ----------
    bell : Bell
        Whose.
    is_hand : bool
        Handstroke or backstroke.
    rate : int
        Samples a second.

    Returns
    -------
    Voice
        Tables start at the moment of contact; sample i is i / rate after it.
    """
    nominal = bell.names.index("nominal")
    parts = (slice(0, nominal), slice(nominal, len(bell.names)))
    groups = []
    for part in parts:
        length = int(np.ceil(bell.t60_s[part].max() * rate / COARSE)) * COARSE + 1
        table = np.zeros((2, part.stop - part.start, length), np.float32)
        moment_s = _moment_at_bell_s(bell, np.arange(length) / rate, is_hand=is_hand)
        for row, partial in enumerate(range(part.start, part.stop)):
            _vibrate(table[:, row], bell, partial, moment_s, is_hand=is_hand, rate=rate)
        groups.append((part, table))
    shift = bell.doppler if is_hand else -bell.doppler
    return Voice(bell.hz * (1 + shift), tuple(groups))


def _moment_at_bell_s(bell: Bell, time_s: NDArray[np.float64], *, is_hand: bool) -> NDArray[np.float64]:
    """When what is heard at each time left the bell: the bell comes nearer or goes away, ever less."""
    shift = bell.doppler if is_hand else -bell.doppler
    decay_s = bell.settle_s / 3  # 5 % left after settle_s
    return time_s + shift * decay_s * -np.expm1(-time_s / decay_s)


def _vibrate(
    out: NDArray[np.float32],
    bell: Bell,
    partial: int,
    moment_s: NDArray[np.float64],
    *,
    is_hand: bool,
    rate: int,
) -> None:
    """Write one partial's vibration, real part and negative imaginary part, into the two rows given."""
    length = min(out.shape[1], int(np.ceil(bell.t60_s[partial] * rate / COARSE)) * COARSE + 1)
    coarse_s = np.arange(0, length, COARSE) / rate
    fall = np.log(1000) / bell.t60_s[partial]
    share = bell.warble_share[int(is_hand), partial]
    beat = 2 * np.pi * bell.warble_hz[partial] * coarse_s
    turned = 0.5 - 0.5 * np.cos(2 * np.pi * bell.swing_hz * coarse_s)
    dip_db = bell.swing_db * turned * np.exp(-coarse_s / bell.settle_s) * (bell.hz[partial] >= bell.nominal_hz)
    start = 10 ** (bell.level_db[int(is_hand), partial] / 20) * np.exp(fall * 0.06)
    left_over = np.clip((1 - coarse_s / coarse_s[-1]) / FADE, 0, 1)
    size = start * np.exp(-fall * coarse_s) * 10 ** (-dip_db / 20) * left_over
    slow = size * (share + (1 - share) * np.exp(1j * beat))
    fine = np.arange(COARSE, dtype=np.float32) / COARSE
    slow = (slow[:-1, None] + np.diff(slow)[:, None] * fine).ravel().astype(np.complex64)
    pushed = int(np.ceil(bell.contact_s * rate))
    slow[:pushed] *= np.sin(np.pi / 2 * np.arange(pushed, dtype=np.float32) / (bell.contact_s * rate)) ** 2
    cycles = bell.hz[partial] * moment_s[: len(slow)] + bell.phase[int(is_hand), partial] / (2 * np.pi)
    angle = (2 * np.pi * (cycles - np.floor(cycles))).astype(np.float32)
    cosine, sine = np.cos(angle), np.sin(angle)
    out[0, : len(slow)] = slow.real * cosine - slow.imag * sine
    out[1, : len(slow)] = -(slow.real * sine + slow.imag * cosine)
