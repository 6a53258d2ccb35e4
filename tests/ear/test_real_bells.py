"""The ear on real bells, struck singly and recorded closely, put together to known times (skipped where they are not).

Kinder than a tower: every blow of a bell shares one recording. Each blow has its own force, tilt and Doppler.
"""

from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile

from judging.ear import listen
from judging.piece import Piece
from judging.sounding import Character, human_log

pytestmark = pytest.mark.slow

RATE = 44_100


def put_together(bells: list[np.ndarray], times_s: np.ndarray, names: np.ndarray, hand: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(8)
    out = np.zeros(int((times_s.max() + 4) * RATE))
    for time_s, name, is_hand in zip(times_s, names, hand, strict=True):
        sound = bells[name - 1]
        sound = sound + rng.normal(0, 0.25) * np.diff(sound, prepend=0.0)
        index = np.arange(len(sound))
        swing = np.minimum(index, 0.4 * RATE)
        stretch = (0.003 if is_hand else -0.003) * swing * (1 - swing / (0.8 * RATE))
        sound = np.interp(index + stretch, index, sound) * 10 ** (rng.normal(0, 2) / 20)
        begin = round(time_s * RATE)
        out[begin : begin + len(sound)] += sound[: len(out) - begin]
    out += rng.normal(0, 0.002, len(out))
    return 0.7 * out / np.abs(out).max()


@pytest.mark.parametrize("count", [6, 8, 12])
def test_real_bells_are_told_apart_and_timed(real_bells: list[np.ndarray], tmp_path: Path, count: int) -> None:
    row = np.arange(1, count + 1)
    rows = [row] * 6
    for change in range(18):
        row = row.copy()
        for place in range(change % 2, count - 1, 2):
            row[[place, place + 1]] = row[[place + 1, place]]
        rows.append(row)
    piece = Piece("plain hunting", np.array(rows, np.int8), 6)
    minutes = {6: 165, 8: 178, 12: 198}[count]
    touch = human_log(piece, Character(spread_ms=30, pull_off_ms=35), peal_minutes=minutes, seed=4)
    times_s = touch.log.times_s - touch.log.times_s.min() + 2
    first = (12 - count) // 2
    path = tmp_path / "real.wav"
    soundfile.write(path, put_together(real_bells[first:], times_s, touch.log.bells, touch.is_hand), RATE)
    log = listen(path, piece).log
    offset_s = float(np.median(log.times_s[np.abs(log.times_s - times_s[:, None]).argmin(axis=1)] - times_s))
    score = mir_eval.transcription.precision_recall_f1_overlap(
        np.column_stack([times_s, times_s + 0.1]),
        440 * 2.0 ** touch.log.bells.astype(float),
        np.column_stack([log.times_s - offset_s, log.times_s - offset_s + 0.1]),
        440 * 2.0 ** log.bells.astype(float),
        onset_tolerance=0.02,
        offset_ratio=None,
    )
    assert score[2] >= 0.99
