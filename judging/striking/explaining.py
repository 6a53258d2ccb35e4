"""Every fault as one sentence a ringer understands: where, which bell, how far, and what it did to its neighbours."""

from dataclasses import dataclass

import numpy as np

from judging.striking.values import Deviations, FaultKind, Rhythm, Rung

#: How much wider or closer than due a gap must be to be spoken of, in gaps.
SPOKEN = 0.2

#: How far out the blow before must be to be said to be so too, in gaps.
TOO = 0.1


@dataclass(frozen=True, slots=True)
class Told:
    """What sentences need, as lists of rows (plain numbers are much faster to read one by one than arrays)."""

    bells: list[list[int]]
    expected: list[list[int]]
    times: list[list[float]]
    ideal: list[list[float]]
    own_ms: list[list[float]]
    late_ms: list[list[float]]
    before: list[list[float]]
    after: list[list[float]]
    gap_ms: list[float]
    hand: list[bool]
    opening: int

    @classmethod
    def of(cls, rung: Rung, rhythm: Rhythm, found: Deviations) -> "Told":
        """Gather the figures; gaps before and after are by how much wider than due, in gaps."""
        shape = rung.times_s.shape
        flat = found.gaps.ravel()
        wider = np.diff(flat)
        wider[np.flatnonzero(rhythm.follows_pause) * shape[1] - 1] = np.nan
        before = np.concatenate([[np.nan], wider]).reshape(shape)
        after = np.concatenate([wider, [np.nan]]).reshape(shape)
        return cls(
            bells=rung.bells.tolist(),
            expected=rung.piece.rows.tolist(),
            times=rung.times_s.tolist(),
            ideal=rhythm.ideal_s.tolist(),
            own_ms=found.own_ms.tolist(),
            late_ms=found.ms.tolist(),
            before=before.tolist(),
            after=after.tolist(),
            gap_ms=(rhythm.gap_s * 1000).tolist(),
            hand=rung.piece.is_hand.tolist(),
            opening=rung.piece.opening,
        )

    def where(self, row: int) -> str:
        """Change and stroke, with a capital."""
        stroke = "handstroke" if self.hand[row] else "backstroke"
        if row < self.opening:
            return f"Opening row {row + 1}, {stroke}"
        return f"Change {row - self.opening + 1}, {stroke}"

    def bell_before(self, row: int, column: int) -> int:
        """Bell of the blow before; 0 where there is none."""
        if column:
            return self.bells[row][column - 1]
        return self.bells[row - 1][-1] if row else 0

    def bell_after(self, row: int, column: int) -> int:
        """Bell of the blow after; 0 where there is none."""
        if column + 1 < len(self.bells[row]):
            return self.bells[row][column + 1]
        return self.bells[row + 1][0] if row + 1 < len(self.bells) else 0


def fault_sentence(told: Told, row: int, column: int, kind: FaultKind) -> str:
    """One fault in words.

    Parameters
    ----------
    told : Told
        The figures.
    row, column : int
        Where, both from 0.
    kind : FaultKind
        What was heard.

    Returns
    -------
    str
        Such as ``"Change 38, backstroke: 4 struck 85 ms late, leaving a wide gap after 2"``.
    """
    where = told.where(row)
    if kind == "missing blow":
        return f"{where}: {told.expected[row][column]} was not heard in place {column + 1}"
    bell, due, own = told.bells[row][column], told.expected[row][column], told.own_ms[row][column]
    who = str(bell) if bell == due else f"{bell}, in {due}'s place,"
    verb = "led" if column == 0 else "struck"
    if bell != due and (blame := _other_bell(told, row, column)) is not None:
        return f"{where}: {bell} struck in {due}'s place, for {due} came {blame}"
    late, further = own > 0, abs(told.late_ms[row][column]) - abs(own) > 1
    if further:
        how = f"fell a further {own:.0f} ms behind" if late else f"went a further {-own:.0f} ms ahead"
    else:
        how = f"{verb} {abs(own):.0f} ms {'late' if late else 'early'}"
    return f"{where}: {who} {how}{_effect(told, row, column, kind, late=late)}"


def _other_bell(told: Told, row: int, column: int) -> str | None:
    """How far out the bell due here was, where it was further from its own time than the bell that struck here."""
    bells, expected, gap = told.bells[row], told.expected[row], told.gap_ms[row]
    bell, due = bells[column], expected[column]
    if due not in bells:
        return None
    struck, own = bells.index(due), expected.index(bell)
    theirs = told.late_ms[row][struck] + (struck - column) * gap
    ours = told.late_ms[row][column] + (column - own) * gap
    return f"{abs(theirs):.0f} ms {'late' if theirs > 0 else 'early'}" if abs(theirs) > abs(ours) else None


def _effect(told: Told, row: int, column: int, kind: FaultKind, *, late: bool) -> str:
    """What it did to the blows beside it."""
    before, after = told.bell_before(row, column), told.bell_after(row, column)
    wide, close = told.before[row][column], told.after[row][column]
    if kind == "clash":
        other = after if late else before
        return f", clashing with {other}" if other else ", a clash"
    if late and before and wide > SPOKEN:
        return f", leaving a wide gap after {before}"
    if late and after and close < -SPOKEN:
        return f", close in front of {after}"
    if not late and before and wide < -SPOKEN:
        return f", clipping {before}"
    if not late and after and close > SPOKEN:
        return f", leaving a wide gap before {after}"
    was = told.late_ms[row][column] / told.gap_ms[row] - wide  # how far out the blow before was, in gaps
    too = before and (was if late else -was) >= TOO
    return f", {before} before it being {'late' if late else 'early'} too" if too else ""
