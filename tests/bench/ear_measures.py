"""One recording heard and held against the truth; and many such measurements pooled."""

import time
from collections.abc import Iterable
from typing import Any

import mir_eval
import numpy as np
from ear_scenes import Take

from judging.ear import Voices, listen
from judging.errors import JudgingError
from judging.piece import Piece
from judging.striking import CountingRules, count_striking
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count

#: Wrong is beyond this; told without doubt is a spread up to this.
WRONG_MS, SURE_MS = 20.0, 5.0
#: Beyond this a blow is somewhere else altogether.
_ELSEWHERE_MS = 100.0
#: How far a count may be from the count of the true times: faults, and their share.
ALLOWED = {"clean": (2.5, 0.04)}
ALLOWED_HARD = (3.5, 0.05)

Run = dict[str, Any]


def errors_ms(true: StrikeLog, heard: StrikeLog) -> np.ndarray:
    """Of each true blow: the nearest heard blow of the same bell; infinite beyond 100 ms."""
    error = np.full(len(true), np.inf)
    for bell in np.unique(true.bells):
        mine, want = heard.times_s[heard.bells == bell], true.times_s[true.bells == bell]
        if len(mine):
            error[true.bells == bell] = 1e3 * (mine[np.abs(mine[None] - want[:, None]).argmin(axis=1)] - want)
    error[np.abs(error) > _ELSEWHERE_MS] = np.inf
    return error


def voices_for(take: Take) -> Voices | None:
    """Learn the bells' voices from another touch, where the scene has one."""
    return None if take.taught is None else listen(take.taught.path, take.taught.piece).voices


def measure(take: Take, first_blow_s: float | None = None, voices: Voices | None = None) -> Run:
    """Hear one recording and hold it against the truth."""
    begin, cpu = time.perf_counter(), time.process_time()
    try:
        heard = listen(take.path, take.piece, first_blow_s=first_blow_s, voices=voices)
    except JudgingError as error:
        return {"refused": str(error), "blows": len(take.true)}
    seconds, cpu = time.perf_counter() - begin, time.process_time() - cpu
    log = _within(heard.log, take.true)
    error = errors_ms(take.true, log)
    finite = np.isfinite(error)
    offset = float(np.median(error[finite])) if finite.any() else 0.0
    error = error - offset
    bells = np.unique(take.true.bells[finite])
    spread = _spread_of(take.true, log, offset)
    near = np.abs(error) <= 50
    return {
        "blows": len(take.true),
        "heard": len(log),
        "right": int((np.abs(error) <= WRONG_MS).sum()),
        "unflagged": _unflagged(take.true, log, offset),
        "confident": int((spread <= SURE_MS).sum()),
        "error_ms": np.round(error[near], 3).tolist(),
        "spread_ms": np.round(spread[near], 2).tolist(),
        "bias_ms": [round(float(np.median(error[finite & (take.true.bells == bell)])), 3) for bell in bells],
        "worst_run": _worst_run(take, error),
        "f5": _transcription_f(take.true, log, offset, 0.005),
        "f10": _transcription_f(take.true, log, offset, 0.010),
        "sure": heard.start_is_sure,
        "seconds": round(seconds, 3),
        "cpu_s": round(cpu, 3),
        "audio_s": float(take.true.times_s[-1]),
        "notes": list(heard.notes),
        **_counted(take, heard.log),
    }


def _within(log: StrikeLog, true: StrikeLog) -> StrikeLog:
    """Return what was heard while the piece was rung, and not what was rung before."""
    kept = (log.times_s > true.times_s[0] - 0.5) & (log.times_s < true.times_s[-1] + 0.5)
    return StrikeLog(log.times_s[kept], log.bells[kept], log.spread_ms[kept].copy(), log.source)


def _spread_of(true: StrikeLog, log: StrikeLog, offset_ms: float) -> np.ndarray:
    """Spread that was told with each true blow; infinite where its bell was not heard near it."""
    spread = np.full(len(true), np.inf)
    for bell in np.unique(true.bells):
        mine = np.flatnonzero(log.bells == bell)
        want = true.times_s[true.bells == bell] + offset_ms / 1e3
        if len(mine):
            nearest = mine[np.abs(log.times_s[mine][None] - want[:, None]).argmin(axis=1)]
            there = np.abs(log.times_s[nearest] - want) <= _ELSEWHERE_MS / 1e3
            spread[true.bells == bell] = np.where(there, log.spread_ms[nearest], np.inf)
    return spread


