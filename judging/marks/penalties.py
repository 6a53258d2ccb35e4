"""What is declared about one penalty or handicap."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from judging.errors import InputError
from judging.marks.exact import Rounding

Base = Literal["each judge", "combined"]
PercentOf = Literal["as counted", "so far"]
PenaltyKind = Literal["missing rows", "restart", "borrowed ringers", "over time", "wrong method", "novice handicap"]

#: Penalties that count something, and what they count.
_COUNTED: dict[PenaltyKind, str] = {
    "missing rows": "missing row",
    "restart": "restart",
    "borrowed ringers": "borrowed ringer",
    "over time": "minute begun over time",
    "wrong method": "wrong method",
}


@dataclass(frozen=True, slots=True)
class Penalty:
    """One penalty or handicap; they are applied in the order in which they are declared.

    Parameters
    ----------
    kind : PenaltyKind
        What it is for.
    base : {"each judge", "combined"}
        Whether each judge's figure is changed, or the combined mark.
    percent : Decimal
        Per cent of the figure for each one counted (borrowed ringer, restart, minute begun): two at 15 are 30 in one.
    percent_of : {"as counted", "so far"}
        Of the figure before any penalty of this base, or of what the earlier penalties have made of it.
    amount : Decimal
        Faults added, or marks taken off, for each one counted.
    multipliers : tuple of Fraction
        For a novice handicap: what faults are multiplied by with 0, 1, 2, ... experienced ringers; the last holds
        for every larger number.
    most : int or None
        With more than this many, the entry is unplaced; None for no limit.
    within_changes : int or None
        For a restart: with more changes rung than this before it, the entry is unplaced.
    rounding : Rounding or None
        Of the figure after this step; None leaves it to the end.
    """

    kind: PenaltyKind
    base: Base = "each judge"
    percent: Decimal = Decimal(0)
    percent_of: PercentOf = "as counted"
    amount: Decimal = Decimal(0)
    multipliers: tuple[Fraction, ...] = ()
    most: int | None = None
    within_changes: int | None = None
    rounding: Rounding | None = None

    def __post_init__(self) -> None:
        """Refuse a penalty that says nothing, or says what its kind cannot mean."""
        where = f'penalty for "{self.kind}"'
        for key, value in (("percent", self.percent), ("amount", self.amount)):
            if not value.is_finite() or value < 0:
                raise InputError(f"{where}, {key}", f"{value} is below 0")
        if (self.kind == "novice handicap") != bool(self.multipliers):
            raise InputError(f"{where}, multipliers", "they belong to a novice handicap, and it needs them")
        if self.multipliers and (self.percent or self.amount):
            raise InputError(where, "a handicap multiplies; it has no percent and no amount")
        if any(multiplier <= 0 for multiplier in self.multipliers):
            raise InputError(f"{where}, multipliers", "each must be above 0")
        if self.within_changes is not None and self.kind != "restart":
            raise InputError(f"{where}, within_changes", "only a restart has it")
        if not (self.percent or self.amount or self.multipliers or self.most is not None):
            raise InputError(where, "it says nothing; give a percent, an amount, multipliers, or the most allowed")

    @property
    def of_what(self) -> str:
        """What one of it is, in the singular."""
        return _COUNTED.get(self.kind, "experienced ringer")
