"""How well the ear hears: run by hand, it prints a table and writes the figures as JSON.

    python tests/bench/bench_ear.py                          every scene, three seeds, 120 changes
    python tests/bench/bench_ear.py --scene church8 --seeds 5
    python tests/bench/bench_ear.py --held-out               seeds that nothing was tuned on

Columns: how many true blows; right (right bell, within 20 ms, after one constant offset); wrong blows told with a
spread of 5 ms or less, per 10,000; median, 95th percentile of the error and the largest bias of a bell, ms; share
with a spread of 5 ms or less, and within one and two spreads; mir_eval's transcription F at 5 and 10 ms; starts right,
said to be unsure, and refused; and right again with the first blow given by hand.
"""

import argparse
import json
import resource
import sys
import tempfile
import time
import warnings
from pathlib import Path

import mir_eval
import numpy as np
import scipy.fft
from ear_scenes import Scene, Take, make

from judging.ear import listen
from judging.ear.decode import decode
from judging.ear.features import HOP, RATE_HZ, WINDOW
from judging.errors import JudgingError
from judging.sounding import Character
from judging.striking.strike_log import StrikeLog

HELD_OUT = 9_000

SCENES = (
    Scene("clean6", 6),
    Scene("clean6c", 6, ringing="covered"),
    Scene("clean8", 8),
    Scene("clean10", 10),
    Scene("clean12", 12, hard=True),
    Scene("clean5", 5),
    Scene("tight8", 8, spread_ms=15),
    Scene("poor8", 8, spread_ms=60),
    Scene("learners6", 6, spread_ms=80),
    Scene("chamber8", 8, room="ringing chamber", snr_db=30),
    Scene("church6", 6, room="church", snr_db=20, hard=True),
    Scene("church8", 8, room="church", snr_db=20, hard=True),
    Scene("church12", 12, room="church", snr_db=20, hard=True),
    Scene("outdoors8", 8, room="outdoors", noise="birds", snr_db=20, hard=True),
    Scene("wind12dB", 8, room="ringing chamber", snr_db=12, hard=True),
    Scene("street6dB", 8, room="outdoors", noise="street", snr_db=6, hard=True),
    Scene("voices8", 8, room="ringing chamber", noise="voices", snr_db=15, hard=True),
    Scene("phone8", 8, room="ringing chamber", snr_db=25, recorder="phone", hard=True),
    Scene("mp3-64", 8, room="ringing chamber", snr_db=25, recorder="mp364", hard=True),
    Scene("m4a", 8, room="ringing chamber", snr_db=25, recorder="m4a", hard=True),
    Scene("8kHz", 8, room="ringing chamber", snr_db=25, recorder="8k", hard=True),
    Scene("96kHz", 8, room="ringing chamber", snr_db=25, recorder="96k"),
    Scene("clipped", 8, room="ringing chamber", snr_db=25, recorder="clipped", hard=True),
    Scene("closed8", 8, handstroke_gap=0.0),
    Scene("closed6church", 6, handstroke_gap=0.0, room="church", snr_db=20, hard=True),
    Scene("half-gap8", 8, handstroke_gap=0.5),
    Scene("drift8", 8, drift=0.008),
    Scene("slow6", 6, pace=1.25),
    Scene("fast8", 8, pace=0.85),
    Scene("short-opening8", 8, opening=2),
    Scene("mistakes8", 8, mistakes=4, room="ringing chamber", snr_db=25),
    Scene("mistakes6", 6, mistakes=4, ringing="covered", room="ringing chamber", snr_db=25),
    Scene("rounds8", 8, ringing="rounds", room="ringing chamber", snr_db=25),
    Scene("rounds6closed", 6, ringing="rounds", handstroke_gap=0.0, room="church", snr_db=25),
    Scene("queens6", 6, ringing="queens", room="ringing chamber", snr_db=25),
    Scene("pull6", 6, ringing="whole pull", room="ringing chamber", snr_db=25),
    Scene("pull8", 8, ringing="whole pull", room="ringing chamber", snr_db=25),
    Scene("calls8", 8, ringing="call changes", room="ringing chamber", snr_db=25),
    Scene("ideal8", 8, spread_ms=0.0, drift=0.0, character=Character(spread_ms=0, pull_off_ms=0, pace_drift=0)),
    Scene("ideal6", 6, ringing="covered", character=Character(spread_ms=0, pull_off_ms=0, pace_drift=0)),
    Scene("cropped8", 8, before="cropped", room="ringing chamber", snr_db=25),
    Scene("cropped6closed", 6, before="cropped", handstroke_gap=0.0, room="church", snr_db=20),
    Scene("long-rounds8", 8, before="long rounds", room="ringing chamber", snr_db=25),
    Scene("talk8", 8, before="talk", room="ringing chamber", snr_db=25),
    Scene("practice6", 6, before="practice", room="ringing chamber", snr_db=25),
    Scene("slips8", 8, missing=3, extra=3, room="ringing chamber", snr_db=25),
    Scene("slips6", 6, missing=3, extra=3, room="church", snr_db=20),
    Scene("real8", 8, bank="real"),
    Scene("real6hall", 6, bank="real", room="hall", snr_db=12, hard=True),
    Scene("real8hall", 8, bank="real", room="hall", snr_db=20, hard=True),
    Scene("real12", 12, bank="real", hard=True),
    Scene("sixteen", 16, hard=True),
)


