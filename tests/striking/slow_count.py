"""A slow and obvious counter, written from the rules alone, to compare the real one with.

It knows nothing of arrays: every blow is looked at by itself, in order of time, and everything that has been charged is
written down.
"""

import math
from decimal import Decimal


def own_errors(late: list[list[float | None]], half: list[float]) -> list[list[float | None]]:
    """Own error of each blow in gaps, with the line of a half fault of each row: what it adds to what was charged."""
    answer: list[list[float | None]] = []
    owed = 0.0  # what has been charged and is still being carried
    for row, line in zip(late, half, strict=True):
        answer.append([])
        for blow in row:
            if blow is None:  # no predecessor for the next: it has only the grid
                owed = 0.0
                answer[-1].append(None)
                continue
            same_side = (blow > 0 and owed > 0) or (blow < 0 and owed < 0)
            if not same_side:
                own, owed = blow, 0.0
            elif abs(blow) <= abs(owed):
                own, owed = 0.0, blow
            else:
                own = blow - owed
            if abs(own) >= line - 1e-9:
                owed = blow
            answer[-1].append(own)
    return answer


def level(own: float | None, gap_ms: float, lines: tuple[tuple[float, float], ...]) -> int:
    """0 level striking, 1 blemish, 2 half, 3 whole, by lines of (gaps, ms)."""
    if own is None:
        return 0
    return sum(1 for gaps, ms in lines if abs(own) >= max(gaps, ms / gap_ms) - 1e-9)


def total(levels: list[list[int]], judged: list[bool], *, whole_up_to: int | None = None) -> Decimal:
    """Half for a 2, one for a 3; or whole faults a row (halves rounded up), up to so many."""
    faults = Decimal(0)
    for row, counts in zip(levels, judged, strict=True):
        if not counts:
            continue
        here = sum((Decimal({2: "0.5", 3: "1"}.get(one, "0")) for one in row), Decimal(0))
        faults += here if whole_up_to is None else min(int(here + Decimal("0.5")), whole_up_to)
    return faults


def normal_tail(spread: float, line: float) -> float:
    """Chance that a normal error of a spread reaches a line on either side."""
    return math.erfc(line / spread / math.sqrt(2))
