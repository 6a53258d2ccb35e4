"""Entries, judges and the whole day as one value, whichever way it came in (a folder or the service's store)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from judging.contest.judge import Judge
from judging.contest.rules import RuleSet
from judging.marks.values import Result, Safety, Sheet
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count

__all__ = ["ContestDay", "Entry", "Judge", "Outcome"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One band's entry in one section.

    Parameters
    ----------
    id : str
        Stable identifier: lower-case letters, digits and hyphens; names files and addresses.
    band : str
        The band's name, which judges do not see before the result is final.
    section : str
        Section it rings in; empty where the contest has only one.
    piece : str
        Identifier of its test piece.
    scratch : bool
        Judged but unplaced.
    borrowed : int
        How many borrowed ringers.
    experienced : int or None
        How many experienced ringers, for novice handicaps; None where it does not matter.
    withdrawn, disqualified : str
        The reason; empty where it is neither.
    over_time_s : float
        By how much the time allowed was exceeded.
    restarts : int
        How often the touch was begun again.
    remarks : str
        For the organiser.
    also_in : tuple of str
        Further sections in which it stands with the same ringing.
    late : bool
        Incomplete at the draw: rings after those that were drawn.
    restart_changes : int
        How many changes had been rung when it was begun again (the most, if more than once).
    missing_rows : int
        Rows of the test piece that were not rung, as the steward reports.
    wrong_method, unfinished : str
        What was wrong; why the piece was not completed; empty where it is not so.
    may_be_recorded : bool
        False where the band gave no consent: it is judged by ear only.
    conflicts : tuple of str
        Identifiers of judges who have to do with the band.
    causes : tuple of str
        Why a penalty was given, ``"KIND: words"`` each; printed with its footnote.
    number : int or None
        Its number in the drawn order, by which judges know it; None before the draw.
    """

    id: str
    band: str
    section: str = ""
    piece: str = ""
    scratch: bool = False
    borrowed: int = 0
    experienced: int | None = None
    withdrawn: str = ""
    disqualified: str = ""
    over_time_s: float = 0.0
    restarts: int = 0
    remarks: str = ""
    also_in: tuple[str, ...] = ()
    late: bool = False
    restart_changes: int = 0
    missing_rows: int = 0
    wrong_method: str = ""
    unfinished: str = ""
    may_be_recorded: bool = True
    conflicts: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    number: int | None = None


@dataclass(frozen=True, slots=True)
class ContestDay:
    """Everything a result is made from: what the archive holds and a recount reads.

    Parameters
    ----------
    rules : RuleSet
        The declared rules.
    entries : tuple of Entry
        In the order in which they were received.
    judges : tuple of Judge
        In the order in which they are printed.
    pieces : mapping of str to Piece
        Test pieces by identifier.
    logs : mapping of str to StrikeLog
        Strike logs by entry; an entry without one was judged by ear only.
    sheets : tuple of Sheet
        Every signed sheet, revisions included.
    order : tuple of str
        Entry identifiers in the drawn order of ringing.
    revision : int
        Which version of the result is made from it, from 1.
    """

    rules: RuleSet
    entries: tuple[Entry, ...]
    judges: tuple[Judge, ...]
    pieces: Mapping[str, Piece]
    logs: Mapping[str, StrikeLog]
    sheets: tuple[Sheet, ...]
    order: tuple[str, ...]
    revision: int = 1


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was made of the day: machine counts by entry, and a result for each section.

    Parameters
    ----------
    counts : mapping of str to Count
        Machine counts by entry.
    results : tuple of Result
        One a section, in the order of the rules.
    machine_counts : mapping of str to Decimal
        The figure that stands beside the judges', by entry, after the machine's own missing-row charge.
    uncounted : mapping of str to str
        Why an entry has no machine count, or none of the declared quality, in words, by entry.
    safeties : tuple of Safety or None
        How firmly the places of each result stand, in the same order.
    """

    counts: Mapping[str, Count]
    results: tuple[Result, ...]
    machine_counts: Mapping[str, Decimal] = field(default_factory=dict)
    uncounted: Mapping[str, str] = field(default_factory=dict)
    safeties: tuple[Safety | None, ...] = ()
