"""The values of the room: judges' sheets in, a ranked result out. Decimal wherever it ranks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Tap:
    """One touch of a judge's pad, or one tick on paper.

    Parameters
    ----------
    change : int or None
        The change the judge had reached (1 = first); None where only the time is known.
    faults : Decimal
        How much was charged: ½, 1, ...
    time_s : float or None
        When, in seconds after the judge's own start; None on paper.
    """

    change: int | None
    faults: Decimal
    time_s: float | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One judge's sheet for one entry.

    Parameters
    ----------
    judge, entry : str
        Identifiers from the contest's files.
    total : Decimal
        Faults (or mark, where the scheme marks up) as signed.
    taps : tuple of Tap
        What the total is made of; empty where the judge gave a total only.
    comment : str
        The judge's words to the band.
    revision : int
        1 for the first signed sheet; later ones keep it and give a reason.
    reason : str
        Why it was revised; of a first one, that a surprising figure is meant so.
    """

    judge: str
    entry: str
    total: Decimal
    taps: tuple[Tap, ...] = ()
    comment: str = ""
    revision: int = 1
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Entrant:
    """What the arithmetic must know about an entry; no names.

    Parameters
    ----------
    id : str
        Identifier of the entry.
    scratch : bool
        Judged but unplaced.
    borrowed : int
        How many borrowed ringers.
    experienced : int or None
        How many experienced ringers, for novice handicaps; None where it is not known.
    restarts : int
        How often the touch was begun again.
    restart_changes : int
        How many changes had been rung when it was begun again (the most, if more than once).
    missing_rows : int
        Rows of the test piece that were not rung.
    minutes_over : int
        Minutes begun beyond the time allowed.
    wrong_method, withdrawn, disqualified, unfinished : str
        The reason, in words; empty where it is not so.
    out_of_section : str
        Why this section does not place it; empty where it does.
    changes : int or None
        Length of its test piece; None where it is not fixed.
    causes : mapping of str to str
        By kind of penalty, why it was given, in words; stands in the footnote.
    """

    id: str
    scratch: bool = False
    borrowed: int = 0
    experienced: int | None = None
    restarts: int = 0
    restart_changes: int = 0
    missing_rows: int = 0
    minutes_over: int = 0
    wrong_method: str = ""
    withdrawn: str = ""
    disqualified: str = ""
    unfinished: str = ""
    out_of_section: str = ""
    changes: int | None = None
    causes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Adjustment:
    """One step of arithmetic between what was counted and the mark.

    Parameters
    ----------
    judge : str
        Whose sheet it changes; empty for the combined mark.
    rule : str
        The rule, in words, such as ``"2 borrowed ringers at 15 % each"``.
    before, after : Decimal
        The figure on both sides of it, to three places.
    """

    judge: str
    rule: str
    before: Decimal
    after: Decimal


@dataclass(frozen=True, slots=True)
class Placed:
    """One entry's line of the result.

    Parameters
    ----------
    entry : str
        Identifier of the entry.
    place : int or None
        1 is best; None where the entry is unplaced.
    tied : bool
        Whether the place is shared.
    mark : Decimal or None
        The combined mark, rounded as declared; None where there is none.
    by_judge : mapping of str to Decimal
        Each judge's own figure after that judge's adjustments, to three places.
    machine : Decimal or None
        The machine's count, shown beside; it has only the weight the rules give it.
    adjustments : tuple of Adjustment
        Each a footnote, in order of application.
    reasons : tuple of str
        Why this place: what separates it from the next, the tie rule used, why unplaced.
    safety : float or None
        Share of resamples in which the entry holds this place or a better one; None where it cannot be said.
    on_scale : mapping of str to Decimal
        Each judge's figure on the scale that is combined (a placing, a ratio, a standard score), before rounding.
    """

    entry: str
    place: int | None
    tied: bool
    mark: Decimal | None
    by_judge: Mapping[str, Decimal]
    machine: Decimal | None
    adjustments: tuple[Adjustment, ...]
    reasons: tuple[str, ...]
    safety: float | None = None
    on_scale: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Result:
    """The ranked result of one section.

    Parameters
    ----------
    section : str
        Name of the section; empty where the contest has only one.
    unit : str
        What a mark is: ``"faults"``, ``"marks"``, ``"%"``, ``"placings"``, ``"standard score"``, ``"ratio"``.
    lower_is_better : bool
        Whether fewer is better.
    places : tuple of Placed
        Best first, unplaced entries last.
    notes : tuple of str
        What the reader of the whole table must know: denominators, the machine's part, ties left standing.
    fingerprint : str
        Of the rules.
    revision : int
        1 for the first result; a correction makes the next.
    """

    section: str
    unit: str
    lower_is_better: bool
    places: tuple[Placed, ...]
    notes: tuple[str, ...] = field(default=())
    fingerprint: str = ""
    revision: int = 1


@dataclass(frozen=True, slots=True)
class Safety:
    """How firmly the places of a section stand, were the counts taken again.

    Parameters
    ----------
    resamples : int
        How many times the section was ranked on figures that might as well have been given.
    place_or_better : mapping of str to float
        By entry: share of them in which it holds its place or a better one.
    first, podium : mapping of str to float
        By entry: share in which it is first, and among the first three.
    at_place : mapping of str to tuple of float
        By entry: share in which it holds the first place, the second, and so on; equal marks share the better one.
    ahead_of_next : tuple of float
        For each placed entry but the last, best first: share in which it is strictly ahead of the next one.
    dispersion : float or None
        Variance over mean of a count; 1 is a plain Poisson count. None where sheets hold marks without a declared most,
        whose spread is measured in marks.
    degrees_of_freedom : int
        How much the judges' own figures say about their spread; 0 where it is an assumption only.
    notes : tuple of str
        What an organiser is told; no band is named.
    """

    resamples: int
    place_or_better: Mapping[str, float]
    first: Mapping[str, float]
    podium: Mapping[str, float]
    at_place: Mapping[str, tuple[float, ...]]
    ahead_of_next: tuple[float, ...]
    dispersion: float | None
    degrees_of_freedom: int
    notes: tuple[str, ...] = ()
