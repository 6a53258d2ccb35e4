"""Bells raised and lowered in peal, as a microphone hears them (common practice, no source).

At the bottom bells chime: a row takes well under a second, blows a tenth of a second apart fall over one another, and
they are quiet, the clapper hardly swinging. As bells rise the row takes longer, the handstroke gap opens, and every
blow is as loud as it will be. Lowering is the same the other way round, and ends with all chiming together.
"""

import numpy as np

from judging.sounding import ring, ring_of_bells, room_named
from judging.striking.strike_log import StrikeLog

#: Gap between blows at the bottom, and how much quieter a blow is there.
BOTTOM_GAP_S, BOTTOM_DB = 0.13, -22.0
#: Spread of blows while the bells rise, as a share of the gap.
MUDDLE = 0.25


def raised(
    bells: int,
    *,
    seconds: float,
    seed: int,
    rate: int,
    lowered: bool = False,
    rounds_s: float = 0.0,
    room: str = "ringing chamber",
) -> tuple[np.ndarray, StrikeLog]:
    """Sound of a raise, or of a lower, with that many seconds of full rounds at its top."""
    chance = np.random.default_rng(seed)
    top_gap_s = 2.02 / (bells + 0.5)
    bottom_gap_s = min(BOTTOM_GAP_S, 0.55 * top_gap_s)
    times, names, hands, at, is_hand = [], [], [], 0.0, True
    while at < seconds + rounds_s:
        height = min(1.0, at / seconds)
        gap_s = bottom_gap_s + (top_gap_s - bottom_gap_s) * height
        own = gap_s * (0.08 + (MUDDLE - 0.08) * (1 - height)) * chance.standard_normal(bells)
        times += list(at + gap_s * np.arange(bells) + own)
        names += range(1, bells + 1)
        hands += [is_hand] * bells
        at += gap_s * (bells + (0 if is_hand else height))
        is_hand = not is_hand
    times_s = np.array(times)
    if lowered:
        times_s, names = times_s.max() - times_s, np.tile(np.arange(bells, 0, -1), len(times_s) // bells)
    order = np.argsort(times_s)
    log = StrikeLog(
        times_s[order] - times_s.min(), np.array(names, np.int8)[order], np.zeros(len(times_s)), "raised in peal"
    )
    sound, true = ring(log, ring_of_bells(bells, seed=seed), room_named(room), seed=seed, rate=rate, lead_in_s=4.0)
    length = float(true.times_s[-1] - true.times_s[0])
    clock = (np.arange(len(sound)) / rate - true.times_s[0]) / length
    way = 1 - clock if lowered else clock
    height = np.clip(way * (seconds + rounds_s) / seconds, 0, 1)
    return sound * 10 ** (BOTTOM_DB * (1 - height) / 20), true


def raised_alone(bell: int, bells: int, *, seconds: float, seed: int, rate: int, room: str) -> np.ndarray:
    """Sound of one bell of a ring being raised: blows from ¾ s apart, quiet, to full ones two seconds apart."""
    chance = np.random.default_rng(seed)
    times, at = [], 0.0
    while at < seconds:
        times.append(at)
        at += (0.75 + 1.25 * (at / seconds) ** 1.5) * (1 + 0.02 * chance.standard_normal())
    log = StrikeLog(np.array(times), np.full(len(times), bell, np.int8), np.zeros(len(times)), "raised alone")
    sound, _ = ring(log, ring_of_bells(bells, seed=4), room_named(room), seed=seed, rate=rate, lead_in_s=1.0)
    height = np.clip((np.arange(len(sound)) / rate - 1.0) / seconds, 0, 1)
    return sound * 10 ** (BOTTOM_DB * (1 - height) / 20)
