"""The values that flow through the room: rung → rhythm → deviations → faults → count.

Conventions
-----------
Arrays over blows have shape (R, n): row r of the piece as it was rung, place p + 1. A missing blow is NaN in times and
deviations, 0 in bells and -1 in indices. Deviations are signed, + late. ``_gaps`` means in units of the gap between
two blows of that row.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from judging.piece.piece import Piece

EventKind = Literal[
    "missing blow",
    "extra blow",
    "exchanged",
    "out of course",
    "missing rows",
    "extra rows",
    "restart",
    "fire out",
    "short",
    "over length",
    "stand",
]

FaultKind = Literal["late", "early", "clash", "missing blow", "extra blow", "stand"]

Level = Literal["blemish", "half", "whole"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the method, not to the striking.

    Parameters
    ----------
    kind : EventKind
        What happened.
    first_row, last_row : int
        Rows of the piece it touched, both included.
    bells : tuple of int
        The bells concerned, in order of number.
    sentence : str
        What a ringer is told.
    """

    kind: EventKind
    first_row: int
    last_row: int
    bells: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class ExtraBlow:
    """A blow too many within the ringing.

    Parameters
    ----------
    row, place : int
        The blow before it: row index from 0, place from 1.
    bell : int
        Which bell; 0 where it is not known.
    time_s : float
        When, on the log's clock.
    """

    row: int
    place: int
    bell: int
    time_s: float


@dataclass(frozen=True, slots=True)
class StandSlip:
    """A bell that did not stand with the others.

    Parameters
    ----------
    bell : int
        Which bell.
    time_s : float
        When it was heard last, on the log's clock.
    early : bool
        True where it stood before the others, False where it rang on after them.
    """

    bell: int
    time_s: float
    early: bool


@dataclass(frozen=True, slots=True)
class Rung:
    """What was rung, laid on the piece.

    Parameters
    ----------
    piece : Piece
        The piece with the rows as long as they were really rung (free lengths are filled in).
    times_s : ndarray of float64, shape (R, n)
        When each place of each row was struck; NaN where it was not.
    bells : ndarray of int8, shape (R, n)
        The bell that struck there (the piece's own unless a method mistake was made); 0 where missing.
    spread_ms : ndarray of float64, shape (R, n)
        How sure each time is; NaN where missing.
    strike : ndarray of int64, shape (R, n)
        Index into the strike log; -1 where missing.
    extra : tuple of int
        Indices of blows of the log that belong to no place of the piece.
    events : tuple of Event
        Missing, extra, exchanged and out-of-course blows, in order of row.
    extra_blows : tuple of ExtraBlow
        Those of the extra blows that came singly within the ringing.
    stand_slips : tuple of StandSlip
        Bells that did not stand with the others at the end.
    rows_before : int
        How many opening rows were rung before the first row of the piece as it was given: the piece here begins with
        them.
    """

    piece: Piece
    times_s: NDArray[np.float64]
    bells: NDArray[np.int8]
    spread_ms: NDArray[np.float64]
    strike: NDArray[np.int64]
    extra: tuple[int, ...] = ()
    events: tuple[Event, ...] = ()
    extra_blows: tuple[ExtraBlow, ...] = ()
    stand_slips: tuple[StandSlip, ...] = ()
    rows_before: int = 0

    @property
    def is_rung(self) -> NDArray[np.bool_]:
        """Rows of which at least one blow was heard; shape (R,)."""
        rung: NDArray[np.bool_] = np.any(self.strike >= 0, axis=1)
        return rung

    def row_id(self, row: int) -> str:
        """Stable identifier of a row, for links: ``"row-25"``, or ``"row-b2"`` for the second row before the piece.

        It does not depend on how many rounds were rung before the piece as it was given.
        """
        return f"row-{self._named(row)}"

    def blow_id(self, row: int, place: int) -> str:
        """Stable identifier of a blow, for links, such as ``"blow-25-3"``: row 25, third place."""
        return f"blow-{self._named(row)}-{place}"

    def _named(self, row: int) -> str:
        row -= self.rows_before
        return str(row) if row >= 0 else f"b{-row}"


@dataclass(frozen=True, slots=True)
class Rhythm:
    """The steady ringing that best explains the band.

    Parameters
    ----------
    gap_s : ndarray of float64, shape (R,)
        Time between successive blows in each row.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps (1 = full open lead, 0 = closed).
    handstroke_gap_is_seen : bool
        False where one whole pull or less was rung, so that the declared value is assumed.
    ideal_s : ndarray of float64, shape (R, n)
        When each place would be struck in steady ringing.
    ideal_se_ms : ndarray of float64, shape (R, n)
        Standard error of the ideal times.
    handstroke_gap_se : float
        Standard error of the handstroke gap, in gaps; 0 where it is declared or assumed.
    follows_pause : ndarray of bool, shape (R,)
        Rows before which the ringing stopped (a stand, a restart, rows left out): they begin afresh.
    """

    gap_s: NDArray[np.float64]
    handstroke_gap: float
    handstroke_gap_is_seen: bool
    ideal_s: NDArray[np.float64]
    ideal_se_ms: NDArray[np.float64]
    handstroke_gap_se: float = 0.0
    follows_pause: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))


