"""How far apart each bell of a tower is told from the bell that it is most like: a bar a bell."""

from collections.abc import Sequence

from judging.papers.drawings.svg import drawing, element, line, text

_WIDTH, _LEFT, _RIGHT, _TOP, _STEP = 345.0, 26.0, 84.0, 34.0, 20.0


def told_apart_svg(bells: Sequence[tuple[int, float, int]], *, hardly: float, told: str) -> str:
    """Drawing of a tower's bells.

    Parameters
    ----------
    bells : sequence of (int, float, int)
        Each bell's number, how far apart it is told (1 at best), and from which bell least well.
    hardly : float
        Below this a bell is hardly told; its bar is hollow.
    told : str
        The same in words.

    Returns
    -------
    str
        SVG; the longer a bar, the better the bell is told.
    """
    long = _WIDTH - _LEFT - _RIGHT
    bottom = _TOP + _STEP * len(bells)
    shapes = [text(_LEFT, 16, "the longer, the better told; hollow is hardly told", size=10.5)]
    for share in (0.0, hardly, 1.0):
        x = _LEFT + share * long
        shapes.append(line(x, _TOP - 8, x, bottom, width=0.6, stroke_opacity=0.4, stroke_dasharray="2 3"))
    for number, (bell, apart, like) in enumerate(bells):
        y = _TOP + number * _STEP
        shapes.append(text(_LEFT - 10, y + 8, str(bell), size=12, anchor="end"))
        shapes.append(
            element(
                "rect",
                x=_LEFT,
                y=y,
                width=max(1.0, apart * long),
                height=10,
                fill="none" if apart < hardly else "currentColor",
                fill_opacity=0.55,
                stroke="currentColor",
                stroke_width=1,
            )
        )
        shapes.append(text(_LEFT + long + 10, y + 8, f"most like {like}", size=10.5))
    return drawing(
        _WIDTH,
        bottom + 10,
        "".join(shapes),
        title="How well each bell is told from the bell that it is most like",
        description=told,
        name="told-apart",
        scale=1.0,
    )
