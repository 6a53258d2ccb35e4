"""The map of rows cut into blocks, as a judge rules paper: the opening rounds, then a block for every lead.

Each block becomes one table of the page, rows down and places across; the cells are those of the paper's own map
(`judging.papers.drawings.rows_map`), with the time to hear each from.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from judging.papers.drawings import MapCell, MapRow, rows_map
from judging.piece.piece import SYMBOLS, Piece
from judging.striking.values import Count
from judging.web.words import figure

#: Rows in a block where the piece has no lead heads: ten whole pulls, about what is taken in at one glance.
ROWS_WITHOUT_LEADS = 20

#: Leads shorter than this share a block.
LEAST_ROWS = 8

#: Above this many rows a page shows part of the piece.
ROWS_ON_A_PAGE = 300

#: How many shades a cell can have, lightest first.
SHADES = 4


@dataclass(frozen=True, slots=True)
class Cell:
    """One blow of the map.

    Parameters
    ----------
    of : MapCell
        What it is.
    symbol : str
        The bell as it is written in a row.
    shade : int
        0 (nothing amiss) to 4.
    at_s : float or None
        When it was struck, on the recording's clock; a missing blow has the time of its row.
    """

    of: MapCell
    symbol: str
    shade: int
    at_s: float | None


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the map.

    Parameters
    ----------
    of : MapRow
        What it is.
    number : str
        Number of the change, or ``r3`` for the third opening row.
    cells : tuple of Cell
        One a place.
    charge : str
        Faults charged in the row; empty for none.
    at_s : float or None
        When its first blow was struck.
    """

    of: MapRow
    number: str
    cells: tuple[Cell, ...]
    charge: str
    at_s: float | None


@dataclass(frozen=True, slots=True)
class Block:
    """Some rows that belong together.

    Parameters
    ----------
    title : str
        What it is: ``"Opening rounds"``, ``"Lead 3"``, ``"Changes 41 to 60"``.
    span : str
        The changes it holds, where the title does not say so.
    lines : tuple of Line
        Its rows.
    charge : str
        Faults charged in it.
    """

    title: str
    span: str
    lines: tuple[Line, ...]
    charge: str


def map_of(count: Count) -> tuple[Block, ...]:
    """Return the map of every row that was rung, in blocks in order of row.

    Parameters
    ----------
    count : Count
        The machine's count.

    Returns
    -------
    tuple of Block
        Every row of the piece is in exactly one.
    """
    rows = rows_map(count).rows
    return tuple(
        Block(
            title=title,
            span=span,
            lines=tuple(_line(count, rows[row]) for row in within),
            charge=figure(float(count.charge[within.start : within.stop].sum())),
        )
        for title, span, within in _cut(count.rung.piece)
    )


def pages_of(blocks: Sequence[Block], most_rows: int = ROWS_ON_A_PAGE) -> tuple[tuple[Block, ...], ...]:
    """Return blocks dealt to pages of at most ``most_rows`` rows; a longer single block has a page to itself."""
    pages: list[list[Block]] = [[]]
    room = most_rows
    for block in blocks:
        if pages[-1] and len(block.lines) > room:
            pages.append([])
            room = most_rows
        pages[-1].append(block)
        room -= len(block.lines)
    return tuple(tuple(page) for page in pages)


def _cut(piece: Piece) -> list[tuple[str, str, range]]:
    """Return title, span and rows of each block."""
    after = len(piece.rows) - piece.closing
    heads = sorted(
        label.row for label in piece.labels if label.kind == "lead head" and piece.opening < label.row < after
    )
    starts = [piece.opening] if heads else list(range(piece.opening, after, ROWS_WITHOUT_LEADS))
    for head in heads:
        if head - starts[-1] >= LEAST_ROWS and after - head >= LEAST_ROWS:
            starts.append(head)
    blocks = [("Opening rounds", "", range(piece.opening))] if piece.opening else []
    for number, (start, stop) in enumerate(zip(starts, [*starts[1:], after], strict=True), start=1):
        span = f"changes {piece.change_of(start)} to {piece.change_of(stop - 1)}"
        blocks.append(
            (f"Lead {number}", span, range(start, stop)) if heads else (span.capitalize(), "", range(start, stop))
        )
    if piece.closing:
        blocks.append(("Closing rounds", "", range(after, len(piece.rows))))
    return blocks


def _line(count: Count, row: MapRow) -> Line:
    times_s = count.rung.times_s[row.row]
    heard = times_s[np.isfinite(times_s)]
    start_s = float(heard.min()) if len(heard) else None
    charge = float(count.charge[row.row].sum())
    cells = (
        Cell(
            of=cell,
            symbol=SYMBOLS[cell.bell - 1] if cell.bell else "?",
            shade=ceil(SHADES * cell.size),
            at_s=float(time_s) if np.isfinite(time_s) else start_s,
        )
        for cell, time_s in zip(row.cells, times_s, strict=True)
    )
    return Line(
        of=row,
        number=f"r{row.row + 1}" if row.change is None else str(row.change),
        cells=tuple(cells),
        charge=figure(charge) if charge else "",
        at_s=start_s,
    )
