"""What is declared about a judge's sheet: faults or marks, what a line is for, and the most of each."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from judging.errors import InputError
from judging.striking.marking import ADDED_LATER

Unit = Literal["faults", "marks"]
Lines = Literal["any", "total", "blow", "row", "whole pull", "block", "criterion"]


@dataclass(frozen=True, slots=True)
class Criterion:
    """One of the criteria of an impression sheet.

    Parameters
    ----------
    name : str
        As it is printed.
    most : Decimal
        The most that may be given for it.
    words : str
        What it is about.
    """

    name: str
    most: Decimal
    words: str = ""

    def __post_init__(self) -> None:
        """Refuse a criterion for which nothing can be given."""
        if not self.most.is_finite() or self.most <= 0:
            raise InputError(f'criterion "{self.name}", most', f"{self.most} is not above 0")


@dataclass(frozen=True, slots=True)
class Sheets:
    """What a judge's sheet holds.

    Parameters
    ----------
    unit : {"faults", "marks"}
        Faults: fewer is better. Marks: more is better.
    step : Decimal
        The finest figure a judge may give: 0.5 where half faults are counted.
    most : Decimal or None
        The most one sheet may hold; None for no limit. With criteria it is the sum of theirs.
    lines : Lines
        What a line is for. ``any``: a total, or faults change by change, as the judge likes. ``total``: nothing else.
        Otherwise a line for each blow, row or whole pull at which something was heard, for every block of rows, or for
        every criterion; see `judging.marks.lines`.
    block_changes : int or None
        Changes in a block.
    most_a_line : Decimal or None
        The most one line may hold (a row that is marked in several taps, all of them); None for no limit.
    criteria : tuple of Criterion
        In the order in which they are printed.
    """

    unit: Unit = "faults"
    step: Decimal = Decimal("0.5")
    most: Decimal | None = None
    lines: Lines = field(default="any", metadata=ADDED_LATER)
    block_changes: int | None = field(default=None, metadata=ADDED_LATER)
    most_a_line: Decimal | None = field(default=None, metadata=ADDED_LATER)
    criteria: tuple[Criterion, ...] = field(default=(), metadata=ADDED_LATER)

    def __post_init__(self) -> None:
        """Refuse figures that are not above 0, and parts that contradict each other."""
        for key, value in (("step", self.step), ("most", self.most), ("most_a_line", self.most_a_line)):
            if value is not None and (not value.is_finite() or value <= 0):
                raise InputError(f"sheets, {key}", f"{value} is not above 0")
        if (self.lines == "block") != (self.block_changes is not None):
            raise InputError("sheets, block_changes", "it belongs to lines for each block, and they need it")
        if (self.lines == "criterion") != bool(self.criteria):
            raise InputError("sheets, lines", 'each [[criterion]] belongs to lines = "criterion", which needs them')
        if self.most_a_line is not None and self.lines not in {"blow", "row", "whole pull", "block"}:
            raise InputError("sheets, most_a_line", f'lines are for "{self.lines}", which has no most a line')
        names = [criterion.name.casefold() for criterion in self.criteria]
        if len(set(names)) < len(names):
            raise InputError("criterion, name", "two criteria have the same name")
        if self.criteria:
            together = sum((criterion.most for criterion in self.criteria), Decimal(0))
            if self.most is not None and self.most != together:
                raise InputError("sheets, most", f"it is {self.most}, but the criteria add up to {together}")
            object.__setattr__(self, "most", together)

    @property
    def lower_is_better(self) -> bool:
        """Whether fewer is better."""
        return self.unit == "faults"