def errors_ms(true: StrikeLog, heard: StrikeLog) -> np.ndarray:
    """Of each true blow: the nearest heard blow of the same bell; infinite beyond 100 ms."""
    error = np.full(len(true), np.inf)
    for bell in np.unique(true.bells):
        mine, want = heard.times_s[heard.bells == bell], true.times_s[true.bells == bell]
        if len(mine):
            error[true.bells == bell] = 1e3 * (mine[np.abs(mine[None] - want[:, None]).argmin(axis=1)] - want)
    error[np.abs(error) > 100] = np.inf
    return error


def measure(take: Take, first_blow_s: float | None = None) -> dict[str, object]:
    """Hear one recording and hold it against the truth."""
    begin, cpu = time.perf_counter(), time.process_time()
    try:
        heard = listen(take.path, take.piece, first_blow_s=first_blow_s)
    except JudgingError as error:
        return {"refused": str(error), "blows": len(take.true), "seconds": time.perf_counter() - begin}
    seconds, cpu = time.perf_counter() - begin, time.process_time() - cpu
    error = errors_ms(take.true, heard.log)
    finite = np.isfinite(error)
    offset = float(np.median(error[finite])) if finite.any() else 0.0
    error = error - offset
    log = heard.log
    back = np.full(len(log), np.inf)
    for bell in np.unique(take.true.bells):
        mine = log.bells == bell
        want = take.true.times_s[take.true.bells == bell] + offset / 1e3
        if mine.any():
            back[mine] = 1e3 * np.abs(log.times_s[mine][:, None] - want[None]).min(axis=1)
    told = (log.bells > 0) & (log.spread_ms <= 5)
    order = np.abs(log.times_s[None] - (take.true.times_s + offset / 1e3)[:, None]).argmin(axis=1)
    spread = np.where(np.isfinite(error), log.spread_ms[order], np.inf)
    near = np.abs(error) <= 50
    return {
        "blows": len(take.true),
        "heard": len(log),
        "right": int((np.abs(error) <= 20).sum()),
        "unflagged": int((told & (back > 20)).sum()),
        "confident": int((spread <= 5).sum()),
        "error_ms": np.round(error[near], 3).tolist(),
        "z": np.round(np.abs(error[near]) / spread[near], 2).tolist(),
        "bias_ms": max(
            (abs(float(np.median(error[finite & (take.true.bells == b)]))) for b in np.unique(take.true.bells[finite])),
            default=np.inf,
        ),
        "f5": _transcription_f(take.true, log, offset, 0.005),
        "f10": _transcription_f(take.true, log, offset, 0.010),
        "sure": heard.start_is_sure,
        "seconds": seconds,
        "cpu_seconds": cpu,
        "audio_seconds": float(take.true.times_s[-1]),
        "notes": list(heard.notes),
    }


