"""What the striking room reaches, beside its rivals: run it by hand, it prints five tables.

1. Rhythm: how near the ideal times come to the true ones (r.m.s. in ms), for bands of every kind, by the shipped fit,
   by one that is told the noise, by least squares on the same chain, and by a straight line through nine rows.
2. One whole pull.
3. One cause, one fault: what three rules charge for troubles whose charges are known.
4. The shipped tolerance: faults of bands of a known spread, beside published counts of people.
5. Speed.
"""

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.striking import (
    SCHEMES,
    CountingRules,
    StrikeLog,
    ToleranceBands,
    count_document,
    count_striking,
    fit_rhythm,
    grid,
    lay,
    learning,
)
from judging.striking.deviation import own_errors
from judging.striking.values import Rung

sys.path.insert(0, str(Path(__file__).parents[1] / "striking"))  # bands whose every blow is known

from made_bands import drifting, ideal, made_log, plain_bob, rounds

Array = NDArray[np.float64]
_T = TypeVar("_T")
Band = tuple[Piece, Array, Array]

GAPS_S = {6: 0.311, 8: 0.238, 10: 0.215, 12: 0.190}
TARGETS = {6: 6.5, 8: 6.0, 10: 4.5, 12: 4.2}
WHOLE_PULL = {6: 11.0, 8: 9.5, 10: 8.5, 12: 8.0}


def _rung(piece: Piece, times: Array) -> Rung:
    """Blows laid as they were meant, so that only the rhythm is measured."""
    return Rung(piece, times, piece.rows, np.zeros(times.shape), np.arange(times.size).reshape(times.shape))


