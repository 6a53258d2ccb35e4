"""TEST PIECES → REFUSED where they are not what the declared rules ask of their section."""

from collections.abc import Iterator, Mapping

from judging.contest.declared import RuleSet
from judging.errors import InputError
from judging.marks.values import Sheet
from judging.piece.lengths import unmet
from judging.piece.piece import Piece


def lacking(rules: RuleSet, pieces: Mapping[str, Piece]) -> Iterator[tuple[str, str]]:
    """Test pieces that are not of the length declared, or not what their section asks.

    Parameters
    ----------
    rules : RuleSet
        As declared.
    pieces : mapping of str to Piece
        Test pieces by identifier; a section whose piece is not among them is not looked at.

    Yields
    ------
    where, problem : str
        The section, and what its piece lacks.
    """
    for section in rules.sections:
        piece = pieces.get(section.piece)
        if piece is None:
            continue
        where = f'section "{section.name}"'
        changes = int(piece.is_change.sum())
        if section.changes is not None and not piece.free_lengths and changes != section.changes:
            yield (
                f"{where}, changes",
                (
                    f"{section.changes} are declared, but the piece {section.piece} ({piece.title}) has {changes}: is "
                    "it another piece, or is the figure wrong?"
                ),
            )
        unlike = unmet(piece, section.asks)
        if unlike:
            yield where, f"the piece {section.piece} ({piece.title}) is not what the rules ask: {' '.join(unlike)}"


def check_pieces(rules: RuleSet, pieces: Mapping[str, Piece], *, name: str) -> None:
    """Refuse test pieces that are not what the declared rules ask.

    Parameters
    ----------
    rules, pieces
        As for `lacking`.
    name : str
        What the rules' file is called, for messages.

    Raises
    ------
    InputError
        For the first that is not.
    """
    for where, problem in lacking(rules, pieces):
        raise InputError(f"{name}, {where}", problem)


def last_change(piece: Piece) -> int | None:
    """Number of the last row that a fault can be keyed at, closing rows included; None where nobody knows it yet."""
    return None if piece.free_lengths else len(piece.rows) - piece.opening


def refuse_beyond(change: int | None, last: int | None, where: str) -> None:
    """Refuse a fault keyed at a change that the piece does not have.

    Raises
    ------
    InputError
        Where the change comes after the last.
    """
    if change is not None and last is not None and change > last:
        raise InputError(
            where,
            f"{change} is beyond the piece, which ends with change {last}: is a digit wrong, was a row of the opening "
            "rounds counted, or is it the sheet of a band with another piece?",
        )


def check_changes(sheet: Sheet, piece: Piece, where: str) -> None:
    """Refuse a sheet with a fault at a change that the piece does not have.

    Raises
    ------
    InputError
        Naming the change and the last one.
    """
    for tap in sheet.taps:
        refuse_beyond(tap.change, last_change(piece), f"{where}, change")
