"""Marking schemes: what a half, a whole and a clash cost, and how a row of them adds up.

A scheme is declared data. Every published way of marking in use at striking competitions is one of `SCHEMES`; rules
name one, or declare their own.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from judging.errors import InputError

#: Of a field that rules declared earlier do not have: left at its default it is no part of their fingerprint.
ADDED_LATER: Mapping[str, bool] = {"added_later": True}

HALF, ONE = Decimal("0.5"), Decimal(1)


@dataclass(frozen=True, slots=True)
class MarkingScheme:
    """What faults cost.

    Parameters
    ----------
    name : str
        As printed.
    half, whole, clash : Decimal
        Charge of a half fault, a whole fault and a clash; ascending.
    missing, extra : Decimal
        Charge of a blow that was not heard and of one too many. A bell that falls silent is charged once.
    stand : Decimal
        Charge of a bell that does not stand with the others, where the stand is marked; outside any unit.
    unit_rows : int
        How many rows are marked together: 0 = every blow for itself, 1 = a row, 2 = a whole pull, more = a block.
    adds : {"sum", "worst"}
        Whether the faults of a unit add up or only its worst is charged.
    cap : Decimal or None
        The most a unit can be charged; None = no limit. Needs a unit.
    step : Decimal or None
        Units are charged in multiples of this, halves rounded up; None = as they add up.
    marks_up : bool
        True where a unit earns its cap less its faults, so that more is better.

    Raises
    ------
    InputError
        Where the declared figures contradict each other.
    """

    name: str = "half or whole for each blow"
    half: Decimal = HALF
    whole: Decimal = ONE
    clash: Decimal = ONE
    missing: Decimal = ONE
    extra: Decimal = Decimal(0)
    stand: Decimal = field(default=ONE, metadata=ADDED_LATER)
    unit_rows: int = 0
    adds: Literal["sum", "worst"] = "sum"
    cap: Decimal | None = None
    step: Decimal | None = None
    marks_up: bool = False

    def __post_init__(self) -> None:
        """Refuse figures that contradict each other."""
        where = f"marking scheme {self.name!r}"
        for label in ("half", "whole", "clash", "missing", "extra", "stand", "cap", "step"):
            value = getattr(self, label)
            if value is not None and not (isinstance(value, Decimal) and value.is_finite() and 0 <= value <= 100):
                raise InputError(where, f"{label} = {value!r} must be a decimal number from 0 to 100")
        if not self.half <= self.whole <= self.clash:
            raise InputError(where, f"half {self.half}, whole {self.whole}, clash {self.clash} must not descend")
        if self.whole == 0:
            raise InputError(where, "a whole fault costs 0, so nothing would ever be charged")
        if self.unit_rows < 0:
            raise InputError(
                where, f"unit_rows = {self.unit_rows} must be 0 (each blow), 1 (a row), 2 (a whole pull) or more"
            )
        if self.unit_rows == 0 and (self.cap is not None or self.step is not None or self.adds == "worst"):
            raise InputError(where, "a cap, a step and 'worst' need a unit: declare unit_rows")
        if self.adds not in ("sum", "worst"):
            raise InputError(where, f"adds = {self.adds!r} must be 'sum' or 'worst'")
        if self.marks_up and self.cap is None:
            raise InputError(where, "marks up need a cap: the marks that a well struck unit earns")
        if self.cap == 0 or self.step == 0:
            raise InputError(where, "a cap or step of 0 would charge nothing")

    def most(self, rows: int) -> Decimal | None:
        """Return the most faults that can be charged on so many rows; None where the scheme has no cap."""
        if self.cap is None:
            return None
        return self.cap * -(-rows // self.unit_rows)

    def shares(self, charges: Iterable[Decimal]) -> list[Decimal]:
        """What each fault of one unit adds to the unit's charge, in order of time.

        Parameters
        ----------
        charges : iterable of Decimal
            What each fault would cost alone.

        Returns
        -------
        list of Decimal
            Parts that add up to what the unit is charged.

        Examples
        --------
        >>> SCHEMES["up to 3 a row"].shares([Decimal(1), Decimal("0.5"), Decimal(2), Decimal(1)])
        [Decimal('1'), Decimal('1'), Decimal('1'), Decimal('0')]
        """
        parts, total, charged = [], Decimal(0), Decimal(0)
        for charge in charges:
            total = max(total, charge) if self.adds == "worst" else total + charge
            now = total
            if self.step is not None:
                now = (now / self.step).to_integral_value(ROUND_HALF_UP) * self.step
            if self.cap is not None:
                now = min(now, self.cap)
            parts.append(now - charged)
            charged = now
        return parts


def _scheme(name: str, **figures: int | str | Decimal | bool) -> MarkingScheme:
    """Shorthand for the table below."""
    decimals = ("half", "whole", "clash", "missing", "extra", "stand", "cap", "step")
    return MarkingScheme(
        name=name,
        **{key: Decimal(str(value)) if key in decimals else value for key, value in figures.items()},  # type: ignore[arg-type]  # the table is data
    )


#: Schemes in use at competitions, by the name that rules declare. What a clash costs in them is Evenblow's own figure.
SCHEMES: Mapping[str, MarkingScheme] = {
    scheme.name: scheme
    for scheme in (
        MarkingScheme(),
        _scheme("up to 3 a row", unit_rows=1, cap=3, step=1),
        _scheme("up to 4 a row", unit_rows=1, cap=4, step=1, clash=2),
        _scheme("0, 1 or 2 a row", half=1, whole=1, clash=2, unit_rows=1, cap=2),
        _scheme("marks up, 2 a row", half=1, whole=1, clash=2, unit_rows=1, cap=2, marks_up=True),
        _scheme("marks up, 5 a row", half="0.5", whole=1, clash=2, unit_rows=1, cap=5, marks_up=True),
        _scheme("one a whole pull", half=1, whole=1, clash=2, unit_rows=2, adds="worst", cap=2),
        _scheme("impression, 10 for 12 rows", unit_rows=12, cap=10, marks_up=True),
    )
}
