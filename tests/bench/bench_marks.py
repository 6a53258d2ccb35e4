"""How long safety, ranking and the order under every line take; run by hand: ``python tests/bench/bench_marks.py``."""

import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np

from judging.contest import read_rules, under_every_line
from judging.marks import Combining, Entrant, MarksRules, Penalty, Sheet
from judging.marks.panel import prepare
from judging.marks.ranking import rank_prepared
from judging.marks.safety import how_safe
from judging.piece import read_piece
from judging.shipped import shipped
from judging.striking import StrikeLog, count_striking

BANDS, JUDGES = 100, 5
#: Seconds that 10,000 resamples of 100 bands and 5 judges may take.
LIMIT_S = 2.0


def timed(work: Callable[[], object]) -> float:
    """Best of three, in seconds."""
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def safety() -> bool:
    """Time the ranking and 10,000 resamples under each policy."""
    generator = np.random.default_rng(1)
    quality = generator.uniform(15, 90, BANDS)
    entrants = [Entrant(f"e{band}", borrowed=band % 3) for band in range(BANDS)]
    sheets = [
        Sheet(f"j{judge}", f"e{band}", Decimal(int(generator.poisson(quality[band] * (0.8 + 0.1 * judge)))))
        for judge in range(JUDGES)
        for band in range(BANDS)
    ]
    within = True
    for policy in ("sum", "mean", "ratio", "standard score", "placings", "majority of placings"):
        rules = MarksRules(combining=Combining(policy), penalties=(Penalty("borrowed ringers", percent=Decimal(15)),))
        prepared = prepare(
            entrants, sheets, rules, judges=[f"j{judge}" for judge in range(JUDGES)], machine={}, unfit={}
        )
        result = rank_prepared(prepared, rules)
        ranking_s = timed(lambda prepared=prepared, rules=rules: rank_prepared(prepared, rules))  # type: ignore[misc]
        safety_s = timed(lambda p=prepared, r=result, u=rules: how_safe(p, r, u))  # type: ignore[misc]
        within &= safety_s < LIMIT_S
        print(f"{policy:22} rank {1000 * ranking_s:6.1f} ms   10,000 resamples {safety_s:5.2f} s")
    return within


def every_line() -> None:
    """Time the machine's order under every line and scheme, twelve bands of the demo's piece."""
    folder: Path = shipped("demo_contest")
    rules = read_rules((folder / "rules.toml").read_text(), name="rules.toml")
    piece = read_piece((folder / "pieces" / "plain-bob-doubles.toml").read_text(), name="piece")
    rows, bells = piece.rows.shape
    generator = np.random.default_rng(2)
    counts = {}
    for band in range(12):
        times_s = (np.arange(rows * bells).reshape(rows, bells) + np.arange(rows)[:, None] // 2) * 0.3
        times_s = (times_s + generator.normal(0, 0.02 + 0.003 * band, (rows, bells))).ravel()
        order = np.argsort(times_s)
        log = StrikeLog(times_s[order], piece.rows.ravel()[order].astype(np.int8), np.full(rows * bells, 1.0))
        counts[f"e{band}"] = count_striking(log, piece, rules.counting)
    entrants = [Entrant(entry) for entry in counts]
    print(f"every line, 12 bands   {timed(lambda: under_every_line(counts, entrants, rules)):5.2f} s")


if __name__ == "__main__":
    good = safety()
    every_line()
    raise SystemExit(0 if good else 1)
