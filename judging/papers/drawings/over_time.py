"""Every touch of a band over months and years, as close as it was struck, and the line through the nights."""

from collections.abc import Sequence
from datetime import date

from judging.papers.drawings.svg import drawing, element, line, text
from judging.striking.over_time import Trend

#: Narrow enough to be read on a phone without being moved sideways.
_WIDTH, _HEIGHT = 440.0, 236.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 36.0, 12.0, 30.0, 196.0
_LETTERS = 12.5


def over_time_svg(
    days: Sequence[date], spread_ms: Sequence[float], found: Trend | None, *, name: str, told: str
) -> str:
    """Drawing of the touches of as many bells.

    Parameters
    ----------
    days : sequence of date
        Of each touch, ascending.
    spread_ms : sequence of float
        How far from even each was struck.
    found : Trend or None
        Its line; dashed where it is too few to tell.
    name, told : str
        What the drawing is called in its page, and the same in words.

    Returns
    -------
    str
        SVG; downward is closer.
    """
    ordinals = [day.toordinal() for day in days]
    span = max(ordinals[-1] - ordinals[0], 1)
    most = max(*spread_ms, 20.0) * 1.15

    def across(ordinal: float) -> float:
        return _LEFT + 12 + (ordinal - ordinals[0]) / span * (_WIDTH - _LEFT - _RIGHT - 24)

    def down(ms: float) -> float:
        return _BOTTOM - ms / most * (_BOTTOM - _TOP)

    step = next(step for step in (5, 10, 20, 50, 100, 200, 10**9) if most / step <= 6)
    shapes = [text(0, 14, "how far from even, in ms: the lower, the closer", size=_LETTERS)]
    for ms in range(0, int(most) + 1, step):
        shapes.append(line(_LEFT, down(ms), _WIDTH - _RIGHT, down(ms), width=0.5, stroke_opacity=0.25))
        shapes.append(text(_LEFT - 8, down(ms) + 4, str(ms), size=_LETTERS, anchor="end"))
    shapes += [
        element("circle", cx=across(ordinal), cy=down(ms), r=3.4, fill="currentColor", fill_opacity=0.6)
        for ordinal, ms in zip(ordinals, spread_ms, strict=True)
    ]
    if found is not None:
        dashes = "5 4" if found.verdict == "too few to tell" else "none"
        ends = across(ordinals[0]), down(found.first_ms), across(ordinals[-1]), down(found.last_ms)
        shapes.append(line(*ends, width=1.8, stroke_dasharray=dashes))
    for day, anchor in ((days[0], "start"), (days[-1], "end"))[: 1 + (days[0] != days[-1])]:
        x = _LEFT + 4 if anchor == "start" else _WIDTH - _RIGHT
        shapes.append(text(x, _BOTTOM + 24, f"{day.day} {day:%b %Y}", size=_LETTERS, anchor=anchor))
    title = "Each touch, by when it was rung and how far from even it was struck"
    return drawing(_WIDTH, _HEIGHT, "".join(shapes), title=title, description=told, name=name)
