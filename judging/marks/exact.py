"""Exact figures: what is carried between steps of arithmetic, settled before it is compared, rounded as declared."""

from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_HALF_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal, localcontext
from typing import Literal

from judging.errors import InputError

Mode = Literal["half up", "half even", "half down", "up", "down"]

_MODES: dict[Mode, str] = {
    "half up": ROUND_HALF_UP,
    "half even": ROUND_HALF_EVEN,
    "half down": ROUND_HALF_DOWN,
    "up": ROUND_UP,
    "down": ROUND_DOWN,
}

#: Digits carried between steps; far beyond anything printed.
WORKING_DIGITS = 50
#: Divisions that do not come out are settled to this before they are rounded as declared or compared, so that the
#: order of judges cannot decide a half and two routes to the same figure are the same figure.
_SETTLED = Decimal(1).scaleb(-24)
#: From one step to the next more is carried, so that a sum of thirds that is a half is settled as one.
_CARRIED = Decimal(1).scaleb(-36)


def settle(figure: Decimal) -> Decimal:
    """Figure with the last digits of a division that does not come out taken off (24 places, half even)."""
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return figure.quantize(_SETTLED, rounding=ROUND_HALF_EVEN)


def carry(figure: Decimal) -> Decimal:
    """Figure as it goes from one step of arithmetic to the next (36 places, half even)."""
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return figure.quantize(_CARRIED, rounding=ROUND_HALF_EVEN)


def plain(figure: Decimal) -> Decimal:
    """Figure without trailing zeros or an exponent, as it is printed."""
    trimmed = figure.normalize()
    return trimmed.quantize(Decimal(1)) if trimmed == trimmed.to_integral_value() else trimmed


@dataclass(frozen=True, slots=True)
class Rounding:
    """Rounding to the nearest multiple of a step.

    Parameters
    ----------
    step : Decimal
        The finest figure, such as 0.01 or 0.5; above 0.
    mode : {"half up", "half even", "half down", "up", "down"}
        What happens between two steps; up and down are away from and towards zero.
    """

    step: Decimal = Decimal("0.01")
    mode: Mode = "half up"

    def __post_init__(self) -> None:
        """Refuse a step that is no step."""
        if not self.step.is_finite() or self.step <= 0:
            raise InputError("rounding, step", f"{self.step} is not above 0; a step is the finest figure, such as 0.01")

    def __call__(self, figure: Decimal) -> Decimal:
        """Round a figure.

        Parameters
        ----------
        figure : Decimal
            Any finite figure.

        Returns
        -------
        Decimal
            ``step`` times the whole number that the mode makes of ``figure / step``.
        """
        with localcontext() as context:
            context.prec = WORKING_DIGITS
            steps = settle(settle(figure) / self.step).quantize(Decimal(1), rounding=_MODES[self.mode])
            return plain(steps * self.step)