def _touch(bells: int) -> Piece:
    return plain_bob(bells, -(-120 // (2 * bells)), opening=2)


def _bands(bells: int, seed: int) -> Iterator[tuple[str, Band]]:
    """One band of each kind: its piece, true ideal times and blows."""
    piece, gap_s = _touch(bells), GAPS_S[bells]
    random = np.random.default_rng(1000 + seed)
    for name, drift in (("steady", 0.0), ("drift 0.1 %", 0.001), ("drift 0.4 %", 0.004), ("drift 1 %", 0.01)):
        yield name, (piece, *drifting(piece, seed, gap_s=gap_s, drift=drift))
    yield "drift 0.4 % a whole pull", (piece, *drifting(piece, seed, gap_s=gap_s, every=2))
    due, struck = drifting(piece, seed, gap_s=gap_s, drift=0.001)
    late = np.zeros(due.shape)
    for name, where in (
        ("3 always 60 ms late", piece.rows == 3),
        ("tenor 70 ms late, back", (piece.rows == bells) & ~piece.is_hand[:, None]),
        ("hand leads 60 ms late", (np.arange(bells) == 0)[None, :] & piece.is_hand[:, None]),
    ):
        yield name, (piece, due, struck + np.where(where, 0.07 if "70" in name else 0.06, late))
    clipped = struck.copy()
    for _ in range(8):
        clipped[random.integers(len(due)), random.integers(bells)] += random.choice([-0.2, 0.2])
    yield "eight big clips", (piece, due, clipped)
    held = struck.copy()
    held[15::30] += 0.12
    yield "rows held 120 ms", (piece, due, held)
    yield "surges of 4 %", (piece, *_surging(piece, gap_s, seed))


def _surging(piece: Piece, gap_s: float, seed: int) -> tuple[Array, Array]:
    gaps = np.full(len(piece.rows), gap_s)
    for row in range(20, len(gaps) - 8, 24):
        gaps[row : row + 5] *= 0.96
    starts = np.concatenate([[0.0], np.cumsum((piece.bells + np.append(piece.is_hand[1:], np.False_)) * gaps)[:-1]])
    due = starts[:, None] + np.arange(piece.bells) * gaps[:, None]
    return due, due + np.random.default_rng(seed).normal(scale=0.025, size=due.shape)


def _shipped(piece: Piece, times: Array) -> Array:
    return fit_rhythm(_rung(piece, times)).ideal_s


def _told(piece: Piece, times: Array) -> Array:
    """The chain with the spread, the drift and the handstroke gap it was made with, and no robustness."""
    gap_s = float(np.median(np.diff(times, axis=1)))
    first, hand = times[0, 0], piece.is_hand[1:].astype(float)
    due = np.concatenate([[0.0], np.cumsum(piece.bells + hand)])
    terms = grid.Terms(
        (times - first) / gap_s,
        np.ones(times.shape),
        hand,
        np.full(len(hand), 1e6),
        0.025 / gap_s,
        0.004,
        own_style=False,
    )
    fitted = _least_squares(lambda: grid.steadiest(grid.Grid(due, np.ones(len(due)), 1.0), terms, steps=4))
    return first + fitted.times(piece.bells) * gap_s


def _squares(piece: Piece, times: Array) -> Array:
    """The shipped fit without its robustness."""
    return _least_squares(lambda: _shipped(piece, times))


def _least_squares(action: Callable[[], _T]) -> _T:
    kept = grid.HUBER, learning.HABIT, learning.HELD_SURE
    grid.HUBER, learning.HABIT, learning.HELD_SURE = 1e9, 1e9, 1e9
    try:
        return action()
    finally:
        grid.HUBER, learning.HABIT, learning.HELD_SURE = kept


def _nine_rows(piece: Piece, times: Array) -> Array:
    """A straight line through the blows of nine rows, with open leads."""
    hand = piece.is_hand[1:].astype(float)
    clock = np.concatenate([[0.0], np.cumsum(piece.bells + hand)])[:, None] + np.arange(piece.bells)
    answer = np.empty(times.shape)
    for row in range(len(times)):
        near = slice(max(0, row - 4), row + 5)
        slope, start = np.polyfit(clock[near].ravel() - clock[row, 0], times[near].ravel(), 1)
        answer[row] = start + slope * (clock[row] - clock[row, 0])
    return answer


def rhythm_table(bands: int = 12) -> None:
    """Print how near the ideal times come to the true ones."""
    ways = {"shipped": _shipped, "told the noise": _told, "least squares": _squares, "nine rows": _nine_rows}
    print(f"\n{'rhythm, r.m.s. in ms':40}" + "".join(f"{way:>16}" for way in ways))
    for bells in GAPS_S:
        off: dict[str, dict[str, list[float]]] = {}
        for seed in range(bands):
            for name, (piece, due, struck) in _bands(bells, seed):
                for way, fit in ways.items():
                    off.setdefault(name, {}).setdefault(way, []).append(float(np.mean((fit(piece, struck) - due) ** 2)))
        for name, found in off.items():
            target = f" (design {TARGETS[bells]:g})" if name.startswith("drift 0.4 %") else ""
            figures = "".join(f"{1000 * np.mean(found[way]) ** 0.5:16.2f}" for way in ways)
            print(f"{bells:2} {name + target:37}{figures}")


def whole_pull_table(pulls: int = 400) -> None:
    """Print how near one whole pull comes."""
    print(f"\n{'one whole pull, r.m.s. in ms':34}{'shipped':>16}{'least squares':>16}")
    for bells, target in WHOLE_PULL.items():
        piece = rounds(bells, 2)
        made = [drifting(piece, seed, gap_s=GAPS_S[bells]) for seed in range(pulls)]
        figures = [
            1000 * np.mean([np.mean((fit(piece, struck) - due) ** 2) for due, struck in made]) ** 0.5
            for fit in (_shipped, _squares)
        ]
        print(f"{bells:2} {f'design {target:g}':31}{figures[0]:16.2f}{figures[1]:16.2f}")


#: Troubles in gaps late, and how many faults of half and more a judge charges for each.
_TROUBLES = {
    "late, right again": ((0.4,), 1),
    "early, right again": ((-0.4,), 1),
    "late, carried by three": ((0.4, 0.4, 0.4, 0.4), 1),
    "late, slowly put right": ((0.5, 0.35, 0.2, 0.1), 1),
    "creep of four": ((0.24, 0.48, 0.72, 0.96, 0.6, 0.2), 2),
    "late, then later still": ((0.4, 0.8, 0.8, 0.4), 2),
    "late, then early": ((0.4, -0.4), 2),
    "two bells late apart": ((0.4, 0.0, 0.4), 2),
}


def _charges(late: Array, rule: str) -> int:
    """How many blows a rule charges, at a quarter of a gap."""
    if rule == "own error":
        return int((np.abs(own_errors(late[None], np.array([0.25]))[0]) >= 0.25).sum())
    if rule == "every deviation":
        return int((np.abs(late) >= 0.25).sum())
    return int((np.abs(np.diff(late, prepend=0.0)) >= 0.25).sum())  # every gap that is wide or close


def rules_table(times: int = 400) -> None:
    """Print what three rules charge for troubles struck with a little unsteadiness (0.04 gap)."""
    rules = ("own error", "every deviation", "every gap")
    print(f"\n{'faults charged':34}{'people':>10}" + "".join(f"{rule:>17}" for rule in rules))
    random, off = np.random.default_rng(1), dict.fromkeys(rules, 0.0)
    for name, (trouble, people) in _TROUBLES.items():
        mean = {}
        for rule in rules:
            late = np.concatenate([np.zeros(4), trouble, np.zeros(4)])
            found = [_charges(late + random.normal(scale=0.04, size=late.shape), rule) for _ in range(times)]
            mean[rule] = float(np.mean(found))
            off[rule] += float(np.mean(np.abs(np.array(found) - people))) / len(_TROUBLES)
        print(f"{name:34}{people:10}" + "".join(f"{mean[rule]:17.2f}" for rule in rules))
    print(f"{'mean distance':44}" + "".join(f"{off[rule]:17.2f}" for rule in rules))


def tolerance_table(bands: int = 6) -> None:
    """Print the faults of bands of known spread under the shipped lines and under a raw quarter of a gap."""
    quarter = CountingRules(
        bands=ToleranceBands(blemish_gaps=0.15, half_gaps=0.249, whole_gaps=0.25, half_ms=31, whole_ms=32)
    )
    print("\nfaults, half and whole for each blow; published counts of people: six bells 14 to 64, eight 14 to 111")
    print(f"{'spread, ms':34}{'shipped':>10}{'up to 3 a row':>15}{'a quarter gap, whole':>22}")

    for bells, rows, gap_s in ((6, 120, 0.293), (8, 224, 0.238)):
        for spread_ms in (20, 25, 30, 35, 40, 50):
            totals: list[list[Decimal]] = [[], [], []]
            for seed in range(bands):
                piece = replace(
                    _touch(bells), rows=plain_bob(bells, -(-rows // (2 * bells)), opening=2).rows[: rows + 2]
                )
                _, struck = drifting(piece, seed, gap_s=gap_s, spread_ms=spread_ms, drift=0.002)
                log = made_log(piece, np.sort(struck.ravel()).reshape(struck.shape))
                for found, rules in zip(
                    totals, (CountingRules(), CountingRules(scheme=SCHEMES["up to 3 a row"]), quarter), strict=True
                ):
                    found.append(count_striking(log, piece, rules).total)
            means = [float(sum(found)) / bands for found in totals]
            print(
                f"{bells:2} bells, {rows} rows, {spread_ms:2} ms{'':13}{means[0]:10.1f}{means[1]:15.1f}{means[2]:22.1f}"
            )


def _peal() -> Piece:
    """5,040 different rows on eight bells: what is measured is length, so any rows will do."""
    random = np.random.default_rng(0)
    rows = [np.arange(1, 9)] * 4
    seen = {tuple(rows[0])}
    while len(rows) < 5044:
        row = rows[-1].copy()
        for place in range(int(random.integers(2)), 7, 2):
            if random.random() < 0.9:
                row[[place, place + 1]] = row[[place + 1, place]]
        if tuple(row) not in seen or random.random() < 0.02:
            seen.add(tuple(row))
            rows.append(row)
    return Piece("5,040 rows", np.array(rows, dtype=np.int8), opening=4)


def speed_table() -> None:
    """Print how long a peal takes."""
    piece = _peal()
    print(f"\n{'5,040 rows on eight bells, s':34}{'rows apart':>12}{'laid':>10}{'counted':>10}{'as data':>10}")
    for spread_ms in (20, 30, 45):
        due = ideal(piece, gap_s=0.238)
        struck = due + np.random.default_rng(1).normal(scale=spread_ms / 1000, size=due.shape)
        order = np.argsort(struck.ravel(), kind="stable")
        log = StrikeLog(struck.ravel()[order], piece.rows.ravel()[order], np.zeros(struck.size))
        wrong = int((log.bells.reshape(piece.rows.shape) != piece.rows).any(axis=1).sum())
        count = count_striking(log, piece)
        laid, counted, written = (
            _best_s(action)
            for action in (
                lambda log=log: lay(log, piece),
                lambda log=log: count_striking(log, piece),
                lambda count=count: count_document(count),
            )
        )
        print(f"{f'spread {spread_ms} ms':34}{wrong:12}{laid:10.3f}{counted:10.3f}{written:10.3f}")


def _best_s(action: Callable[[], object], times: int = 3) -> float:
    best = float("inf")
    for _ in range(times):
        begin = time.perf_counter()
        action()
        best = min(best, time.perf_counter() - begin)
    return best


def main() -> None:
    """Print the tables."""
    rhythm_table()
    whole_pull_table()
    rules_table()
    tolerance_table()
    speed_table()


if __name__ == "__main__":
    main()
