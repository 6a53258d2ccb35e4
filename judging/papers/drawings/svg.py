"""A few shapes as SVG text: escaped, rounded the same way everywhere, so that the same drawing is the same bytes.

Every shape carries both an ink (for paper, where nothing restyles it) and a class (for a page, whose style sheet may
give it another ink in the dark). Text and lines are ``currentColor``.
"""

from html import escape

#: Inks on white paper; both keep more than 4.5:1 against it, and they differ in shape as well (`wedge`).
EARLY_INK = "#0f766e"
LATE_INK = "#b45309"

#: The first is set inside the engine that makes the papers, the rest on readers' machines.
FONTS = "Libertinus Serif, Georgia, Times New Roman, serif"


def number(value: float) -> str:
    """Coordinate with at most two decimals, and no negative zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(name: str, inside: str = "", /, **attributes: str | float) -> str:
    """Element; ``inside`` is SVG already, attributes are escaped here.

    Attribute names are given in Python's way: ``class_`` for ``class``, underscores for hyphens.
    """
    text = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(value if isinstance(value, str) else number(value))}"'
        for key, value in attributes.items()
    )
    return f"<{name}{text}>{inside}</{name}>" if inside else f"<{name}{text}/>"


def text(x: float, y: float, words: str, *, size: float = 11, anchor: str = "start", **more: str | float) -> str:
    """Words with their baseline at (x, y)."""
    return element("text", escape(words), x=x, y=y, font_size=size, text_anchor=anchor, fill="currentColor", **more)


def line(x1: float, y1: float, x2: float, y2: float, *, width: float = 1, **more: str | float) -> str:
    """Straight line in the text's ink."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke="currentColor", stroke_width=width, **more)


def wedge(x: float, y: float, half: float, *, early: bool, filled: bool = True) -> str:
    """Wedge with its middle at (x, y): points left for early, right for late."""
    tip = -half if early else half
    points = f"{number(x + tip)},{number(y)} {number(x - tip)},{number(y - half)} {number(x - tip)},{number(y + half)}"
    ink = EARLY_INK if early else LATE_INK
    return element(
        "polygon",
        points=points,
        class_="early" if early else "late",
        fill=ink if filled else "none",
        stroke=ink,
        stroke_width=1.2,
        stroke_linejoin="round",
    )


def drawing(
    width: float, height: float, inside: str, *, title: str, description: str, name: str, scale: float | None = None
) -> str:
    """Whole drawing, with what a screen reader says of it; as wide as its page lets it be where it has no scale."""
    size = {} if scale is None else {"width": scale * width, "height": scale * height}
    head = element("title", escape(title), id=f"{name}-title") + element("desc", escape(description), id=f"{name}-desc")
    return element(
        "svg",
        head + inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        **size,
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        class_=f"drawing {name}",
        font_family=FONTS,
        color="#1c1917",
    )
