"""A count as a table for spreadsheets: every blow one line, with what it was charged and why."""

import csv
import io
import re

from judging.striking.document import every_blow
from judging.striking.values import Count

COLUMNS = (
    "id", "row", "change", "place", "bell", "stroke", "time_s", "deviation_ms", "own_ms", "spread_ms", "doubtful",
    "judged", "charge", "fault",
)  # fmt: skip

#: What makes a spreadsheet take a text for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


#: What a spreadsheet reads as a number and nothing more.
_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?")


def blows_csv(count: Count) -> str:
    """Every blow as CSV text, in order of row and place; rows before the piece as given are negative.

    Parameters
    ----------
    count : Count
        The count.

    Returns
    -------
    str
        The columns of `blows_table`, then ``fault``: what a ringer is told of the blow, empty where nothing is amiss.
        Figures that are not there are empty; yes and no are ``true`` and ``false``.
    """
    told: dict[tuple[int, int], list[str]] = {}
    for fault in count.faults:
        told.setdefault((fault.row - count.rung.rows_before, fault.place), []).append(fault.sentence)
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for blow in every_blow(count):
        sentences = ". ".join(told.get((blow["row"], blow["place"]), []))
        writer.writerow({key: _cell(value) for key, value in blow.items()} | {"fault": no_formula(sentences)})
    return out.getvalue()


def no_formula(text: str) -> str:
    """Return a text so that no spreadsheet computes it: an apostrophe before what begins like a formula.

    Examples
    --------
    >>> no_formula("=1+1"), no_formula("Change 1")
    ("'=1+1", 'Change 1')
    """
    return f"'{text}" if text.startswith(_FORMULA) else text


def log_for_spreadsheets(text: str) -> str:
    """Return a strike log as it is handed out: what its giver put beside the blows comes back, and computes nothing.

    Parameters
    ----------
    text : str
        As `judging.striking.write_log` writes it.

    Returns
    -------
    str
        The same where no cell begins like a formula; a number is none, whatever its sign.
    """
    out = io.StringIO()
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    csv.writer(out, lineterminator="\n").writerows([[_no_number(cell) for cell in row] for row in rows])
    return out.getvalue()


def _no_number(cell: str) -> str:
    return cell if _NUMBER.fullmatch(cell) else no_formula(cell)


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return str(value).lower()
    return no_formula(value) if isinstance(value, str) else value
