"""Each bell's habits, drawn: where its blows fall at handstroke and at backstroke, and how far they spread."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.papers.drawings.svg import EARLY_INK, LATE_INK, drawing, element, line, text, wedge
from judging.striking.values import Count


@dataclass(frozen=True, slots=True)
class _Sheet:
    """How wide the drawing is, and what of it is left for words: none to the right where it is narrow."""

    width: float
    left: float
    right: float
    bell: float
    stroke: float


_WIDE, _NARROW = _Sheet(720.0, 104.0, 132.0, 20.0, 48.0), _Sheet(360.0, 70.0, 16.0, 14.0, 32.0)
_TOP, _STRIP, _BOTTOM = 28.0, 34.0, 22.0

#: Nearer to its time than this a bell is called true: the just noticeable shift of one tone (Friberg & Sundberg 1995).
TRUE_MS = 6.0

#: The middle two thirds of the blows, as one standard deviation would hold of even spread.
_MIDDLE = (16.0, 84.0)


def habits_svg(count: Count, *, is_narrow: bool = False) -> str:
    """Drawing of each bell's early or late striking with its spread.

    Parameters
    ----------
    count : Count
        The machine's count; only rows that are judged are drawn, or all where none is.
    is_narrow : bool
        Whether it is for a telephone held upright: half as wide, without the figures at its side.

    Returns
    -------
    str
        One strip a bell: handstroke above (filled), backstroke below (open); the bar holds two blows in three, the
        wedge stands at the middle one and points left for early, right for late.
    """
    habits = _habits(count)
    bells = count.rung.piece.bells
    reach = _reach(habits)
    sheet = _NARROW if is_narrow else _WIDE
    scale = (sheet.width - sheet.left - sheet.right) / 2 / reach
    middle = sheet.left + scale * reach
    bottom = _TOP + bells * _STRIP
    shapes = [_axis(sheet, middle, scale, reach, bottom)]
    for bell in range(1, bells + 1):
        y = _TOP + (bell - 1) * _STRIP
        shapes.append(text(sheet.bell, y + _STRIP / 2 + 5, str(bell), size=16, anchor="middle", font_weight="bold"))
        if bell % 2:
            shapes.append(
                element("rect", x=0, y=y, width=sheet.width, height=_STRIP, fill="currentColor", fill_opacity=0.04)
            )
        for stroke, offset in (("hand", 11.0), ("back", 24.5)):
            shapes.append(_blows(sheet, habits.get((bell, stroke)), stroke, y + offset, middle, scale))
    return drawing(
        sheet.width,
        bottom + _BOTTOM,
        "".join(shapes),
        title="Each bell at handstroke and backstroke",
        description=habits_told(count),
        name="habits-narrow" if is_narrow else "habits",
    )


def habits_told(count: Count) -> str:
    """Tell the same in words, for whoever cannot see the drawing."""
    told = "; ".join(f"{bell} at {stroke}stroke {_words(found)}" for (bell, stroke), found in _habits(count).items())
    return f"{told}." if told else "No blow was judged."


def _habits(count: Count) -> dict[tuple[int, str], NDArray[np.float64]]:
    """Low, middle and high deviation in ms, by bell and stroke; bells that never struck there are left out."""
    rows = count.judged if count.judged.any() else np.ones_like(count.judged)
    is_hand = count.rung.piece.is_hand
    found = {}
    for bell in range(1, count.rung.piece.bells + 1):
        for stroke, of_stroke in (("hand", is_hand), ("back", ~is_hand)):
            here = (count.rung.bells == bell) & (rows & of_stroke)[:, np.newaxis]
            ms = count.deviations.ms[here]
            ms = ms[np.isfinite(ms)]
            if ms.size:
                found[bell, stroke] = np.percentile(ms, [_MIDDLE[0], 50, _MIDDLE[1]])
    return found


def _reach(habits: dict[tuple[int, str], NDArray[np.float64]]) -> float:
    """Half the width of the drawing in ms: the widest bar, to the next 50."""
    widest = max((float(np.abs(found).max()) for found in habits.values()), default=0.0)
    return max(100.0, 50.0 * math.ceil(widest / 50.0))


def _axis(sheet: _Sheet, middle: float, scale: float, reach: float, bottom: float) -> str:
    step = 50.0 if reach <= 200 else 100.0 if reach <= 400 else 50.0 * np.ceil(reach / 200)  # no more than nine words
    shapes = []
    for ms in np.arange(-np.floor(reach / step) * step, reach + 1, step):
        x = middle + ms * scale
        centre = ms == 0
        shapes.append(line(x, _TOP, x, bottom, width=1.2 if centre else 0.6, stroke_opacity=1 if centre else 0.25))
        shapes.append(text(x, bottom + 15, f"{abs(ms):.0f}" + (" ms" if ms == reach else ""), size=10, anchor="middle"))
    shapes += [
        wedge(middle - 12, 14, 4.5, early=True),
        text(middle - 22, 18, "early", anchor="end", fill_opacity=1),
        wedge(middle + 12, 14, 4.5, early=False),
        text(middle + 22, 18, "late"),
        text(sheet.bell, 18, "bell", size=10, anchor="middle"),
    ]
    return "".join(shapes)


def _blows(sheet: _Sheet, found: NDArray[np.float64] | None, stroke: str, y: float, middle: float, scale: float) -> str:
    label = text(sheet.stroke, y + 3.5, stroke, size=10)
    if found is None:
        beside = sheet.width - sheet.right if sheet is _WIDE else middle
        return label + text(beside + 12, y + 3.5, "did not strike here", size=10)
    low, median, high = (float(value) for value in found)
    late = median > 0
    left, right = middle + low * scale, middle + high * scale
    true = abs(median) < TRUE_MS
    ink = "currentColor" if true else LATE_INK if late else EARLY_INK
    kind = "true" if true else "late" if late else "early"
    bar = element(
        "rect",
        x=left,
        y=y - 4,
        width=max(right - left, 1),
        height=8,
        rx=4,
        class_=f"{kind} {stroke}",
        fill=ink if stroke == "hand" else "none",
        fill_opacity=0.3,
        stroke=ink,
        stroke_width=1,
    )
    x = middle + median * scale
    mark = (
        element("circle", cx=x, cy=y, r=4, fill="currentColor", class_="true")
        if true
        else wedge(x, y, 5.5, early=not late)
    )
    words = text(sheet.width - sheet.right + 12, y + 3.5, _words(found), size=10) if sheet is _WIDE else ""
    return label + bar + mark + words


def _words(found: NDArray[np.float64]) -> str:
    low, median, high = (float(value) for value in found)
    spread = f"within {(high - low) / 2:.0f} ms"
    if abs(median) < TRUE_MS:
        return f"true, {spread}"
    return f"{abs(median):.0f} ms {'late' if median > 0 else 'early'}, {spread}"