def _transcription_f(true: StrikeLog, heard: StrikeLog, offset_ms: float, window_s: float) -> float:
    def notes(times_s: np.ndarray, bells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.column_stack([times_s, times_s + 0.1]), 440 * 2.0 ** bells.astype(float)

    return float(
        mir_eval.transcription.precision_recall_f1_overlap(
            *notes(true.times_s, true.bells),
            *notes(np.maximum(0, heard.times_s - offset_ms / 1e3), heard.bells),
            onset_tolerance=window_s,
            offset_ratio=None,
        )[2]
    )


def summary(runs: list[dict[str, object]], given: list[dict[str, object]]) -> dict[str, float]:
    """Pool the runs of one scene."""
    heard = [run for run in runs if "refused" not in run]
    blows = sum(run["blows"] for run in runs)
    error = np.abs(np.concatenate([run["error_ms"] for run in heard])) if heard else np.array([np.nan])
    z = np.concatenate([run["z"] for run in heard]) if heard else np.array([np.nan])
    started = [run["right"] > run["blows"] / 2 for run in heard]
    return {
        "blows": blows,
        "right %": 100 * sum(run.get("right", 0) for run in runs) / blows,
        "wrong/1e4": 1e4 * sum(run.get("unflagged", 0) for run in runs) / blows,
        "median": float(np.median(error)) if len(error) else np.nan,
        "p95": float(np.percentile(error, 95)) if len(error) else np.nan,
        "bias": float(np.median([run["bias_ms"] for run in heard])) if heard else np.nan,
        "sure %": 100 * sum(run.get("confident", 0) for run in runs) / blows,
        "1sd": 100 * float((z <= 1).mean()),
        "2sd": 100 * float((z <= 2).mean()),
        "F5": float(np.mean([run["f5"] for run in heard])) if heard else 0.0,
        "F10": float(np.mean([run["f10"] for run in heard])) if heard else 0.0,
        "start": f"{sum(started)}/{len(runs)}",
        "silently wrong": sum(not ok and run["sure"] for ok, run in zip(started, heard, strict=True)),
        "unsure": sum(not run["sure"] for run in heard),
        "refused": len(runs) - len(heard),
        "given %": 100 * sum(run.get("right", 0) for run in given) / blows if given else np.nan,
        "x real": float(np.median([run["audio_seconds"] / run["seconds"] for run in heard])) if heard else np.nan,
    }


def speed(changes: int) -> None:
    """Print how long eight bells take, beside one bare short-time Fourier transform of the same settings."""
    with tempfile.TemporaryDirectory() as folder:
        take = make(next(scene for scene in SCENES if scene.name == "chamber8"), 1, changes, Path(folder))
        spent = []
        for _ in range(3):
            begin = time.perf_counter()
            listen(take.path, take.piece)
            spent.append(time.perf_counter() - begin)
        samples = decode(take.path).samples
    taper = np.hanning(WINDOW).astype(np.float32)
    begin = time.perf_counter()
    frames = np.lib.stride_tricks.sliding_window_view(samples, WINDOW)[::HOP]
    for first in range(0, len(frames), 2048):
        scipy.fft.rfft(frames[first : first + 2048] * taper, axis=1)
    bare = time.perf_counter() - begin
    seconds = len(samples) / RATE_HZ
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"{seconds:.0f} s of eight bells: heard in {min(spent):.2f} s ({seconds / min(spent):.0f} times real time),")
    print(f"a bare transform {bare:.2f} s, so {min(spent) / bare:.1f} of them; {peak:.0f} MB, its making included")


def main() -> None:
    """Run the scenes asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--scene", action="append", help="a scene's name, or its beginning; several may be given")
    asked.add_argument("--seeds", type=int, default=3)
    asked.add_argument("--changes", type=int, default=120)
    asked.add_argument("--held-out", action="store_true", help="seeds never used while the ear was being made")
    asked.add_argument("--given", action="store_true", help="also with the first blow given by hand")
    asked.add_argument("--keep", type=Path, help="keep the recordings in this folder and use them again")
    asked.add_argument("--json", type=Path, help="write every figure here")
    asked.add_argument("--speed", action="store_true", help="only how long it takes")
    options = asked.parse_args()
    if options.speed:
        speed(options.changes)
        return
    warnings.simplefilter("error")
    chosen = [s for s in SCENES if not options.scene or any(s.name.startswith(name) for name in options.scene)]
    report: dict[str, object] = {}
    with tempfile.TemporaryDirectory() as folder:
        for scene in chosen:
            runs, given = [], []
            for seed in range(options.seeds):
                take = make(scene, seed + (HELD_OUT if options.held_out else 0), options.changes, Path(folder))
                runs.append(measure(take))
                if options.given and scene.before != "cropped":
                    given.append(measure(take, float(take.true.times_s[0])))
                take.path.unlink()
            line = summary(runs, given)
            if not report:
                print(
                    f"{'scene':16}" + "".join(f"{key:>15}" if key == "silently wrong" else f"{key:>10}" for key in line)
                )
            cells = (
                f"{v:>15}" if k == "silently wrong" else f"{v:>10.2f}" if isinstance(v, float) else f"{v:>10}"
                for k, v in line.items()
            )
            print(f"{scene.name:16}" + "".join(cells), flush=True)
            report[scene.name] = {"summary": line, "runs": runs, "given": given}
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB, recordings' making included")
    if options.json:
        options.json.write_text(json.dumps(report, indent=1, default=float), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
