"""PIECE + DECLARED RULES → A JUDGE'S PAD: what its two areas charge, how rows go by, what a total is made of."""

from dataclasses import dataclass
from decimal import Decimal

from judging.contest.declared import RuleSet
from judging.marks.sheet_rules import Sheets
from judging.piece.piece import Piece
from judging.striking.marking import MarkingScheme

#: Usual length of 5,040 changes in minutes, by the number of bells; the middle of the trade's tables, and for bells
#: without a table the nearest that has one. Only a beginning: the judge's own marks set the pace.
_PEAL_MINUTES = {6: 160, 8: 180, 10: 190, 12: 200}
_CHANGES_OF_A_PEAL = 5040


@dataclass(frozen=True, slots=True)
class Pad:
    """What a judge's pad must know of a band's touch.

    Parameters
    ----------
    light, heavy : Decimal
        What a touch of the two areas charges: ½ and 1 where each blow is marked, 1 and 2 where rows are.
    scheme : MarkingScheme
        Says which rows are marked together, and how much a unit can be charged.
    sheets : Sheets
        Unit, step and limit of the figure that is signed.
    rows : int or None
        How many rows are marked; None where nobody knows beforehand.
    changes : int or None
        How many changes the piece has; None likewise.
    heads : tuple of int
        Changes that are lead heads, ascending; empty where there are no leads.
    opening : int
        Rows before the first change.
    row_ms : float
        How long a row usually lasts.
    """

    light: Decimal
    heavy: Decimal
    scheme: MarkingScheme
    sheets: Sheets
    rows: int | None
    changes: int | None
    heads: tuple[int, ...]
    opening: int
    row_ms: float

    def unit(self, change: int) -> int:
        """Number of the unit that a change is marked in: itself, or its row, whole pull or block, counted from 0."""
        return (change - 1) // max(self.scheme.unit_rows, 1)

    def total(self, lost: Decimal) -> Decimal | None:
        """Return the figure that a sheet with so many faults is signed with.

        Parameters
        ----------
        lost : Decimal
            Faults charged, or marks lost.

        Returns
        -------
        Decimal or None
            None where arithmetic cannot say: a mark that the judge gives, or a touch of unknown length.
        """
        if self.sheets.lower_is_better:
            return lost
        most = self.scheme.most(self.rows) if self.scheme.marks_up and self.rows is not None else None
        return None if most is None else max(most - lost, Decimal(0))


def pad_for(piece: Piece, rules: RuleSet) -> Pad:
    """Pad for a piece under a contest's rules.

    Parameters
    ----------
    piece : Piece
        The test piece.
    rules : RuleSet
        As declared.

    Returns
    -------
    Pad
    """
    light, heavy = _areas(rules.counting.scheme, rules.marks.sheets.step)
    changes = None if piece.free_lengths else int(piece.is_change.sum())
    nearest = min(_PEAL_MINUTES, key=lambda bells: abs(bells - piece.bells))
    heads = (piece.change_of(label.row) for label in piece.labels if label.kind == "lead head")
    return Pad(
        light=light,
        heavy=heavy,
        scheme=rules.counting.scheme,
        sheets=rules.marks.sheets,
        rows=None if piece.free_lengths else int(rules.counting.marked.rows(piece).sum()),
        changes=changes,
        heads=() if changes is None else tuple(sorted({head for head in heads if head is not None and head > 1})),
        opening=piece.opening,
        row_ms=_PEAL_MINUTES[nearest] * 60_000 / _CHANGES_OF_A_PEAL,
    )


def _areas(scheme: MarkingScheme, step: Decimal) -> tuple[Decimal, Decimal]:
    """Return two charges that the scheme knows and a sheet can hold."""
    finest = max(step, scheme.step or step)
    known = [
        charge for charge in (scheme.half, scheme.whole, scheme.clash) if charge >= finest and charge % finest == 0
    ]
    light = known[0] if known else finest
    return light, next((charge for charge in known if charge > light), 2 * light)
