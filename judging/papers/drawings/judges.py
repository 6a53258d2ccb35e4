"""Judges beside each other, drawn: how many each counts against the panel, and how that moved through the day."""

from collections.abc import Mapping, Sequence
from math import ceil, floor, log

from judging.marks.judges import JudgesCompared, Range
from judging.papers.drawings.svg import drawing, element, line, text

_WIDTH, _LEFT, _RIGHT = 620.0, 164.0, 116.0
_ROW = 34.0
_TOP = 30.0
#: Ratios are drawn no further than this either way; a longer interval ends in an arrow at the edge.
_FURTHEST = log(3.0)
_TICKS = (1 / 3, 0.5, 0.7, 0.85, 1.0, 1.2, 1.5, 2.0, 3.0)
_LETTERS = 21


def judges_svg(judges: JudgesCompared, names: Mapping[str, str]) -> str:
    """Drawing of each judge's severity and, where it can be said, drift, each with its 95 % interval.

    Parameters
    ----------
    judges : JudgesCompared
        Of a panel.
    names : mapping of str to str
        As printed, by identifier.

    Returns
    -------
    str
        SVG: a point is the judge, its line where the truth lies 95 times in a hundred, and the upright line in the
        middle the panel.
    """
    parts = [("counts more or fewer than the panel", [(names[one.judge], one.severity) for one in judges.judges])]
    drifts = [(names[one.judge], one.drift) for one in judges.judges if one.drift is not None]
    if drifts:
        parts.append(("figures at the end of the day against its beginning", drifts))
    shapes, top = [], 0.0
    for heading, lines in parts:
        shapes.append(_panel(heading, lines, top))
        top += _TOP + _ROW * len(lines) + 34
    return drawing(
        _WIDTH,
        top,
        "".join(shapes),
        title="The judges compared",
        description=" ".join(sentence for one in judges.judges for sentence in one.sentences),
        name="judges",
    )


def _panel(heading: str, lines: Sequence[tuple[str, Range]], top: float) -> str:
    ends = [abs(log(end)) for _, of in lines for end in (of.low, of.value, of.high) if end > 0 and end < float("inf")]
    reach = min(max([*ends, log(1.2)]) * 1.08, _FURTHEST)
    scale = (_WIDTH - _LEFT - _RIGHT) / (2 * reach)

    def across(ratio: float) -> float:
        return _LEFT + (min(max(log(ratio) if ratio > 0 else -reach, -reach), reach) + reach) * scale

    foot = top + _TOP + _ROW * len(lines)
    shapes = [text(_LEFT, top + 13, heading, size=12)]
    shapes.append(line(across(1), top + 20, across(1), foot, width=1.2))
    for name, of in lines:
        middle = top + _TOP + _ROW * (lines.index((name, of)) + 0.5)
        shapes.append(text(0, middle + 4, name if len(name) <= _LETTERS else f"{name[: _LETTERS - 1]}…", size=14))
        shapes.append(line(across(of.low), middle, across(of.high), middle, width=3, stroke_opacity=0.45))
        shapes.append(element("circle", cx=across(of.value), cy=middle, r=5.5, fill="currentColor"))
        shapes.append(text(_WIDTH - _RIGHT + 14, middle + 4, _percent(of.value), size=14))
    shapes.append(line(_LEFT, foot, _WIDTH - _RIGHT, foot, width=0.8))
    for tick in _TICKS:
        if abs(log(tick)) <= reach:
            shapes.append(line(across(tick), foot, across(tick), foot + 4, width=0.8))
            shapes.append(text(across(tick), foot + 16, _percent(tick), size=11, anchor="middle"))
    return "".join(shapes)


def _percent(ratio: float) -> str:
    percent = 100 * (ratio - 1)
    whole = floor(percent + 0.5) if percent >= 0 else ceil(percent - 0.5)
    return f"{'+' if whole > 0 else '−' if whole < 0 else ''}{abs(whole)} %"
