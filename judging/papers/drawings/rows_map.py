"""The map of rows: every blow as a cell of plain data, for the page's table and for the paper alike."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from judging.figures import figure
from judging.papers.words import stopped
from judging.piece.piece import SYMBOLS
from judging.striking.values import Count, Fault

Direction = Literal["", "early", "late", "missing", "extra"]

#: A blow this many gaps out has the deepest shade: it then sounds nearer to its neighbour's time than to its own.
DEEPEST_GAPS = 0.6


@dataclass(frozen=True, slots=True)
class MapCell:
    """One blow of the map.

    Parameters
    ----------
    id : str
        Stable identifier, such as ``"blow-38-4"`` for row 38, place 4.
    row, place : int
        Where: row index from 0, place from 1.
    bell : int
        The bell that struck there (the piece's own where the blow is missing).
    in_course : bool
        False where another bell struck than the piece has.
    direction : {"", "early", "late", "missing", "extra"}
        What to draw; empty where nothing was heard amiss.
    size : float
        How far out, 0 to 1, for the shade.
    level : {"", "blemish", "half", "whole"}
        As the tolerance bands have it.
    charge : str
        Faults charged, as read; empty for none.
    doubtful : bool
        Whether the ear's own spread straddles a line.
    title : str
        The fault in a sentence; empty where there is none.
    """

    id: str
    row: int
    place: int
    bell: int
    in_course: bool
    direction: Direction
    size: float
    level: Literal["", "blemish", "half", "whole"]
    charge: str
    doubtful: bool
    title: str

    @property
    def symbol(self) -> str:
        """The bell as rows are written."""
        return SYMBOLS[self.bell - 1]


@dataclass(frozen=True, slots=True)
class MapRow:
    """One row of the map.

    Parameters
    ----------
    id : str
        Stable identifier, for links.
    row : int
        Row index from 0.
    change : int or None
        Number of the change; None in opening rows.
    is_hand, is_judged, is_lead_head : bool
        Handstroke; marked under the rules; first row of a lead (a line is ruled above it).
    words : str
        Calls, named rows and part ends; the word "lead" is not among them.
    cells : tuple of MapCell
        One a place.
    """

    id: str
    row: int
    change: int | None
    is_hand: bool
    is_judged: bool
    is_lead_head: bool
    words: str
    cells: tuple[MapCell, ...]


@dataclass(frozen=True, slots=True)
class RowsMap:
    """Rows down, places across.

    Parameters
    ----------
    bells : int
        Number of places.
    rows : tuple of MapRow
        Every row rung, opening and closing rounds included.
    """

    bells: int
    rows: tuple[MapRow, ...]


@dataclass(frozen=True, slots=True)
class MapBlock:
    """Rows that are read together: the opening rounds, a lead, or so many changes."""

    title: str
    rows: tuple[MapRow, ...]


def map_blocks(rows: RowsMap, *, without_leads: int = 20) -> tuple[MapBlock, ...]:
    """Map cut where a reader looks for a new beginning: at the first change and at every lead head.

    Parameters
    ----------
    rows : RowsMap
        The map.
    without_leads : int
        How many rows a block has where a piece has no lead heads.

    Returns
    -------
    tuple of MapBlock
        Together, every row once and in order.
    """
    has_leads = any(row.is_lead_head for row in rows.rows)
    blocks: list[list[MapRow]] = []
    for row in rows.rows:
        starts = row.change == 1 or (row.is_lead_head if has_leads else (row.change or 0) % without_leads == 1)
        if starts or not blocks:
            blocks.append([])
        blocks[-1].append(row)
    return tuple(MapBlock(_title(block), tuple(block)) for block in blocks)


def _title(rows: list[MapRow]) -> str:
    first, last = rows[0].change, rows[-1].change
    if first is None or last is None:
        return "Opening rounds"
    return f"Change {first}" if first == last else f"Changes {first} to {last}"


def rows_map(count: Count) -> RowsMap:
    """Map of rows of a count.

    Parameters
    ----------
    count : Count
        The machine's count.

    Returns
    -------
    RowsMap
        One cell a blow, R × n of them.
    """
    faults: dict[tuple[int, int], list[Fault]] = defaultdict(list)
    for fault in count.faults:
        faults[fault.row, fault.place].append(fault)
    piece = count.rung.piece
    labels: dict[int, list[str]] = defaultdict(list)
    lead_heads = set()
    for label in piece.labels:
        if label.kind == "lead head":
            lead_heads.add(label.row)
        else:
            labels[label.row].append(label.text)
    is_hand = piece.is_hand
    rows = tuple(
        MapRow(
            id=count.rung.row_id(row),
            row=row,
            change=piece.change_of(row),
            is_hand=bool(is_hand[row]),
            is_judged=bool(count.judged[row]),
            is_lead_head=row in lead_heads,
            words=", ".join(labels[row]),
            cells=tuple(_cell(count, row, place, faults[row, place]) for place in range(1, piece.bells + 1)),
        )
        for row in range(len(piece.rows))
    )
    return RowsMap(bells=piece.bells, rows=rows)


def _cell(count: Count, row: int, place: int, faults: Iterable[Fault]) -> MapCell:
    """Cell of one blow; where it has several faults, the dearest is drawn and all are told."""
    due = int(count.rung.piece.rows[row, place - 1])
    struck = int(count.rung.bells[row, place - 1])
    here = sorted(faults, key=lambda fault: (fault.charge, abs(fault.own_ms)), reverse=True)
    worst = here[0] if here else None
    charge = sum(fault.charge for fault in here)
    return MapCell(
        id=count.rung.blow_id(row, place),
        row=row,
        place=place,
        bell=struck or due,
        in_course=struck in {0, due},
        direction=_direction(worst),
        size=_size(worst, float(count.rhythm.gap_s[row])),
        level=worst.level if worst else "",
        charge=figure(charge) if charge else "",
        doubtful=any(fault.doubtful for fault in here),
        title=" ".join(stopped(fault.sentence) for fault in here),
    )


def _direction(fault: Fault | None) -> Direction:
    if fault is None:
        return ""
    if fault.kind == "missing blow":
        return "missing"
    if fault.kind in {"extra blow", "stand"}:
        return "extra"
    return "late" if fault.own_ms > 0 else "early"


def _size(fault: Fault | None, gap_s: float) -> float:
    if fault is None:
        return 0.0
    if fault.kind in {"missing blow", "extra blow", "stand"}:
        return 1.0
    return round(min(1.0, abs(fault.own_ms) / 1000 / gap_s / DEEPEST_GAPS), 2)
