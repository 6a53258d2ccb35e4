"""What happened to the method: exchanged, out of course, missing and extra blows, rows left out, restarts.

These are kept apart from the striking. Each gets one sentence, and a mistake that lasts is one happening with its rows,
not one a row.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from judging.figures import together
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Event, Rung

Rows = NDArray[np.bool_]


def happenings(log: StrikeLog, rung: Rung) -> tuple[Event, ...]:
    """Everything that happened to the method, in order of row.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    rung : Rung
        The same, laid on the piece.

    Returns
    -------
    tuple of Event
        In order of row.
    """
    events = [
        *_wrong_bells(rung),
        *_missing_blows(rung),
        *_missing_rows(rung),
        *_single_blows(rung),
        *_beside_the_piece(log, rung),
        *_stand(rung),
    ]
    return tuple(sorted(events, key=lambda event: (event.first_row, event.last_row, event.kind)))


def row_name(piece: Piece, row: int) -> str:
    """What a ringer calls a row: its change, or its place in the opening rounds.

    Examples
    --------
    >>> import numpy as np
    >>> row_name(Piece("Rounds", np.tile(np.arange(1, 7, dtype=np.int8), (4, 1)), opening=2), 3)
    'change 2'
    """
    change = piece.change_of(row)
    return f"change {change}" if change is not None else f"row {row + 1} of the opening rounds"


def rows_name(piece: Piece, first: int, last: int) -> str:
    """What a ringer calls a stretch of rows, with a capital."""
    one, other = row_name(piece, first), row_name(piece, last)
    if first == last:
        return one.capitalize()
    if one.startswith("change"):
        return f"Changes {piece.change_of(first)} to {piece.change_of(last)}"
    return f"{one.capitalize()} to {other}"


def bells_name(bells: tuple[int, ...]) -> str:
    """Bells as they are spoken of.

    Examples
    --------
    >>> bells_name((3, 4, 6))
    '3, 4 and 6'
    """
    return together([str(bell) for bell in bells])


def _stretches(rows: Rows, slack: int = 0) -> Iterator[tuple[int, int]]:
    """First and last index of each stretch of True, with up to `slack` False between."""
    hits = np.flatnonzero(rows)
    if not len(hits):
        return
    cut = np.flatnonzero(np.diff(hits) > slack + 1)
    for first, last in zip(np.concatenate([[0], cut + 1]), np.concatenate([cut, [len(hits) - 1]]), strict=True):
        yield int(hits[first]), int(hits[last])


def _wrong_bells(rung: Rung) -> Iterator[Event]:
    """Exchanged bells, and stretches of rows out of course."""
    wrong = (rung.bells != rung.piece.rows) & (rung.bells > 0)
    last_rung = int(np.flatnonzero(rung.is_rung)[-1])
    for first, last, bells in _courses(rung, wrong):
        where, names, rows = rows_name(rung.piece, first, last), bells_name(bells), last - first + 1
        if len(bells) == 2 and _is_exchange(wrong[first : last + 1]):
            places = np.flatnonzero(wrong[first : last + 1].ravel())
            how = "struck the wrong way round" if places[-1] - places[0] == 1 else "struck in each other's places"
            yield Event("exchanged", first, last, bells, f"{where}: {names} {how}")
            continue
        to_the_end = last == last_rung and (last_rung < len(rung.piece.rows) - 1 or rows > 4)
        if to_the_end and len(bells) > rung.piece.bells / 2:
            sentence = f"{where}: {names} were out of course, and the ringing did not come right again"
            yield Event("fire out", first, last, bells, sentence)
            continue
        verb = "was" if len(bells) == 1 else "were"
        right = "to the end" if last == last_rung else f"right again at {row_name(rung.piece, last + 1)}"
        length = "one row" if rows == 1 else f"{rows} rows"
        yield Event("out of course", first, last, bells, f"{where}: {names} {verb} out of course, {right} ({length})")


def _courses(rung: Rung, wrong: Rows) -> Iterator[tuple[int, int, tuple[int, ...]]]:
    """Rows of each mistake, and its bells; a row that is right by chance within a long one does not cut it in two."""
    found: list[tuple[int, int, set[int]]] = []
    for row in np.flatnonzero(wrong.any(axis=1)).tolist():
        bells = {int(bell) for bell in (*rung.bells[row, wrong[row]], *rung.piece.rows[row, wrong[row]])}
        if found:
            first, last, before = found[-1]
            shared = len(before & bells)
            if (row - last == 1 and shared) or (row - last == 2 and last > first and shared > 1):
                found[-1] = (first, row, before | bells)
                continue
        found.append((row, row, bells))
    for first, last, bells in found:
        yield first, last, tuple(sorted(bells))


def _is_exchange(wrong: Rows) -> bool:
    """Whether just two places are wrong, in one row, or at the end of one and the beginning of the next."""
    places = np.flatnonzero(wrong.ravel())
    return len(places) == 2 and (len(wrong) == 1 or bool(places[1] - places[0] == 1))


def _missing_blows(rung: Rung) -> Iterator[Event]:
    """Bells not heard in rows that were otherwise rung; a bell that falls silent is one happening."""
    heard = rung.is_rung
    for bell in range(1, rung.piece.bells + 1):
        rang: Rows = (rung.bells == bell).any(axis=1)
        silent = (heard & ~rang & ((rung.bells == 0) & heard[:, None]).any(axis=1))[heard]
        index = np.flatnonzero(heard)
        for begin, end in _stretches(silent):
            first, last = int(index[begin]), int(index[end])
            where = rows_name(rung.piece, first, last)
            rows = end - begin + 1
            sentence = f"{where}: {bell} was not heard" + (f" for {rows} rows" if rows > 1 else "")
            yield Event("missing blow", first, last, (bell,), sentence)


def _missing_rows(rung: Rung) -> Iterator[Event]:
    """Rows of the piece that were left out, and the end of a piece cut short."""
    heard = rung.is_rung
    rows = np.flatnonzero(heard)
    piece = rung.piece
    for first, last in _stretches(~heard):
        count = last - first + 1
        changes = int(piece.is_change[first : last + 1].sum())
        if last < rows[0]:
            if changes:
                sentence = (
                    f"The log begins at {row_name(piece, last + 1)}, with {changes} {_changes(changes)} before it"
                )
                yield Event("missing rows", first, last, (), sentence)
        elif first > rows[-1]:
            if changes:
                sentence = f"The ringing ended after {row_name(piece, first - 1)}, {changes} {_changes(changes)} short"
                yield Event("short", first, last, (), sentence)
        else:
            sentence = f"{rows_name(piece, first, last)} {'were' if count > 1 else 'was'} left out"
            yield Event("missing rows", first, last, (), sentence)


def _changes(count: int) -> str:
    return "change" if count == 1 else "changes"


def _beside_the_piece(log: StrikeLog, rung: Rung) -> Iterator[Event]:
    """Whole rows that belong to no row of the piece: within it, a broken attempt before, ringing on after the end."""
    if not rung.extra:
        return
    piece, extra = rung.piece, np.array(rung.extra)
    used = rung.strike[rung.strike >= 0]
    rows = np.flatnonzero(rung.is_rung)
    for begin, end in _stretches(np.isin(np.arange(len(log)), extra)):
        count = end - begin + 1
        bells = tuple(int(bell) for bell in np.unique(log.bells[begin : end + 1]) if bell)
        whole = count // piece.bells
        if end < used.min():
            if _holds_changes(log, piece, begin, end):
                sentence = f"{whole} rows were rung before the piece was begun again"
                yield Event("restart", int(rows[0]), int(rows[0]), bells, sentence)
        elif begin > used.max():
            if whole and not _goes_round(log, piece, begin, end):
                sentence = f"{whole} more rows were rung after {row_name(piece, int(rows[-1]))}"
                yield Event("over length", int(rows[-1]), int(rows[-1]), bells, sentence)
        elif whole:
            row = int(np.argwhere(rung.strike == begin - 1)[0, 0])
            more = "one row" if whole == 1 else f"{whole} rows"
            yield Event("extra rows", row, row, bells, f"After {row_name(piece, row)}: {more} more than the piece has")


def _single_blows(rung: Rung) -> Iterator[Event]:
    """Blows too many, a row at a time."""
    for row in sorted({extra.row for extra in rung.extra_blows}):
        bells = tuple(sorted({extra.bell for extra in rung.extra_blows if extra.row == row and extra.bell}))
        names, verb = bells_name(bells) if bells else "a bell that is not known", "were" if len(bells) > 1 else "was"
        yield Event(
            "extra blow", row, row, bells, f"{rows_name(rung.piece, row, row)}: {names} {verb} heard once too often"
        )


def _stand(rung: Rung) -> Iterator[Event]:
    """Bells that did not stand with the others."""
    last = len(rung.piece.rows) - 1
    for early, how in ((True, "stood before the others"), (False, "did not stand with the others")):
        bells = tuple(slip.bell for slip in rung.stand_slips if slip.early == early)
        if bells:
            yield Event("stand", last, last, bells, f"At the stand: {bells_name(bells)} {how}")


def _goes_round(log: StrikeLog, piece: Piece, begin: int, end: int) -> bool:
    """Whether the blows are just more of the last row."""
    after = np.zeros(17, dtype=np.int64)
    after[piece.rows[-1]] = np.roll(piece.rows[-1], -1)
    bells = log.bells[begin : end + 1]
    return bool((after[bells[:-1]] == bells[1:]).mean() > 0.5) if len(bells) > 1 else True


def _holds_changes(log: StrikeLog, piece: Piece, begin: int, end: int) -> bool:
    """Whether the blows hold a change of the piece."""
    bells = log.bells[begin : end + 1]
    if len(bells) < piece.bells:
        return False
    windows = np.lib.stride_tricks.sliding_window_view(bells, piece.bells)
    changes = piece.rows[piece.is_change & (piece.rows != piece.rows[0]).any(axis=1)][:200]
    return any(bool((windows == change).all(axis=1).any()) for change in changes)
