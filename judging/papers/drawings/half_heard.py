"""What a listener heard, against the size of the fault: each one, the curve through them, and where half are heard."""

from collections.abc import Sequence

import numpy as np

from judging.marks.half_heard import HalfHeard, Heard
from judging.papers.drawings.svg import drawing, element, line, number, text, wedge

_WIDTH, _HEIGHT = 360.0, 230.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 14.0, 40.0, 178.0

#: Sizes at which the axis is marked, in ms.
_MARKED = (5, 10, 20, 40, 80, 160)
_SMALLEST, _LARGEST = 5.0, 180.0

#: Marks of one size stand above each other by so much.
_STACK = 11.0


def half_heard_svg(heard: Sequence[Heard], found: HalfHeard, *, late: bool, told: str) -> str:
    """Drawing of one way.

    Parameters
    ----------
    heard : sequence of Heard
        Of that way.
    found : HalfHeard
        From them.
    late : bool
        Which way.
    told : str
        The same in words.

    Returns
    -------
    str
        SVG. Faults that were heard stand along the top, filled; missed ones along the bottom, hollow.
    """
    way = "late" if late else "early"
    shapes = [
        text(_LEFT, 16, "heard, filled; missed, hollow; the bar is where half are heard", size=10.5),
        *_axes(),
        line(_across(found.floor_ms), _TOP, _across(found.floor_ms), _BOTTOM, stroke_dasharray="2 3"),
        _curve(found),
        _bar(found),
    ]
    for one in heard:
        size = abs(one.late_ms)
        y = _down(1.0) - _STACK if one.was_heard else _down(0.0) + _STACK
        shapes.append(wedge(_across(size), y, 4.2, early=not late, filled=one.was_heard))
    floor = f"published floor, {found.floor_ms:.0f} ms"
    shapes.append(text(_across(found.floor_ms) + 4, _down(0.86), floor, size=9.5))
    return drawing(
        _WIDTH,
        _HEIGHT,
        "".join(shapes),
        title=f"Share of {way} blows heard, by how {way} they were",
        description=told,
        name=f"heard-{way}",
    )


def _across(size_ms: float) -> float:
    share = np.log(min(max(size_ms, _SMALLEST), _LARGEST) / _SMALLEST) / np.log(_LARGEST / _SMALLEST)
    return _LEFT + float(share) * (_WIDTH - _LEFT - _RIGHT)


def _down(share: float) -> float:
    return _BOTTOM - share * (_BOTTOM - _TOP)


def _axes() -> list[str]:
    shapes = []
    for share, words in ((0.0, "none"), (0.5, "half"), (1.0, "all")):
        shapes.append(line(_LEFT, _down(share), _WIDTH - _RIGHT, _down(share), width=0.5, stroke_opacity=0.35))
        shapes.append(text(_LEFT - 8, _down(share) + 3.5, words, size=10, anchor="end"))
    for size in _MARKED:
        shapes.append(line(_across(size), _BOTTOM, _across(size), _BOTTOM + 4, width=0.8))
        shapes.append(text(_across(size), _BOTTOM + 32, str(size), size=10, anchor="middle"))
    shapes.append(text(_WIDTH - _RIGHT, _BOTTOM + 46, "how far out of time, in ms", size=10, anchor="end"))
    return shapes


def _curve(found: HalfHeard) -> str:
    sizes = np.geomspace(max(found.floor_ms, _SMALLEST), _LARGEST, 80)
    points = " ".join(
        f"{number(_across(size))},{number(_down(share))}"
        for size, share in zip(sizes.tolist(), found.share_heard(sizes).tolist(), strict=True)
    )
    return element("polyline", points=points, fill="none", stroke="currentColor", stroke_width=1.8)


def _bar(found: HalfHeard) -> str:
    """Interval of the size at which half are heard; an end that is open goes to the edge and has no stop."""
    y, low, high = _down(0.5), _across(found.low_ms), _across(found.high_ms)
    shapes = [line(low, y, high, y, width=3, stroke_opacity=0.6)]
    ends = ((low, found.is_open_below), (high, found.is_open_above or found.high_ms > _LARGEST))
    shapes += [line(x, y - 6, x, y + 6, width=1.6) for x, is_open in ends if not is_open]
    if not (found.is_open_below or found.is_open_above):
        shapes.append(element("circle", cx=_across(found.half_ms), cy=y, r=4, fill="currentColor"))
    return "".join(shapes)
