"""What each stage of the ear buys: the same recordings heard without it, and by a general onset detector.

    python tests/bench/bench_ear_stages.py --seeds 2 --changes 60

Each cell: blows right (right bell, within 20 ms), in per cent; wrong blows told without doubt, per 10,000; the median
error, ms. The last line is a general onset detector whose onsets are given the piece's bells in order.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from unittest.mock import patch

import librosa
import numpy as np
from ear_grid import SCENES
from ear_measures import errors_ms, measure
from ear_scenes import Take, make

import judging.ear.touch
from judging.ear.rows import Rows, rows_from
from judging.ear.timing import Fit
from judging.striking.strike_log import StrikeLog

CHOSEN = ("clean8", "poor8", "mistakes8", "church8", "church12", "street6dB", "real8hall")


def frame_times(_samples: np.ndarray, coarse_s: np.ndarray) -> Fit:
    """Return the times as decoded, with no doubt."""
    return Fit(coarse_s, np.tile(np.eye(1, 81, 40), (len(coarse_s), 1)), 2.0)


@contextmanager
def onset_rows() -> Iterator[None]:
    """Rows as blows alone were followed, not the bells."""
    hear = judging.ear.touch.hear_touch

    def heard(loud: np.ndarray, rises: np.ndarray, start: object, piece: object, name: str) -> object:
        rows = rows_from(start.pulls, start.slot, piece.bells)
        pulls = Rows(rows.starts_s[::2], rows.gaps_s[::2], rows.pull_s)
        with patch("judging.ear.touch.follow_whole_rows", lambda *_: pulls):
            return hear(loud, rises, start, piece, name)

    with patch("judging.ear.listen.hear_touch", heard):
        yield


def trust(value: float) -> Callable[[], object]:
    return lambda: patch("judging.ear.beside.Beside.trust", lambda beside: np.full(len(beside.row), value))


#: Name, and what is changed.
STAGES: dict[str, tuple[Callable[[], object], ...]] = {
    "as it is": (),
    "order not told": (trust(0.0),),
    "order forced": (trust(0.999_999),),
    "bells do not compete": (lambda: patch("judging.ear.candidates._RIVALRY", 0.0),),
    "voices of the opening only": (lambda: patch("judging.ear.touch._MOST_TURNS", 0),),
    "rows by onsets alone": (onset_rows,),
    "times to a frame": (lambda: patch("judging.ear.listen.fine_times", frame_times),),
}


def general_detector(take: Take) -> tuple[float, float]:
    """Give a general detector's onsets the piece's bells in order, from the true first blow on."""
    samples, rate = librosa.load(take.path, sr=22_050)
    onsets_s = librosa.onset.onset_detect(y=samples, sr=rate, hop_length=128, units="time", backtrack=False)
    onsets_s = onsets_s[onsets_s > take.true.times_s[0] - 0.1][: len(take.true)]
    rung = np.resize(take.true.bells, len(onsets_s))
    error = errors_ms(take.true, StrikeLog(onsets_s, rung.astype(np.int8), np.zeros(len(rung))))
    near = np.isfinite(error)
    right = np.abs(error - (np.median(error[near]) if near.any() else 0)) <= 20
    return float(right.sum()), float(len(onsets_s) - right.sum())


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seeds", type=int, default=2)
    asked.add_argument("--changes", type=int, default=60)
    options = asked.parse_args()
    scenes = [scene for name in CHOSEN for scene in SCENES if scene.name == name]
    with tempfile.TemporaryDirectory() as folder:
        takes = {}
        for scene in scenes:
            takes[scene.name] = []
            for seed in range(options.seeds):
                (Path(folder) / f"{seed}").mkdir(exist_ok=True)
                takes[scene.name].append(make(scene, seed, options.changes, Path(folder) / f"{seed}"))
        print(f"{'':28}" + "".join(f"{scene.name:>20}" for scene in scenes))
        for name, changes in STAGES.items():
            cells = []
            for scene in scenes:
                with ExitStack() as stack:
                    for change in changes:
                        stack.enter_context(change())
                    runs = [measure(take) for take in takes[scene.name]]
                blows = sum(run["blows"] for run in runs)
                right = 100 * sum(run.get("right", 0) for run in runs) / blows
                wrong = 1e4 * sum(run.get("unflagged", 0) for run in runs) / blows
                error = np.abs(np.concatenate([run.get("error_ms", []) for run in runs]))
                cells.append(f"{right:.2f} / {wrong:.0f} / {np.median(error):.2f}")
            print(f"{name:28}" + "".join(f"{cell:>20}" for cell in cells), flush=True)
        cells = []
        for scene in scenes:
            got = np.array([general_detector(take) for take in takes[scene.name]]).sum(axis=0)
            blows = sum(len(take.true) for take in takes[scene.name])
            cells.append(f"{100 * got[0] / blows:.2f} / {1e4 * got[1] / blows:.0f}")
        print(f"{'a general onset detector':28}" + "".join(f"{cell:>20}" for cell in cells))


if __name__ == "__main__":
    sys.exit(main())
