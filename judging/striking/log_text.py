"""A strike log as text: CSV with the header ``time_s,bell``, one blow a line.

Further columns are kept as they came; one called ``spread_ms`` is how sure each time is. Bells are whole numbers from
1 = treble, 0 = not known. A file that cannot be read is refused with its line, what was found and the likely cause.
"""

import csv
import io
import math
from collections.abc import Sequence
from itertools import islice

import numpy as np

from judging.errors import InputError
from judging.striking.strike_log import StrikeLog

#: Most blows in a log: more than eight hours on sixteen bells, or a long peal three times over.
MOST_BLOWS = 1_000_000

#: Latest time, in seconds: a week, past which a clock's own date has been written for seconds.
LATEST_S = 604_800.0

#: A time that is less sure than ten seconds is no time.
MOST_SPREAD_MS = 10_000.0

#: So much of a cell is shown in a message.
_MOST_SHOWN = 40


def log_from_text(data: bytes, *, name: str, bells: int) -> StrikeLog:
    """Strike log from CSV bytes.

    Parameters
    ----------
    data : bytes
        UTF-8 text.
    name : str
        What the file is called, for messages.
    bells : int
        Bells of the piece.

    Returns
    -------
    StrikeLog
        Blows in order of time.

    Raises
    ------
    InputError
        With the line, what was found and the likely cause.
    """
    text = _text(data, name)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    filled = (row for row in reader if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"))
    try:
        lines = [(reader.line_num, row) for row in islice(filled, MOST_BLOWS + 2)]
    except csv.Error as error:
        raise InputError(
            f"{name}, line {reader.line_num}",
            f"this is not a table of comma-separated values ({error}); is a quotation mark left open?",
        ) from error
    if not lines:
        raise InputError(name, "the file is empty; a strike log begins with the header time_s,bell")
    header = [cell.strip() for cell in lines[0][1]]
    _check_header(header, lines[0][0], text, name)
    if len(lines) > MOST_BLOWS + 1:
        raise InputError(name, f"has more than {MOST_BLOWS:,} blows, the most that can be counted at once")
    for number, row in lines[1:]:
        if len(row) != len(header):
            hint = (
                "; is there a decimal comma? times are written with a point, as 12.345"
                if len(row) > len(header)
                else ""
            )
            raise InputError(f"{name}, line {number}", f"{len(row)} columns, but the header has {len(header)}{hint}")
    columns = {title: [row[index].strip() for _, row in lines[1:]] for index, title in enumerate(header)}
    numbers = [number for number, _ in lines[1:]]
    times = _times(columns.pop("time_s"), numbers, name)
    rung = _bells(columns.pop("bell"), numbers, name, bells)
    spread = _spreads(columns.pop("spread_ms", None), numbers, name)
    kept = {title: tuple(cells) for title, cells in columns.items()}
    return StrikeLog(times, rung, spread, source=name, kept=kept)


def write_log(log: StrikeLog) -> str:
    """Strike log as CSV text: the same log gives the same text, and reading it back gives the same log.

    Parameters
    ----------
    log : StrikeLog
        What was heard.

    Returns
    -------
    str
        Header and one line a blow; times to the microsecond.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time_s", "bell", "spread_ms", *log.kept])
    figures = zip(log.times_s.tolist(), log.bells.tolist(), log.spread_ms.tolist(), *log.kept.values(), strict=True)
    writer.writerows([f"{time:.6f}", bell, f"{spread:.3f}", *others] for time, bell, spread, *others in figures)
    return out.getvalue()


def _text(data: bytes, name: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError(name, "the text is UTF-16; save it as CSV in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{name}, line {_line_of(data, error.start)}",
            f"byte {error.start + 1} is not UTF-8 text; is this a spreadsheet or a recording? save it as CSV in UTF-8",
        ) from error
    if "\x00" in text:
        raise InputError(
            f"{name}, line {_line_of(data, data.index(0))}",
            "this is a binary file, not text; a strike log is a CSV file with the header time_s,bell",
        )
    return text


def _line_of(data: bytes, at: int) -> int:
    return data.count(b"\n", 0, at) + 1


def _check_header(header: Sequence[str], number: int, text: str, name: str) -> None:
    where = f"{name}, line {number}"
    missing = [title for title in ("time_s", "bell") if title not in header]
    if missing:
        first = text.splitlines()[number - 1][:60]
        hint = ""
        if ";" in first and "," not in first:
            hint = "; the columns seem to be separated by semicolons: save it with commas"
        elif "\t" in first:
            hint = "; the columns seem to be separated by tabs: save it with commas"
        elif header and _number(header[0]) is not None:
            hint = "; the first line holds figures, so the header seems to be missing"
        raise InputError(where, f"the header {first!r} lacks {' and '.join(missing)}; it must be time_s,bell{hint}")
    twice = next((title for title in header if header.count(title) > 1), None)
    if twice is not None:
        raise InputError(where, f"the column {twice!r} comes twice")


def _number(cell: str) -> float | None:
    """Read a cell as a number; not as Python writes some, 1_000, nor in other digits."""
    try:
        return float(cell) if cell.isascii() and "_" not in cell else None
    except ValueError:
        return None


def _short(cell: str) -> str:
    return repr(cell if len(cell) <= _MOST_SHOWN else f"{cell[:_MOST_SHOWN]}…")


def _times(cells: list[str], numbers: list[int], name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    times = np.empty(len(cells))
    before, line_before = -math.inf, 0
    for index, (cell, number) in enumerate(zip(cells, numbers, strict=True)):
        where, value = f"{name}, line {number}", _number(cell)
        if value is None:
            hint = "; write it with a point, as 12.345" if "," in cell else ""
            raise InputError(where, f"time_s = {_short(cell)} is not a number of seconds{hint}")
        if not math.isfinite(value):
            raise InputError(where, f"time_s = {cell} is not a time; was a blow marked that has none?")
        if abs(value) > LATEST_S:
            raise InputError(
                where, f"time_s = {cell} is more than a week; times are seconds, are these milliseconds or a date?"
            )
        if value < before:
            raise InputError(
                where, f"time_s = {cell} is before {before:g} on line {line_before}; a log is in order of time"
            )
        times[index], before, line_before = value, value, number
    return times


def _bells(cells: list[str], numbers: list[int], name: str, bells: int) -> np.ndarray[tuple[int], np.dtype[np.int8]]:
    known = {str(bell): bell for bell in range(bells + 1)}
    rung = np.empty(len(cells), dtype=np.int8)
    for index, (cell, number) in enumerate(zip(cells, numbers, strict=True)):
        bell = known.get(cell)
        if bell is None:
            raise InputError(f"{name}, line {number}", _bell_problem(cell, bells))
        rung[index] = bell
    return rung


def _bell_problem(cell: str, bells: int) -> str:
    limit = f"bells are whole numbers from 1 (treble) to {bells}, or 0 where it is not known"
    value = _number(cell)
    if cell in "0ETABCD" and cell and value is None:
        return f"bell = {cell!r} is a symbol of a row; {limit}"
    if value is not None and value == int(value if math.isfinite(value) else 0) and bells < value <= 16:
        return f"bell = {cell} in a piece on {bells}; {limit}: is this a log of more bells, or the wrong piece?"
    return f"bell = {_short(cell)}; {limit}"


def _spreads(cells: list[str] | None, numbers: list[int], name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    if cells is None:
        return np.zeros(len(numbers))
    spread = np.empty(len(cells))
    for index, (cell, number) in enumerate(zip(cells, numbers, strict=True)):
        value = _number(cell) if cell else 0.0
        if value is None or not 0 <= value <= MOST_SPREAD_MS:
            raise InputError(
                f"{name}, line {number}",
                f"spread_ms = {_short(cell)} must be a number of milliseconds from 0 to {MOST_SPREAD_MS:,.0f}",
            )
        spread[index] = value
    return spread
