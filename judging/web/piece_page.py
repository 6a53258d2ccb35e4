"""A test piece as its page shows it: what is proved of it, its rows, and each bell's way through them, drawn."""

from dataclasses import dataclass

from judging.papers.drawings.svg import drawing as svg
from judging.papers.drawings.svg import element, line, text
from judging.piece import BellPath, Drawing, Piece, drawing, prove

#: Rows of one panel at most; about what a screen holds.
MOST_ROWS = 40

#: Rows that are drawn at most, and written out: a page of a peal would be megabytes, and nobody reads to its end.
MOST_DRAWN, MOST_WRITTEN = 480, 1_000

#: Size of a cell in the drawing's own units.
ACROSS, DOWN = 22.0, 18.0
_LEFT, _TOP, _WORDS = 40.0, 16.0, 74.0

#: Width of a letter beside a row, on average and a little more.
_A_SIGN = 5.8


@dataclass(frozen=True, slots=True)
class PiecePage:
    """What the page shows.

    Parameters
    ----------
    title : str
        Of the piece.
    proof : tuple of str
        What can be said of it before it is rung, most important first.
    bells : int
        How many ring.
    chosen : int
        The bell that is followed.
    panels : tuple of str
        SVG, one a run of leads, from the beginning.
    rows : tuple of (str, str)
        Number of the change (empty in opening rounds) and the row, for reading aloud and copying.
    labels : tuple of (str, str, str)
        Lead heads, calls and named rows: number of the change, the row, the words.
    drawn_to : int
        How many rows are drawn.
    length : int
        How many rows there are; `rows` and `labels` may end before.
    """

    title: str
    proof: tuple[str, ...]
    bells: int
    chosen: int
    panels: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]
    labels: tuple[tuple[str, str, str], ...]
    drawn_to: int
    length: int


def piece_page(piece: Piece, chosen: int | None) -> PiecePage:
    """Return what a piece's page shows.

    Parameters
    ----------
    piece : Piece
        The piece.
    chosen : int or None
        The bell to follow.

    Returns
    -------
    PiecePage

    Raises
    ------
    InputError
        The chosen bell does not ring in it.
    """
    drawn = drawing(piece, chosen=chosen)
    panels = [panel for panel in _cut(drawn) if panel[1] <= MOST_DRAWN]
    return PiecePage(
        title=piece.title,
        proof=_proof(piece),
        bells=piece.bells,
        chosen=drawn.paths[-1].bell,
        panels=tuple(_panel(drawn, start, stop) for start, stop in panels),
        rows=tuple((_number(drawn, row), drawn.rows[row]) for row in range(min(len(drawn.rows), MOST_WRITTEN))),
        labels=_labels(piece, drawn),
        drawn_to=panels[-1][1],
        length=len(drawn.rows),
    )


def _labels(piece: Piece, drawn: Drawing) -> tuple[tuple[str, str, str], ...]:
    """Return what is said beside rows, one line a row."""
    words: dict[int, list[str]] = {}
    for label in piece.labels:
        words.setdefault(label.row, []).append(label.kind if label.kind == "lead head" else label.text)
    return tuple(
        (_number(drawn, row), drawn.rows[row], ", ".join(dict.fromkeys(said)))
        for row, said in sorted(words.items())
        if row < MOST_WRITTEN
    )


def _proof(piece: Piece) -> tuple[str, ...]:
    """Return what can be said of a piece with changes: its truth, how it ends, which bells lead."""
    if not piece.is_change.any():
        return ()
    proof = prove(piece)
    truth, *more = proof.sentences
    comes_round = ("Comes round.",) if proof.comes_round else ()
    leads = (proof.leading_sentence,) if proof.every_bell_but_tenor_leads else ()
    return (truth, *comes_round, *more, *leads)


def _cut(drawn: Drawing) -> list[tuple[int, int]]:
    """Return first and past-last row of each panel: whole leads, as many as have room."""
    ends = [row + 1 for row in drawn.ruled_below] + [len(drawn.rows)]
    panels, start, last = [], 0, 0
    for end in ends:
        if end - start > MOST_ROWS and last > start:
            panels.append((start, last))
            start = last
        while end - start > MOST_ROWS:
            panels.append((start, start + MOST_ROWS))
            start += MOST_ROWS
        last = end
    return [*panels, (start, len(drawn.rows))] if start < len(drawn.rows) else panels


def _panel(drawn: Drawing, start: int, stop: int) -> str:
    """Draw some rows; each panel begins with the row before it, so that lines are not broken."""
    first = max(start - 1, 0)
    words = dict(drawn.words)
    width = _LEFT + drawn.bells * ACROSS + max(_WORDS, *(6 + _A_SIGN * len(said) for said in words.values()), 0)
    height = _TOP + (stop - first) * DOWN
    shapes = [_rule(drawn, row, first) for row in drawn.ruled_below if first <= row < stop]
    followed = {path.bell for path in drawn.paths if path.emphasis != "other"}
    shapes += [_path(path, first, stop) for path in drawn.paths if path.emphasis != "other"]
    for row in range(first, stop):
        shapes.append(_row(drawn, row, first, followed))
        if row in words and row >= start:
            shapes.append(text(_LEFT + drawn.bells * ACROSS + 6, _y(row, first) + 4, words[row], size=11))
    chosen = drawn.paths[-1]
    told = f"Changes {_number(drawn, start)} to {_number(drawn, stop - 1)}. Places of {chosen.bell}: " + ", ".join(
        str(place) for place in chosen.places[first:stop]
    )
    return svg(
        width,
        height,
        "".join(shapes),
        title=f"The way of {chosen.bell}",
        description=f"{told}.",
        name=f"rows-{start}",
        scale=1.05,
    )


def _row(drawn: Drawing, row: int, first: int, followed: set[int]) -> str:
    number = _number(drawn, row)
    shapes = [text(_LEFT - 14, _y(row, first) + 4, number, size=9, anchor="end", fill_opacity=0.75)]
    at_place = {path.places[row]: path.bell for path in drawn.paths}
    for place, symbol in enumerate(drawn.rows[row], start=1):
        if at_place[place] not in followed:
            shapes.append(text(_x(place), _y(row, first) + 4.5, symbol, size=12, anchor="middle"))
    return "".join(shapes)


def _path(path: BellPath, first: int, stop: int) -> str:
    """Draw a bell's line, the bell's number at its beginning and end."""
    points = " ".join(f"{_x(path.places[row]):.0f},{_y(row, first):.0f}" for row in range(first, stop))
    return element(
        "polyline",
        points=points,
        fill="none",
        stroke="currentColor",
        stroke_width=2.6 if path.emphasis == "chosen" else 1.2,
        stroke_linejoin="round",
        stroke_linecap="round",
        class_=f"way {path.emphasis}",
    )


def _rule(drawn: Drawing, row: int, first: int) -> str:
    y = _y(row, first) + DOWN / 2
    return line(_LEFT - 8, y, _LEFT + drawn.bells * ACROSS, y, width=0.7, stroke_opacity=0.5)


def _number(drawn: Drawing, row: int) -> str:
    """Return the number of a row's change; empty in opening rounds."""
    return "" if row < drawn.first_change else str(row - drawn.first_change + 1)


def _x(place: int) -> float:
    return _LEFT + (place - 0.5) * ACROSS


def _y(row: int, first: int) -> float:
    return _TOP + (row - first + 0.5) * DOWN - 8
