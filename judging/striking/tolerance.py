"""Tolerance bands: where a blemish ends and a fault begins, declared before the draw.

A line is so many gaps, but never less than so many milliseconds: an ear hears a wide gap in proportion, and nothing at
all below a floor. The shipped lines are Evenblow's own (see DEVELOPERS.md for the argument).
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError

#: Displacement of one tone in an even sequence that is just noticed: 6 ms below a gap of 240 ms, 2.5 % of it above
#: (Friberg & Sundberg 1995).
JND_MS, JND_SHARE = 6.0, 0.025


@dataclass(frozen=True, slots=True)
class ToleranceBands:
    """Lines between level striking, a blemish, a half fault and a whole fault.

    Parameters
    ----------
    blemish_gaps, half_gaps, whole_gaps : float
        How far a blow's own error must reach, in gaps; ascending.
    blemish_ms, half_ms, whole_ms : float
        The same lines are never nearer than this; ascending.
    clash_gaps : float
        Two successive blows nearer than this are a clash.

    Raises
    ------
    InputError
        Where the lines do not ascend, or lie below what a published experiment found can be heard.
    """

    blemish_gaps: float = 0.15
    half_gaps: float = 0.25
    whole_gaps: float = 0.40
    blemish_ms: float = 30.0
    half_ms: float = 45.0
    whole_ms: float = 70.0
    clash_gaps: float = 0.25

    def __post_init__(self) -> None:
        """Refuse lines that no fair count could use."""
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
                raise InputError(f"tolerance, {field.name}", f"{value!r} is not a number")
        for unit, floor, most, why in (
            ("gaps", JND_SHARE, 1.0, "2.5 % of a gap is just noticed in an even sequence"),
            ("ms", JND_MS, 500.0, "6 ms is just noticed in an even sequence"),
        ):
            lines = [getattr(self, f"{level}_{unit}") for level in ("blemish", "half", "whole")]
            if lines[0] < floor:
                raise InputError(
                    f"tolerance, blemish_{unit}",
                    f"{lines[0]:g} is below the hearing floor of {floor:g}: {why} (Friberg & Sundberg 1995)",
                )
            if not lines[0] < lines[1] < lines[2]:
                raise InputError(
                    f"tolerance, blemish_{unit}, half_{unit}, whole_{unit}",
                    f"{', '.join(f'{line:g}' for line in lines)} must ascend: a blemish, then a half, then a whole",
                )
            if lines[2] > most:
                raise InputError(
                    f"tolerance, whole_{unit}", f"{lines[2]:g} is more than {most:g}: nothing would be charged"
                )
        if not 0 < self.clash_gaps < 1:
            raise InputError("tolerance, clash_gaps", f"{self.clash_gaps:g} must lie between 0 and 1 gap")

    def lines_gaps(self, gap_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Lines of each row in gaps, floors included.

        Parameters
        ----------
        gap_s : ndarray, shape (R,)
            Gap of each row in seconds.

        Returns
        -------
        ndarray, shape (R, 3)
            Blemish, half and whole.

        Examples
        --------
        >>> import numpy as np
        >>> ToleranceBands().lines_gaps(np.array([0.3, 0.15])).round(3).tolist()
        [[0.15, 0.25, 0.4], [0.2, 0.3, 0.467]]
        """
        gaps = np.array([self.blemish_gaps, self.half_gaps, self.whole_gaps])
        floors_s = np.array([self.blemish_ms, self.half_ms, self.whole_ms]) / 1000
        lines: NDArray[np.float64] = np.maximum(gaps, floors_s / gap_s[:, None])
        return lines
