"""What a count is made under: tolerance, marking scheme, what is marked, how doubt counts, whose handstroke gap."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.striking.marking import ADDED_LATER, MarkingScheme
from judging.striking.tolerance import ToleranceBands

Doubtful = Literal["count", "lower", "leave out"]


@dataclass(frozen=True, slots=True)
class Marked:
    """Which rows are marked.

    Parameters
    ----------
    pull_off : bool
        The first whole pull of the opening rounds.
    opening : bool
        The rest of the opening rounds.
    closing : bool
        What follows the return to rounds, up to the stand.
    stand : bool
        A bell that does not stand with the others.
    free_rows : int
        So many rows at the beginning of what would be marked are not (a rounds contest: 20).
    most_changes : int or None
        Only so many changes are marked, however long the piece; None = all.
    """

    pull_off: bool = False
    opening: bool = False
    closing: bool = False
    stand: bool = field(default=False, metadata=ADDED_LATER)
    free_rows: int = 0
    most_changes: int | None = None

    def __post_init__(self) -> None:
        """Refuse impossible numbers."""
        if self.free_rows < 0:
            raise InputError("marked, free_rows", f"{self.free_rows} must not be negative")
        if self.most_changes is not None and self.most_changes < 1:
            raise InputError("marked, most_changes", f"{self.most_changes} must be at least 1")

    def rows(self, piece: Piece) -> NDArray[np.bool_]:
        """Marked rows of a piece; shape (R,). A piece without changes, such as rounds only, is marked throughout."""
        index = np.arange(len(piece.rows))
        changes = piece.is_change
        if not changes.any() or (piece.rows == piece.rows[0]).all():
            marked = np.ones(len(index), dtype=np.bool_)
        else:
            if self.most_changes is not None:
                changes = changes & (index < piece.opening + self.most_changes)
            opening = index < piece.opening
            marked = (
                changes
                | (opening & (index < 2) & self.pull_off)
                | (opening & (index >= 2) & self.opening)
                | ((index >= len(index) - piece.closing) & self.closing)
            )
        return marked & (np.cumsum(marked) > self.free_rows)


@dataclass(frozen=True, slots=True)
class CountingRules:
    """Everything that decides what a strike log is charged.

    Parameters
    ----------
    bands : ToleranceBands
        Where blemish, half and whole begin.
    scheme : MarkingScheme
        What they cost.
    marked : Marked
        Which rows are marked.
    doubtful : {"count", "lower", "leave out"}
        A blow whose own spread straddles a line counts as measured, at the level it surely reaches, or not at all.
    handstroke_gap : float or None
        Declared handstroke gap in gaps (1 = full open lead, 0 = closed); None = each band's own steady style.
    saturation : Decimal or None
        Most faults a row that people write, who write less than they hear: the count stands so beside theirs; None = as
        counted. From a calibration.
    fingerprint : str
        Of the rule set these are part of.
    """

    bands: ToleranceBands = field(default_factory=ToleranceBands)
    scheme: MarkingScheme = field(default_factory=MarkingScheme)
    marked: Marked = field(default_factory=Marked)
    doubtful: Doubtful = "count"
    handstroke_gap: float | None = None
    saturation: Decimal | None = None
    fingerprint: str = ""

    def __post_init__(self) -> None:
        """Refuse what no band could ring."""
        if self.doubtful not in get_args(Doubtful):
            raise InputError("doubtful", f"{self.doubtful!r} must be one of {', '.join(map(repr, get_args(Doubtful)))}")
        if self.saturation is not None and not Decimal("0.1") <= self.saturation <= 100:
            raise InputError("saturation", f"{self.saturation} must lie from 0.1 to 100 faults a row")
        if self.handstroke_gap is not None and not 0 <= self.handstroke_gap <= 2:
            raise InputError(
                "handstroke_gap",
                f"{self.handstroke_gap:g} must lie from 0 (closed) through 1 (full open lead) to 2 gaps",
            )
