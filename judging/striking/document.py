"""A count as plain data: the blows, one line each, and the whole document that `count --json` prints."""

import math
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from judging.striking.leading import leads_of
from judging.striking.values import Count, Fault

#: Faults a row that percentages are printed for: each with its denominator.
PER_ROW = (3, 2, 1)


def percentage(total: Decimal, rows: int, per_row: int) -> Decimal:
    """Percentage of the most faults there could be, to one decimal.

    Examples
    --------
    >>> [str(percentage(Decimal("18.5"), 120, most)) for most in (3, 2, 1)]
    ['94.9', '92.3', '84.6']
    """
    return (100 * (1 - total / (per_row * rows))).quantize(Decimal("0.1"))


def blows_table(count: Count) -> list[dict[str, Any]]:
    """Blows of the piece in order of row and place.

    Parameters
    ----------
    count : Count
        The count.

    Returns
    -------
    list of dict
        ``id`` for links, ``row`` from 0 (first row of the piece as given), ``change`` (None in opening rounds),
        ``place`` from 1, ``bell``, ``stroke``, ``time_s``, ``deviation_ms``, ``own_ms``, ``spread_ms``, ``doubtful``,
        ``judged``, ``charge``. A missing blow has None for its figures, and the bell that was due; rows never rung are
        left out.
    """
    return _table(count, count.rung.rows_before, len(count.rung.piece.rows))


def every_blow(count: Count) -> list[dict[str, Any]]:
    """Return the same, with the opening rounds that were rung before the piece as given: their rows are negative."""
    return _table(count, 0, len(count.rung.piece.rows))


def _table(count: Count, first: int, end: int) -> list[dict[str, Any]]:
    rung, found = count.rung, count.deviations
    doubtful = count.doubtful.tolist()
    rung_rows = rung.is_rung
    hand, judged = rung.piece.is_hand.tolist(), count.judged.tolist()
    times, late, own, spread = (
        np.round(array, digits).tolist()
        for array, digits in ((rung.times_s, 6), (found.ms, 3), (found.own_ms, 3), (rung.spread_ms, 3))
    )
    bells, due, charge = rung.bells.tolist(), rung.piece.rows.tolist(), count.charge.tolist()
    table = []
    for row in range(first, end):
        if not rung_rows[row]:
            continue
        change, stroke = rung.piece.change_of(row), "hand" if hand[row] else "back"
        for column in range(rung.piece.bells):
            heard = bells[row][column] > 0
            table.append(
                {
                    "id": rung.blow_id(row, column + 1),
                    "row": row - rung.rows_before,
                    "change": change,
                    "place": column + 1,
                    "bell": bells[row][column] if heard else due[row][column],
                    "stroke": stroke,
                    "time_s": times[row][column] if heard else None,
                    "deviation_ms": late[row][column] if heard else None,
                    "own_ms": own[row][column] if heard else None,
                    "spread_ms": spread[row][column] if heard else None,
                    "doubtful": doubtful[row][column],
                    "judged": judged[row],
                    "charge": charge[row][column],
                }
            )
    return table


def fault_id(count: Count, fault: Fault) -> str:
    """Stable identifier of a fault: that of its blow; an extra blow's is that of the blow before it, and ``-extra``."""
    own = count.rung.blow_id(fault.row, fault.place)
    return f"{own}-extra" if fault.kind == "extra blow" else own


def _plain(rows: NDArray[np.float64]) -> list[list[float | None]]:
    """Figures as lists, None where there is none."""
    return [[None if math.isnan(figure) else figure for figure in row] for row in np.round(rows, 3).tolist()]


def mean_peal_minutes(count: Count) -> float:
    """Return the pace of a count's judged rows, or of all rows rung where none is judged, as the minutes of 5,040."""
    rhythm = count.rhythm
    rows = count.judged if count.judged.any() else count.rung.is_rung
    row_s = float(np.mean(rhythm.gap_s[rows])) * (count.rung.piece.bells + rhythm.handstroke_gap / 2)
    return 5040 * row_s / 60


def count_document(count: Count) -> dict[str, Any]:
    """Everything a count holds, as `count --json` prints it.

    Parameters
    ----------
    count : Count
        The count.

    Returns
    -------
    dict
        ``total_faults``, ``gap_ms``, ``handstroke_gap``, ``peal_minutes``, ``blows`` and more; plain numbers and text.
    """
    rung, rhythm = count.rung, count.rhythm
    before = rung.rows_before
    return {
        "piece": rung.piece.title,
        "bells": rung.piece.bells,
        "total_faults": float(count.total),
        "beside_judges": float(count.beside_judges),
        "mark": None if count.mark is None else float(count.mark),
        "scheme": count.scheme,
        "fingerprint": count.fingerprint,
        "rows_judged": count.rows_judged,
        "changes_missing": count.changes_missing,
        "most_faults": None if count.most is None else float(count.most),
        "percentages": [
            {
                "per_row": most,
                "denominator": most * count.rows_judged,
                "percent": float(percentage(count.total, count.rows_judged, most)),
            }
            for most in PER_ROW
            if count.rows_judged
        ],
        "gap_ms": round(count.gap_s * 1000, 3),
        "handstroke_gap": round(rhythm.handstroke_gap, 4) if rhythm.handstroke_gap_is_seen else None,
        "handstroke_gap_se": round(rhythm.handstroke_gap_se, 4) if rhythm.handstroke_gap_is_seen else None,
        "peal_minutes": round(mean_peal_minutes(count), 3),
        "summary": count.summary,
        "pull_off": count.pull_off,
        "pull_offs": [
            {
                "time_s": round(pulled.time_s, 6),
                "off_ms": round(pulled.off_ms, 3),
                "faults": float(pulled.faults),
                "against": "settled pace" if pulled.settled else "itself",
                "slower_percent": round(100 * pulled.slower, 1),
                "bells": pulled.bells.tolist(),
                "late_ms": _plain(pulled.late_ms),
                "sentence": pulled.sentence,
            }
            for pulled in count.pull_offs
        ],
        "leads": [
            {
                "bell": one.bell,
                "stroke": "hand" if one.is_hand else "back",
                "leads": one.leads,
                "gap": round(one.gap, 4),
                "gap_se": round(one.gap_se, 4),
            }
            for one in leads_of(count)
        ],
        "notes": list(count.notes),
        "habits": [
            {
                "bells": list(habit.bells),
                "sentence": habit.sentence,
                "rows": [row - before for row in habit.rows],
                "saves": float(habit.saves),
                "praise": habit.praise,
            }
            for habit in count.habits
        ],
        "faults": [
            {
                "id": fault_id(count, fault),
                "row": fault.row - before,
                "change": fault.change,
                "place": fault.place,
                "bell": fault.bell,
                "stroke": "hand" if fault.is_hand else "back",
                "kind": fault.kind,
                "level": fault.level,
                "own_ms": round(fault.own_ms, 3),
                "time_s": round(fault.time_s, 6),
                "doubtful": fault.doubtful,
                "judged": fault.judged,
                "charge": float(fault.charge),
                "sentence": fault.sentence,
            }
            for fault in count.faults
        ],
        "events": [
            {
                "kind": event.kind,
                "first_row": event.first_row - before,
                "last_row": event.last_row - before,
                "bells": list(event.bells),
                "sentence": event.sentence,
            }
            for event in rung.events
        ],
        "blows": blows_table(count),
        "blows_before": _table(count, 0, before),
    }
