"""The same log, bells, room, noise and seed give the same bytes, on however many threads the machine computes."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from judging.piece.piece import Piece
from judging.sounding import ROOMS, Noise, ideal_log, ring_of_bells, ring_to_file

PROGRAM = """
import sys, zlib
import numpy as np
from judging.sounding import ROOMS, Noise, ring, ring_of_bells
from judging.striking.strike_log import StrikeLog
log = StrikeLog(np.arange(24) * 0.21, np.arange(24, dtype=np.int8) % 4 + 1, np.zeros(24))
samples, _ = ring(log, ring_of_bells(4, seed=3), ROOMS["church"], Noise("wind", 20), seed=4)
print(zlib.crc32(samples.tobytes()))
"""


def test_the_same_seeds_give_the_same_file_and_other_seeds_another(
    tmp_path: Path, hunting: Callable[..., Piece]
) -> None:
    log, bells = ideal_log(hunting(3, rows=4, opening=2), peal_minutes=90), ring_of_bells(3, seed=3)
    made = []
    for number, seed in enumerate((4, 4, 5)):
        path = tmp_path / f"{number}.flac"
        ring_to_file(path, log, bells=bells, seed=seed, room=ROOMS["ringing chamber"], noise=Noise("birds", 20))
        made.append(path.read_bytes())

    assert made[0] == made[1]
    assert made[0] != made[2]


@pytest.mark.slow
def test_one_thread_and_two_give_the_same_samples() -> None:
    """A matrix product shared out among threads may add in another order, and so differ in the last bit."""
    sums = [
        subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for threads in ("1", "2")
    ]

    assert sums[0] == sums[1]
    assert sums[0].strip().isdigit()
