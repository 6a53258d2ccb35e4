"""How well the ear hears: run by hand, it prints a table and keeps every measurement.

    python tests/bench/bench_ear.py --results ear.jsonl                  every scene of the grid, three seeds
    python tests/bench/bench_ear.py --results ear.jsonl --scene church   scenes whose names begin so
    python tests/bench/bench_ear.py --results ear.jsonl --held-out       seeds that nothing was tuned on
    python tests/bench/bench_ear.py --results ear.jsonl --table          what has been measured so far
    python tests/bench/bench_ear.py --speed                              how long it takes, and how much memory

A measurement is added to the file as soon as it is made, and not made again: a run can be stopped and continued, seed
after seed over all scenes. A changed ear wants a new file. ``--json`` writes the table's figures as one document.

Columns: touches and true blows; right (right bell, within 20 ms, after one constant offset) with the start found and
with the first blow given; wrong blows told with a spread of 5 ms or less, in 10,000; median and 95th percentile of the
error, 95th percentile of the bells' biases, ms; share with a spread of 5 ms or less; within one and two spreads;
mir_eval's transcription F at 5 and 10 ms; starts right; silently wrong; said to be unsure; refused; longest run of rows
with anything wrong; counts near enough to those of the true times; rows out of course found, and invented in 1,000;
times real time, in seconds of one processor.
"""

import argparse
import json
import multiprocessing
import re
import sys
import tempfile
import time
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import scipy.fft
from ear_grid import CLASSES, SCENES
from ear_measures import Run, measure, pooled, voices_for
from ear_scenes import Scene, make

from judging.ear import listen
from judging.ear.decode import decode
from judging.ear.features import HOP, RATE_HZ, WINDOW
from judging.piece import Piece

HELD_OUT = 14_000


def run_grid(scenes: list[Scene], seeds: range, changes: int, results: Path, minutes: float) -> None:
    """Measure what has not been measured yet, until time is up."""
    done = {(run["scene"], run["seed"], run["changes"]) for run in read(results)}
    until = time.monotonic() + 60 * minutes
    place = {scene.name: number for kind in CLASSES.values() for number, scene in enumerate(kind)}
    for seed in seeds:
        for scene in sorted(scenes, key=lambda scene: place[scene.name]):  # a stopped run has something of every class
            if (scene.name, seed, changes) in done or time.monotonic() > until:
                continue
            with tempfile.TemporaryDirectory() as folder:
                found, given = measured(scene, seed, changes, Path(folder))
            line = {"scene": scene.name, "seed": seed, "changes": changes, "found": found, "given": given}
            with results.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line) + "\n")


def measured(scene: Scene, seed: int, changes: int, folder: Path) -> tuple[Run, Run | None]:
    """Hear a scene with the start found and given; a start that was cut off cannot be given."""
    take = make(scene, seed, changes, folder)
    voices = voices_for(take)
    given = None if scene.before == "cropped" else measure(take, float(take.true.times_s[0]), voices)
    return measure(take, voices=voices), given


def read(results: Path) -> list[dict[str, Any]]:
    """Read every measurement that was kept; a line cut off by a stop is left out."""
    if not results.exists():
        return []
    lines = results.read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines if line.endswith("}")]


def tables(runs: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Figures by scene and by class, in the grid's order."""
    table = {}
    for kind, scenes in CLASSES.items():
        names = [scene.name for scene in scenes]
        for name, wanted in (*((name, {name}) for name in names), (f"{kind.upper()}, all", set(names))):
            mine = [run for run in runs if run["scene"] in wanted]
            if mine:
                given = [run["given"] for run in mine if run["given"]]
                table[name] = pooled([run["found"] for run in mine], given, kind)
    return table


def show(table: dict[str, dict[str, Any]]) -> None:
    """Print the table."""
    width = 17
    for number, (name, line) in enumerate(table.items()):
        if number == 0:
            print(" " * width + "".join(f"{key:>10}" for key in line))
        cells = (f"{value:10.2f}" if isinstance(value, float) else f"{value:>10}" for value in line.values())
        print(f"{name:{width}}" + "".join(cells))


def speed() -> None:
    """Print how long five and twenty minutes take beside one bare transform of the same settings, and what memory."""
    chamber = next(scene for scene in SCENES if scene.name == "chamber8")
    for bells, changes in ((8, 120), (8, 540), (12, 500)):
        with tempfile.TemporaryDirectory() as folder:
            take = make(replace(chamber, bells=bells), 1, changes, Path(folder))
            spent = []
            for _ in range(3):
                begin = time.perf_counter()
                listen(take.path, take.piece)
                spent.append(time.perf_counter() - begin)
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                peak = pool.apply(_memory, (take.path, take.piece))
            samples = decode(take.path).samples
            bare = _bare_transform(samples)
        seconds = len(samples) / RATE_HZ
        print(
            f"{seconds:.0f} s of {bells} bells: heard in {min(spent):.2f} s ({seconds / min(spent):.0f} × real time), "
            f"{min(spent) / bare:.1f} bare transforms of {bare:.2f} s; {peak:.0f} MB at most"
        )


def _memory(path: Path, piece: Piece) -> float:
    """Return the most memory of this process, in MB; ``ru_maxrss`` would count what its parent held when it forked."""
    listen(path, piece)
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) / 1e3


def _bare_transform(samples: np.ndarray) -> float:
    taper = np.hanning(WINDOW).astype(np.float32)
    begin = time.perf_counter()
    frames = np.lib.stride_tricks.sliding_window_view(samples, WINDOW)[::HOP]
    for first in range(0, len(frames), 2048):
        scipy.fft.rfft(frames[first : first + 2048] * taper, axis=1)
    return time.perf_counter() - begin


def main() -> None:
    """Measure what is asked for, and print the table."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--results", type=Path, help="where measurements are kept; needed but for --speed")
    asked.add_argument(
        "--scene", action="append", help="a scene's name, its beginning or a class; several may be given"
    )
    asked.add_argument("--seeds", type=int, default=3)
    asked.add_argument("--changes", type=int, default=100)
    asked.add_argument("--held-out", action="store_true", help="seeds never used while the ear was being made")
    asked.add_argument("--minutes", type=float, default=float("inf"), help="begin no further measurement after these")
    asked.add_argument("--table", action="store_true", help="measure nothing, only print the table")
    asked.add_argument("--json", type=Path, help="write the table's figures here")
    asked.add_argument("--speed", action="store_true", help="only how long it takes")
    options = asked.parse_args()
    if options.speed:
        speed()
        return
    if options.results is None:
        asked.error("--results says where measurements are kept")
    warnings.simplefilter("error")
    names = options.scene or [""]
    chosen = [s for s in SCENES if any(s.kind == name or s.name.startswith(name) for name in names)]
    if not options.table:
        first = HELD_OUT if options.held_out else 0
        run_grid(chosen, range(first, first + options.seeds), options.changes, options.results, options.minutes)
    table = tables(read(options.results))
    show(table)
    if options.json:
        options.json.write_text(json.dumps(table, indent=1), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