def _unflagged(true: StrikeLog, log: StrikeLog, offset_ms: float) -> int:
    """Blows told without doubt at which that bell did not strike."""
    away = np.full(len(log), np.inf)
    for bell in np.unique(true.bells):
        mine = log.bells == bell
        want = true.times_s[true.bells == bell] + offset_ms / 1e3
        if mine.any():
            away[mine] = 1e3 * np.abs(log.times_s[mine][:, None] - want[None]).min(axis=1)
    return int(((log.bells > 0) & (log.spread_ms <= SURE_MS) & (away > WRONG_MS)).sum())


def _worst_run(take: Take, error: np.ndarray) -> int:
    """Most rows in succession in which any blow is wrong or missing, in rows of as many blows as there are bells."""
    bells = take.piece.bells
    wrong = np.abs(error[: len(error) // bells * bells].reshape(-1, bells)) > WRONG_MS
    longest = run = 0
    for row in wrong.any(axis=1):
        run = run + 1 if row else 0
        longest = max(longest, run)
    return longest


def _counted(take: Take, heard: StrikeLog) -> Run:
    """Count what was heard under the usual rules: rows told to be out of course; and faults, as against the truth's."""
    true, ear = (_count(log, take.piece) for log in (take.true, heard))
    told = set() if ear is None else _out_of_course(ear)
    rows = {
        "rows": take.rows,
        "out_rows": [len(take.out_rows), len(take.out_rows & told), len(told - take.out_rows - take.either_rows)],
        "either_rows": len(take.either_rows),
    }
    return rows if true is None or ear is None else {"faults": [float(true.total), float(ear.total)], **rows}


def _count(log: StrikeLog, piece: Piece) -> Count | None:
    try:
        return count_striking(log, piece, CountingRules())
    except JudgingError:
        return None


def _out_of_course(count: Count) -> set[int]:
    """Rows that a count tells to be out of course, from the last, which is -1."""
    rung, piece = count.rung.bells, count.rung.piece.rows
    return {int(row) - len(rung) for row in np.flatnonzero(((rung != piece) & (rung > 0)).any(axis=1))}


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


def pooled(runs: list[Run], given: list[Run], kind: str) -> dict[str, Any]:
    """Pool measurements, of one scene or of a class."""
    heard = [run for run in runs if "refused" not in run]
    blows = sum(run["blows"] for run in runs)
    error = np.abs(_all(heard, "error_ms"))
    spread = _all(heard, "spread_ms")
    bias = np.abs(_all(heard, "bias_ms"))
    started = [run["right"] > run["blows"] / 2 for run in heard]
    counted = [run for run in heard if "faults" in run]
    rows = sum(run["rows"] for run in heard)
    out, found, invented = np.sum([run["out_rows"] for run in heard], axis=0) if heard else (0, 0, 0)
    return {
        "touches": len(runs),
        "blows": blows,
        "right %": 100 * sum(run.get("right", 0) for run in runs) / blows,
        "given %": 100 * sum(run.get("right", 0) for run in given) / max(1, sum(run["blows"] for run in given)),
        "wrong/1e4": 1e4 * sum(run.get("unflagged", 0) for run in runs) / blows,
        "median": _percentile(error, 50),
        "p95": _percentile(error, 95),
        "bias": _percentile(bias, 95),
        "<=5ms %": 100 * sum(run.get("confident", 0) for run in runs) / blows,
        "1sd %": 100 * float((error <= spread).mean()) if len(error) else np.nan,
        "2sd %": 100 * float((error <= 2 * spread).mean()) if len(error) else np.nan,
        "F5": float(np.mean([run["f5"] for run in heard])) if heard else 0.0,
        "F10": float(np.mean([run["f10"] for run in heard])) if heard else 0.0,
        "start": f"{sum(started)}/{len(runs)}",
        "silent": sum(not ok and run["sure"] for ok, run in zip(started, heard, strict=True)),
        "unsure": sum(not run["sure"] for run in heard),
        "refused": len(runs) - len(heard),
        "run": max((run["worst_run"] for run in heard), default=0),
        "count %": 100 * float(np.mean([_near(*run["faults"], kind) for run in counted])) if counted else np.nan,
        "found %": 100 * found / out if out else np.nan,
        "inv/1e3": 1e3 * invented / rows if rows else np.nan,
        "x real": float(np.median([run["audio_s"] / run["cpu_s"] for run in heard])) if heard else np.nan,
    }


def _all(runs: Iterable[Run], key: str) -> np.ndarray:
    parts = [np.asarray(run[key], float) for run in runs]
    return np.concatenate(parts) if parts else np.zeros(0)


def _percentile(values: np.ndarray, share: float) -> float:
    return float(np.percentile(values, share)) if len(values) else np.nan


def _near(true: float, heard: float, kind: str) -> bool:
    faults, share = ALLOWED.get(kind, ALLOWED_HARD)
    return abs(heard - true) <= max(faults, share * true)
