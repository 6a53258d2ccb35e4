"""The pace of a piece and its handstroke gap, drawn over the rows, with the leads marked."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from judging.papers.drawings.svg import drawing, element, line, number, text
from judging.papers.words import peal_speed
from judging.striking.values import Count

_WIDTH = 720.0
_LEFT, _RIGHT = 58.0, 14.0
_PACE_TOP, _PACE_BOTTOM = 24.0, 120.0
_GAP_TOP, _GAP_BOTTOM = 152.0, 214.0
_HEIGHT = 234.0

#: From a row index to its place across the drawing.
_Across = Callable[[float], float]

#: A peal is reckoned at 5,040 changes (trade usage; Framework for Method Ringing: 5,000 or more).
_PEAL_CHANGES = 5040

#: Points are thinned past this many, which is about what the width can show.
_MOST_POINTS = 360

#: Handstroke gaps are drawn between these, in gaps; anything beyond stands at the edge.
_GAP_LOW, _GAP_HIGH = 0.0, 2.0


def peal_minutes(count: Count) -> NDArray[np.float64]:
    """Pace of each row as the minutes a peal would take.

    Returns
    -------
    ndarray of float64, shape (R,)
        5,040 × row / 60, where a row lasts half a whole pull: (2n + h)·g / 2.
    """
    bells = count.rung.piece.bells
    row_s = (2 * bells + count.rhythm.handstroke_gap) * count.rhythm.gap_s / 2
    return _PEAL_CHANGES * row_s / 60


def pace_svg(count: Count) -> str:
    """Drawing of the pace, and below it the gap before each handstroke lead, over the rows.

    Parameters
    ----------
    count : Count
        The machine's count.

    Returns
    -------
    str
        SVG; upward is quicker. Leads are ruled, and rows that are not judged are shaded.
    """
    minutes = peal_minutes(count)
    rows = len(minutes)
    scale = (_WIDTH - _LEFT - _RIGHT) / max(rows - 1, 1)

    def across(row: float) -> float:
        return _LEFT + row * scale

    low, high, step = _range(minutes)
    shapes = [
        _unjudged(count.judged, across),
        _leads(count, across),
        _pace(minutes, across, low, high, step),
        _gaps(count, across),
        _changes(count, across),
    ]
    return drawing(
        _WIDTH,
        _HEIGHT,
        "".join(shapes),
        title="Pace and handstroke gap, row by row",
        description=pace_told(count),
        name="pace",
    )


def pace_told(count: Count) -> str:
    """Tell the same in words, for whoever cannot see the drawing."""
    minutes = peal_minutes(count)
    mean = float(np.mean(minutes[count.judged])) if count.judged.any() else float(np.mean(minutes))
    told = (
        f"Peal speed {peal_speed(mean)} on average, from {peal_speed(float(minutes.min()))} at its quickest "
        f"to {peal_speed(float(minutes.max()))} at its slowest. "
    )
    return told + (
        f"The handstroke gap is {count.rhythm.handstroke_gap:.2f} of a gap."
        if count.rhythm.handstroke_gap_is_seen
        else f"The handstroke gap cannot be seen here; {count.rhythm.handstroke_gap:.2f} of a gap is assumed."
    )


def _range(minutes: NDArray[np.float64]) -> tuple[float, float, float]:
    """Lowest and highest minutes of the axis and the step between its lines: at least ten minutes, five or so lines."""
    low, high = float(minutes.min()), float(minutes.max())
    margin = max(10 - (high - low), 2) / 2
    low, high = low - margin, high + margin
    step = next(step for step in (2.0, 5.0, 10.0, 20.0, 60.0, 120.0, 1e9) if (high - low) / step <= 6)
    return low, high, step


def _pace(minutes: NDArray[np.float64], across: _Across, low: float, high: float, step: float) -> str:
    scale = (_PACE_BOTTOM - _PACE_TOP) / (high - low)

    def down(value: float) -> float:
        return _PACE_TOP + (value - low) * scale

    shapes = [text(_LEFT, 14, "pace, as the time of a peal; upward is quicker", size=11)]
    for value in np.arange(np.ceil(low / step) * step, high, step):
        shapes.append(line(_LEFT, down(value), _WIDTH - _RIGHT, down(value), width=0.5, stroke_opacity=0.25))
        shapes.append(text(_LEFT - 8, down(value) + 3.5, peal_speed(float(value)), size=10, anchor="end"))
    rows = np.unique(np.linspace(0, len(minutes) - 1, min(len(minutes), _MOST_POINTS)).round().astype(int))
    points = " ".join(f"{number(across(row))},{number(down(minutes[row]))}" for row in rows.tolist())
    shapes.append(
        element(
            "polyline",
            points=points,
            fill="none",
            stroke="currentColor",
            stroke_width=1.8,
            stroke_linejoin="round",
            class_="pace-line",
        )
    )
    return "".join(shapes)


def _gaps(count: Count, across: _Across) -> str:
    """Handstroke gaps as heard (points) and as the band's own style has them (line)."""
    scale = (_GAP_BOTTOM - _GAP_TOP) / (_GAP_HIGH - _GAP_LOW)

    def down(gaps: float) -> float:
        return _GAP_BOTTOM - (min(max(gaps, _GAP_LOW), _GAP_HIGH) - _GAP_LOW) * scale

    shapes = [
        text(_LEFT, _GAP_TOP - 10, "gap before each handstroke lead, in gaps: the line is your own style", size=11)
    ]
    for value in (0.0, 1.0, 2.0):
        shapes.append(line(_LEFT, down(value), _WIDTH - _RIGHT, down(value), width=0.5, stroke_opacity=0.25))
        shapes.append(text(_LEFT - 8, down(value) + 3.5, f"{value:.0f}", size=10, anchor="end"))
    style = down(count.rhythm.handstroke_gap)
    dashes = "none" if count.rhythm.handstroke_gap_is_seen else "4 3"
    shapes.append(line(_LEFT, style, _WIDTH - _RIGHT, style, width=1.4, stroke_dasharray=dashes))
    heard = _handstroke_gaps(count)
    rows = np.flatnonzero(np.isfinite(heard))
    shapes += [
        element("circle", cx=across(row), cy=down(float(heard[row])), r=2.1, fill="currentColor", fill_opacity=0.55)
        for row in rows[:: max(1, len(rows) // _MOST_POINTS)].tolist()
    ]
    return "".join(shapes)


def _handstroke_gaps(count: Count) -> NDArray[np.float64]:
    """Extra space before each handstroke lead as it was struck, in gaps; NaN elsewhere; shape (R,)."""
    times = count.rung.times_s
    gaps = np.full(len(times), np.nan)
    hand = np.flatnonzero(count.rung.piece.is_hand[1:] & ~count.rung.piece.is_hand[:-1]) + 1
    gaps[hand] = (times[hand, 0] - times[hand - 1, -1]) / count.rhythm.gap_s[hand] - 1
    return gaps


def _leads(count: Count, across: _Across) -> str:
    """Lines where leads begin; of many, only as many as can be told apart."""
    heads = [label.row for label in count.rung.piece.labels if label.kind == "lead head"]
    return "".join(
        line(across(row), _PACE_TOP, across(row), _GAP_BOTTOM, width=0.8, stroke_opacity=0.35, stroke_dasharray="2 2")
        for row in heads[:: max(1, len(heads) // 60)]
    )


def _unjudged(judged: NDArray[np.bool_], across: _Across) -> str:
    """Shade over each run of rows that are not marked."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], ~judged, [False])).astype(int)))
    shapes = []
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        x = across(max(first - 0.5, 0))
        width = across(min(after - 0.5, len(judged) - 1)) - x
        shapes.append(
            element(
                "rect",
                x=x,
                y=_PACE_TOP,
                width=width,
                height=_GAP_BOTTOM - _PACE_TOP,
                fill="currentColor",
                fill_opacity=0.07,
            )
        )
    return "".join(shapes)


def _changes(count: Count, across: _Across) -> str:
    """Numbers of changes below, at a round step."""
    piece = count.rung.piece
    changes = len(piece.rows) - piece.opening
    step = next((step for step in (10, 20, 50, 100, 200, 500, 1000, 2000) if changes / step <= 14), 5000)
    shapes = [
        text(across(piece.opening + change - 1), _GAP_BOTTOM + 14, str(change), size=10, anchor="middle")
        for change in range(step, changes + 1, step)
    ]
    shapes.append(text(_LEFT - 8, _GAP_BOTTOM + 14, "change", size=10, anchor="end"))
    return "".join(shapes)
