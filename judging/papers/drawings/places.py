"""How firmly places stand, drawn: how often each band holds which place, and which places hang on where a line is."""

from collections.abc import Mapping, Sequence
from itertools import groupby

from judging.contest.every_line import EveryLine, Orders
from judging.marks.safety import ordinal
from judging.marks.values import Placed, Safety
from judging.papers.drawings.svg import drawing, element, line, number, text

_WIDTH, _RIGHT = 620.0, 16.0
_TOP = 34.0
#: Room for a band's name, and how many letters of it are drawn there.
_LEFT, _LETTERS = 164.0, 21

_ROW = 40.0
_BAR, _BAR_WIDTH = 20.0, 22.0
#: A share that rounds to none in a hundred is not drawn.
_LEAST = 0.0051

_STRIP = 30.0
#: How thick a strip is at each place, best first; the rest are thin lines.
_THICK: Sequence[float] = (13.0, 8.0, 5.0)
_THIN = 1.6


def safety_svg(safety: Safety, placed: Sequence[Placed], bands: Mapping[str, str]) -> str:
    """Drawing of how often, in a hundred recounts, each placed band holds each place.

    Parameters
    ----------
    safety : Safety
        Of the section.
    placed : sequence of Placed
        Its lines that have a place, best first.
    bands : mapping of str to str
        Names as the reader may see them, by entry.

    Returns
    -------
    str
        SVG: a row a band, a bar a place; the place it has is filled, the others are hollow.
    """
    columns = len(placed)
    step = (_WIDTH - _LEFT - _RIGHT) / columns
    wide = min(_BAR_WIDTH, step - 4)
    height = _TOP + _ROW * columns + 6
    shapes = [text(0, 14, "in so many of 100 recounts", size=12)]
    shapes += [
        text(_LEFT + (column + 0.5) * step, 14, ordinal(column + 1), size=12 if columns <= 6 else 9, anchor="middle")
        for column in range(columns)
        if columns <= 12 or column % 3 == 0
    ]
    for row, own in enumerate(placed):
        foot = _TOP + _ROW * (row + 1) - 6
        shapes.append(text(0, foot - 5, _name(bands[own.entry]), size=14))
        shapes.append(line(0, foot + 0.5, _WIDTH - _RIGHT, foot + 0.5, width=0.6, stroke_opacity=0.3))
        for column, share in enumerate(safety.at_place[own.entry]):
            if share >= _LEAST:
                middle = _LEFT + (column + 0.5) * step
                shapes.append(_bar(middle, foot, wide, share, filled=own.place == column + 1))
    return drawing(
        _WIDTH,
        height,
        "".join(shapes),
        title="How often each band holds which place",
        description=" ".join(safety_told(safety, placed, bands)),
        name="safety",
    )


def safety_told(safety: Safety, placed: Sequence[Placed], bands: Mapping[str, str]) -> tuple[str, ...]:
    """Tell the same in words, a sentence a band."""
    told = []
    for own in placed:
        shares = [
            f"{ordinal(place)} in {round(100 * share)}"
            for place, share in enumerate(safety.at_place[own.entry], 1)
            if share >= _LEAST
        ]
        told.append(f"{bands[own.entry]}: of 100 recounts {', '.join(shares)}.")
    return tuple(told)


def lines_svg(every: EveryLine, orders: Orders, entries: Sequence[str], bands: Mapping[str, str]) -> str:
    """Drawing of the place that each band holds as the half fault's line is moved.

    Parameters
    ----------
    every : EveryLine
        Of the section.
    orders : Orders
        Which of its orders is drawn.
    entries : sequence of str
        Whose strips, from top to bottom.
    bands : mapping of str to str
        Names as the reader may see them, by entry.

    Returns
    -------
    str
        SVG: a strip a band, the thicker the better its place; the place stands above the strip where it begins. The
        declared line is dashed.
    """
    low, high = every.lines_gaps[0], every.lines_gaps[-1]
    half = (every.lines_gaps[1] - low) / 2 if len(every.lines_gaps) > 1 else 0.01
    scale = (_WIDTH - _LEFT - _RIGHT) / (high - low + 2 * half)

    def across(gaps: float) -> float:
        return _LEFT + (gaps - low + half) * scale

    foot = _TOP + _STRIP * len(entries)
    shapes = []
    for row, entry in enumerate(entries):
        middle = _TOP + _STRIP * (row + 0.5) + 4
        shapes.append(text(0, middle + 4, _name(bands[entry]), size=14))
        places = dict(zip(every.lines_gaps, orders.by_line[entry], strict=True))
        for place, run in groupby(every.lines_gaps, key=places.__getitem__):
            lines = list(run)
            shapes.append(_run(across(lines[0] - half), across(lines[-1] + half), middle, place))
    shapes.append(line(_LEFT, foot + 8, _WIDTH - _RIGHT, foot + 8, width=0.8))
    for tick in range(round(low * 20), round(high * 20) + 1):
        if low - half <= tick / 20 <= high + half:
            shapes.append(line(across(tick / 20), foot + 8, across(tick / 20), foot + 12, width=0.8))
            shapes.append(text(across(tick / 20), foot + 24, f"{tick / 20:.2f}", size=11, anchor="middle"))
    shapes.append(text(0, foot + 24, "half a fault from so much", size=11))
    shapes.append(text(0, foot + 37, "of the gap between blows", size=11))
    if low - half <= every.declared_gaps <= high + half:
        declared = across(every.declared_gaps)
        shapes.append(line(declared, 18, declared, foot + 8, width=1.2, stroke_dasharray="4 3"))
        anchor = "middle" if _LEFT + 40 < declared < _WIDTH - 60 else "start"
        shapes.append(text(declared, 13, "as declared", size=12, anchor=anchor))
    return drawing(
        _WIDTH,
        foot + 42,
        "".join(shapes),
        title="Places as the line of a fault is moved",
        description=" ".join(f"{bands[entry]} {orders.sentences[entry]}." for entry in entries),
        name="lines",
    )


def _bar(middle: float, foot: float, wide: float, share: float, *, filled: bool) -> str:
    tall = max(_BAR * share, 1.0)
    bar = element(
        "rect",
        x=middle - wide / 2,
        y=foot - tall,
        width=wide,
        height=tall,
        fill="currentColor",
        fill_opacity=0.8 if filled else 0.12,
        stroke="currentColor",
        stroke_width=1,
    )
    size, weight = (11 if wide > 14 else 8), ("bold" if filled else "normal")
    return bar + text(middle, foot - tall - 4, str(round(100 * share)), size=size, anchor="middle", font_weight=weight)


def _run(start: float, stop: float, middle: float, place: int | None) -> str:
    thick = _THICK[place - 1] if place and place <= len(_THICK) else _THIN
    opacity = {1: 0.85, 2: 0.5, 3: 0.35}.get(place or 0, 0.5)
    strip = element(
        "rect",
        x=start + 0.7,
        y=middle - thick / 2,
        width=max(stop - start - 1.4, 0.7),
        height=thick,
        fill="currentColor",
        fill_opacity=opacity,
        class_=f"place-{number(place or 0)}",
    )
    return strip + text(start + 2, middle - thick / 2 - 2, str(place or "–"), size=10)


def _name(band: str) -> str:
    return band if len(band) <= _LETTERS else f"{band[: _LETTERS - 1]}…"
