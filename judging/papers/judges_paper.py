"""The judge's blank paper for the very piece: one line a row, ruled at each lead, a number where a name would be."""

from collections.abc import Mapping, Sequence

from judging.errors import InputError
from judging.figures import figure
from judging.marks.lines import changes_a_line
from judging.marks.sheet_rules import Sheets
from judging.papers.heading import Heading
from judging.papers.typesetting import Setting, setting, typeset
from judging.piece.piece import Piece
from judging.piece.rows import row_text
from judging.striking.rules import CountingRules


def judges_paper_pdf(
    piece: Piece,
    *,
    heading: Heading,
    rules: CountingRules | None = None,
    sheets: Sheets | None = None,
    number: int | None = None,
    judge: str = "",
) -> bytes:
    """Paper to mark one band on, A4.

    Parameters
    ----------
    piece : Piece
        The test piece; only its marked rows are printed. Where rows are held until called, each is printed once with
        room to count beside it.
    heading : Heading
        The contest and section.
    rules : CountingRules or None
        Decide what is marked, and the boxes: one a place where every blow is marked, one a row, or one for so many
        rows; None for the shipped rules.
    sheets : Sheets or None
        What a line of a judge's sheet is for, where it is declared: it then decides the boxes, and with criteria there
        is a box for each of them and no row at all.
    number : int or None
        The band's number in the order of ringing; None leaves a box to write it in.
    judge : str
        The judge's name; empty leaves a line.

    Returns
    -------
    bytes
        PDF; the same values give the same bytes.

    Raises
    ------
    InputError
        Where no row of the piece is marked, or the number is below 1.
    """
    if number is not None and number < 1:
        raise InputError("number", f"is {number}, but the band that rings first has number 1")
    paper = {"number": "" if number is None else str(number), "piece": "the piece"}
    data = _data(
        {"the piece": piece}, (paper,), heading=heading, rules=rules or CountingRules(), sheets=sheets, judge=judge
    )
    return typeset("judges_paper", data, name=f"Judge's paper: {piece.title}")


def judges_papers_setting(
    numbers: Mapping[int, str],
    pieces: Mapping[str, Piece],
    *,
    heading: Heading,
    rules: CountingRules | None = None,
    sheets: Sheets | None = None,
) -> Setting:
    """Papers of all bands in one file, each with its band's number printed on every page, in the order of ringing.

    Parameters
    ----------
    numbers : mapping of int to str
        By each band's number in the order of ringing, which of the pieces it rings. No name is asked for.
    pieces : mapping of str to Piece
        Test pieces by identifier.
    heading : Heading
        The contest.
    rules, sheets : CountingRules or None and Sheets or None
        As for `judges_paper_pdf`.

    Returns
    -------
    Setting
        The same values give the same bytes.

    Raises
    ------
    InputError
        Where there is no band, a number is below 1, a piece is not there, or has no row that is marked.
    """
    if not numbers or min(numbers) < 1:
        raise InputError("numbers", "are those of the bands that ring, from 1; there is none, or one below 1")
    for number, piece in numbers.items():
        if piece not in pieces:
            raise InputError(f"band {number}", f'its piece "{piece}" is not among the test pieces')
    papers = [{"number": str(number), "piece": numbers[number]} for number in sorted(numbers)]
    rung = {name: piece for name, piece in pieces.items() if name in set(numbers.values())}
    data = _data(rung, papers, heading=heading, rules=rules or CountingRules(), sheets=sheets, judge="")
    blows = sum(rung[piece].rows.size for piece in numbers.values())
    expected_ms = 30 + 0.08 * blows
    return setting("judges_paper", data, name=f"Judge's papers: {heading.contest}", expected_ms=expected_ms)


def _data(
    pieces: Mapping[str, Piece],
    papers: Sequence[Mapping[str, str]],
    *,
    heading: Heading,
    rules: CountingRules,
    sheets: Sheets | None,
    judge: str,
) -> dict[str, object]:
    declared = sheets is not None and sheets.lines not in {"any", "total"}
    return {
        "heading": heading,
        "pieces": {name: _piece(piece, rules) for name, piece in pieces.items()},
        "papers": papers,
        "judge": judge,
        "scheme": _what_is_marked(sheets) if sheets is not None and declared else rules.scheme.name,
        "unit_rows": _unit_rows(sheets) if sheets is not None and declared else rules.scheme.unit_rows,
        "marks": sheets.unit == "marks" if sheets is not None else rules.scheme.marks_up,
        "criteria": [
            {"name": one.name, "most": figure(one.most), "words": one.words}
            for one in (sheets.criteria if sheets is not None else ())
        ],
    }


def _what_is_marked(sheets: Sheets) -> str:
    return f"each block of {sheets.block_changes} changes" if sheets.lines == "block" else f"each {sheets.lines}"


def _unit_rows(sheets: Sheets) -> int:
    """Rows in one box; 0 for a box round each bell."""
    return 0 if sheets.lines == "blow" else changes_a_line(sheets)


def _piece(piece: Piece, rules: CountingRules) -> dict[str, object]:
    """Rows of a piece as they are ruled."""
    marked = rules.marked.rows(piece)
    if not marked.any():
        raise InputError("piece", "has no marked row under these rules, so there is nothing to rule a paper for")
    heads = {label.row for label in piece.labels if label.kind == "lead head"}
    words: dict[int, list[str]] = {}
    for label in piece.labels:
        if label.kind not in {"lead head", "part end"}:  # a lead is ruled; parts are the conductor's affair
            words.setdefault(label.row, []).append(label.text)
    is_hand = piece.is_hand
    rows = [
        {
            "change": str(piece.change_of(row) or ""),
            "hand": bool(is_hand[row]),
            "lead": row in heads,
            "words": ", ".join(words.get(row, ())),
            "row": row_text(piece.rows[row]),
        }
        for row in marked.nonzero()[0].tolist()
    ]
    return {"title": piece.title, "bells": piece.bells, "rows": rows, "held": piece.free_lengths}
