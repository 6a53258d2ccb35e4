"""Paper sheets keyed in: one person keys, another keys the same paper again, and only what agrees is a sheet."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from judging.figures import figure
from judging.marks.lines import heading_of, label_of
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Sheet, Tap


@dataclass(frozen=True, slots=True)
class Keying:
    """A paper sheet as one person keyed it in.

    Parameters
    ----------
    who : str
        Who keyed it in.
    sheet : Sheet
        What was read.
    """

    who: str
    sheet: Sheet


@dataclass(frozen=True, slots=True)
class Compared:
    """One line of two keyings of the same paper, side by side.

    Parameters
    ----------
    what : str
        ``"In all"``, ``"Change 38"``, ``"Whole pull 3"``, a criterion's name or ``"To the band"``.
    first, second : str
        What each person read; empty where nothing.
    """

    what: str
    first: str
    second: str

    @property
    def differs(self) -> bool:
        """Whether the two read something else."""
        return self.first != self.second


def side_by_side(first: Sheet, second: Sheet, rules: Sheets | None = None) -> tuple[Compared, ...]:
    """Put two keyings of one paper beside each other.

    Parameters
    ----------
    first, second : Sheet
        In the order in which they were keyed. A comment that the second left out is taken from the first: words are
        read over, figures are keyed twice.
    rules : Sheets or None
        What a line is about; None for changes.

    Returns
    -------
    tuple of Compared
        The total, every line that either has, the comment.
    """
    return tuple(_lines(first, second, rules or Sheets()))


def agreed(first: Sheet, second: Sheet) -> Sheet | None:
    """Return the sheet that two keyings agree on; None where anything differs."""
    if any(line.differs for line in side_by_side(first, second)):
        return None
    return replace(first, taps=tuple(_in_order(first.taps)))


def _lines(first: Sheet, second: Sheet, rules: Sheets) -> Iterator[Compared]:
    yield Compared("In all", figure(first.total), figure(second.total))
    here, there = _by_change(first.taps), _by_change(second.taps)
    for change in sorted(here.keys() | there.keys(), key=lambda change: (change is None, change or 0)):
        yield Compared(_called(change, rules), here.get(change, ""), there.get(change, ""))
    yield Compared("To the band", first.comment, second.comment or first.comment)


def _by_change(taps: tuple[Tap, ...]) -> dict[int | None, str]:
    charged: dict[int | None, Decimal] = {}
    for tap in taps:
        charged[tap.change] = charged.get(tap.change, Decimal(0)) + tap.faults
    return {change: figure(faults) for change, faults in charged.items()}


def _called(change: int | None, rules: Sheets) -> str:
    if change is None:
        return "Faults without a change"
    label = label_of(change, rules)
    return label if rules.lines == "criterion" else f"{heading_of(rules)} {label}"


def _in_order(taps: tuple[Tap, ...]) -> list[Tap]:
    return sorted(taps, key=lambda tap: (tap.change is None, tap.change or 0))