@dataclass(frozen=True, slots=True)
class Deviations:
    """Each blow against steady ringing, and the part that is the blow's own.

    Parameters
    ----------
    ms : ndarray of float64, shape (R, n)
        Deviation from the ideal time, + late.
    gaps : ndarray of float64, shape (R, n)
        The same in gaps of that row.
    own_ms, own_gaps : ndarray of float64, shape (R, n)
        What the blow adds to what has already been charged: carrying is free, and so is putting it right.
    maker : ndarray of int64, shape (R, n)
        Flat index (row × n + place − 1) of the blow whose charged error this blow carries, itself where it is the one
        charged; -1 where nothing charged is carried.
    """

    ms: NDArray[np.float64]
    gaps: NDArray[np.float64]
    own_ms: NDArray[np.float64]
    own_gaps: NDArray[np.float64]
    maker: NDArray[np.int64] = field(default_factory=lambda: np.full((0, 0), -1, dtype=np.int64))


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of striking, explained.

    Parameters
    ----------
    row, place, bell : int
        Where: row index from 0, place from 1, bell from 1.
    change : int or None
        Number of the change; None in opening rows.
    is_hand : bool
        Handstroke or backstroke.
    kind : FaultKind
        What was heard.
    level : {"blemish", "half", "whole"}
        How large under the tolerance bands.
    own_ms : float
        What the blow added, + late.
    time_s : float
        When, on the log's clock.
    doubtful : bool
        True where twice the ear's own spread straddles a line.
    judged : bool
        Whether the rules mark this row.
    charge : Decimal
        Faults charged (0 for a blemish, for an unmarked row, and where a row's cap is already full).
    sentence : str
        What a ringer is told.
    """

    row: int
    place: int
    bell: int
    change: int | None
    is_hand: bool
    kind: FaultKind
    level: Level
    own_ms: float
    time_s: float
    doubtful: bool
    judged: bool
    charge: Decimal
    sentence: str


@dataclass(frozen=True, slots=True)
class Habit:
    """Something a bell, or the band, does again and again, and what it costs.

    Parameters
    ----------
    bells : tuple of int
        The bells concerned; empty for the whole band.
    sentence : str
        Told in the trade's words, with its count and its size.
    rows : tuple of int
        Rows that show it.
    saves : Decimal
        Faults that would not have been charged without it.
    praise : bool
        True for something done well.
    what : str
        The same without its count and its size, by which it is known again in another touch; empty where it is none
        that could come back, such as the longest stretch without a fault.
    late_ms : float
        How late on average, - early; 0 where it is not about lateness.
    """

    bells: tuple[int, ...]
    sentence: str
    rows: tuple[int, ...]
    saves: Decimal = Decimal(0)
    praise: bool = False
    what: str = ""
    late_ms: float = 0.0


@dataclass(frozen=True, slots=True)
class PullOff:
    """One first whole pull.

    Parameters
    ----------
    time_s : float
        When it began, on the log's clock.
    bells : ndarray of int8, shape (2, n)
        Bell in each place, at handstroke and at backstroke.
    late_ms : ndarray of float64, shape (2, n)
        Deviation of each blow from even striking, + late; NaN where missing.
    off_ms : float
        How far the blows were from even on average (root mean square, allowing for what the yardstick took up).
    faults : Decimal
        What it would be charged by the rules if it were marked.
    settled : bool
        Whether the yardstick is the pace that the band settled to; otherwise the pull-off is measured against itself.
    slower : float
        By what share it was pulled off slower (−: quicker) than the pace settled to; 0 where it does not show.
    sentence : str
        What a ringer is told.
    """

    time_s: float
    bells: NDArray[np.int8]
    late_ms: NDArray[np.float64]
    off_ms: float
    faults: Decimal
    settled: bool
    slower: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Count:
    """A band's faults under the declared tolerance bands and marking scheme: the machine's count.

    Parameters
    ----------
    rung, rhythm, deviations
        The evidence, from the earlier steps.
    judged : ndarray of bool, shape (R,)
        Which rows are marked.
    faults : tuple of Fault
        In order of row and place; blemishes included, with charge 0.
    charge : ndarray of float64, shape (R, n)
        Faults charged at each blow.
    total : Decimal
        Faults charged in all.
    beside_judges : Decimal
        The same as it stands beside people's counts, who write less than they hear; what the rules say of it.
    rows_judged : int
        How many rows were marked (a denominator of every percentage).
    most : Decimal or None
        The most faults the scheme can charge on those rows; None where it has no cap.
    habits : tuple of Habit
        Most worth working on first.
    pull_off : str
        What the first whole pull was like, in a sentence.
    summary : str
        The band's ringing in two or three kind sentences.
    scheme : str
        Name of the marking scheme.
    fingerprint : str
        Of the rules it was counted under; empty where none were given.
    notes : tuple of str
        What the reader must know: short of the piece, doubtful blows, an assumed handstroke gap.
    changes_missing : int
        Marked rows of the piece that were never rung: what they cost is a rule of the contest.
    mark : Decimal or None
        Marks earned where the scheme marks up; None elsewhere.
    doubtful : ndarray of bool, shape (R, n)
        Blows whose own spread straddles a line.
    pull_offs : tuple of PullOff
        Every first whole pull of the log, in order of time: a band that practises it pulls off again and again.
    """

    rung: Rung
    rhythm: Rhythm
    deviations: Deviations
    judged: NDArray[np.bool_]
    faults: tuple[Fault, ...]
    charge: NDArray[np.float64]
    total: Decimal
    beside_judges: Decimal
    rows_judged: int
    most: Decimal | None
    habits: tuple[Habit, ...]
    pull_off: str
    summary: str
    scheme: str
    fingerprint: str = ""
    notes: tuple[str, ...] = field(default=())
    changes_missing: int = 0
    mark: Decimal | None = None
    doubtful: NDArray[np.bool_] = field(default_factory=lambda: np.zeros((0, 0), dtype=np.bool_))
    pull_offs: tuple[PullOff, ...] = ()

    @property
    def gap_s(self) -> float:
        """Gap between blows: the median over judged rows, or over all rows rung where none is judged."""
        rows = self.judged if self.judged.any() else self.rung.is_rung
        return float(np.median(self.rhythm.gap_s[rows]))
