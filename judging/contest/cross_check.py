"""A SIGNED SHEET + THE MACHINE'S COUNT → WHERE THEY DIFFER, first the few that could move a place; and the sheet after.

Nothing here changes a mark: the judge listens to what differs, and keeps the sheet or signs a revision with a reason.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from math import ceil

import numpy as np

from judging.errors import InputError
from judging.figures import figure
from judging.marks.sheet_rules import Sheets
from judging.marks.taps import compare_taps
from judging.marks.values import Sheet, Tap
from judging.striking.values import Count, Fault

#: What one takes: a few seconds heard, mostly twice, and a decision. Common practice, no source.
SECONDS_EACH = 20.0
#: So many of one band at most are "the few".
MOST_FIRST = 6


@dataclass(frozen=True, slots=True)
class Difference:
    """Something that only the judge or only the machine noted.

    Parameters
    ----------
    key : str
        Names it in a form: ``j4`` is the judge's fifth tap, ``m38-2`` the machine's fault at row 38, place 2.
    change : int or None
        Where, as the judge or the machine has it.
    at_s : float or None
        When, on the strike log's clock; None where nobody can say.
    faults : Decimal
        What it is worth on the judge's sheet.
    sentence : str
        What it is, bells by number.
    doubtful : bool
        Whether the machine's own spread straddles a line there.
    """

    key: str
    change: int | None
    at_s: float | None
    faults: Decimal
    sentence: str
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class CrossCheck:
    """One judge's sheet for one entry beside the machine's count.

    Parameters
    ----------
    entry : str
        Identifier.
    revision : int
        Version of the sheet that was laid beside it.
    lag_s : float or None
        The judge's clock less the log's, reaction included; None where taps were paired by change, or not at all.
    spread_s : float or None
        Of single reactions.
    both : tuple of (Tap, Fault)
        What both noted.
    judge_only, machine_only : tuple of Difference
        What one noted alone, in order of time.
    is_matched : bool
        False where the sheet says nothing of where its faults were, or they could not be laid on the machine's.
    """

    entry: str
    revision: int
    lag_s: float | None
    spread_s: float | None
    both: tuple[tuple[Tap, Fault], ...]
    judge_only: tuple[Difference, ...]
    machine_only: tuple[Difference, ...]
    is_matched: bool

    @property
    def differences(self) -> tuple[Difference, ...]:
        """Everything that differs, in order of time where it is known."""
        return tuple(sorted((*self.judge_only, *self.machine_only), key=lambda one: (one.at_s or 0.0, one.key)))


def cross_check(sheet: Sheet, count: Count, rules: Sheets) -> CrossCheck:
    """Lay a sheet beside the machine's count of the same entry.

    Parameters
    ----------
    sheet : Sheet
        The version in force.
    count : Count
        Of its entry.
    rules : Sheets
        Whose step the machine's charges are fitted to, should the judge take one over.

    Returns
    -------
    CrossCheck
        Every tap and every charged fault is in it exactly once; a tap without a charge is in none.
    """
    charged = [fault for fault in count.faults if fault.charge > 0]
    laid = compare_taps(sheet, charged)
    places = _places(sheet.taps)
    if laid is None:
        alone = tuple(_judges(tap, at, count, None) for tap, at in places if tap.faults > 0)
        nothing_noted = rules.lower_is_better and sheet.total == 0
        return CrossCheck(
            entry=sheet.entry,
            revision=sheet.revision,
            lag_s=None,
            spread_s=None,
            both=(),
            judge_only=alone,
            machine_only=_machines(charged, rules),
            is_matched=not charged or nothing_noted,
        )
    left = _leftover(places, laid.judge_only)
    return CrossCheck(
        entry=sheet.entry,
        revision=sheet.revision,
        lag_s=laid.lag_s,
        spread_s=laid.lag_spread_s,
        both=laid.pairs,
        judge_only=tuple(_judges(tap, at, count, laid.lag_s) for tap, at in left),
        machine_only=_machines(laid.machine_only, rules),
        is_matched=True,
    )


def that_could_move(
    entry: str, lost: Mapping[str, Decimal], checked: CrossCheck, *, most: int = MOST_FIRST
) -> tuple[Difference, ...]:
    """The few differences that could change the order of two bands on this judge's own list.

    Parameters
    ----------
    entry : str
        Whose differences.
    lost : mapping of str to Decimal
        This judge's own faults, or marks lost, by entry; nothing of any colleague.
    checked : CrossCheck
        Of that entry.
    most : int
        No more than so many.

    Returns
    -------
    tuple of Difference
        The weightiest first, and no more than it takes to reach the nearest band; empty where all of them together
        could not.
    """
    own = lost[entry]
    others = [figure_ for other, figure_ in lost.items() if other != entry]
    up = _enough(checked.machine_only, [other - own for other in others if other >= own], most)
    down = _enough(checked.judge_only, [own - other for other in others if other <= own], most)
    chosen = [few for few in (up, down) if few]
    return min(chosen, key=len) if chosen else ()


def minutes_for(differences: Collection[Difference]) -> int:
    """Whole minutes that it takes to listen to so many."""
    return ceil(len(differences) * SECONDS_EACH / 60)


def revised(sheet: Sheet, checked: CrossCheck, taken: Collection[str], rules: Sheets, *, reason: str) -> Sheet:
    """Sheet with some differences settled as the machine has them.

    Parameters
    ----------
    sheet : Sheet
        That was laid beside the machine's count.
    checked : CrossCheck
        What came of it.
    taken : collection of str
        Keys of the differences: taps that are taken off, faults that are charged too.
    rules : Sheets
        Whether faults or marks are signed.
    reason : str
        Why.

    Returns
    -------
    Sheet
        To be signed as the next revision.

    Raises
    ------
    InputError
        About ``taken`` or ``reason``.
    """
    known = {one.key for one in checked.differences}
    if not taken:
        raise InputError("taken", "nothing is ticked; keep the sheet as it is, or tick what should change")
    if not set(taken) <= known:
        raise InputError("taken", "names something that does not differ any more; open the cross-check again")
    if not reason.strip():
        raise InputError("reason", "is empty; say why the sheet is changed, such as “heard it again”")
    off = {int(key[1:]) for key in taken if key.startswith("j")}
    added = [one for one in checked.machine_only if one.key in taken]
    lag_s = checked.lag_s
    timed = lag_s is not None and all(tap.time_s is not None for tap in sheet.taps)
    taps = [tap for at, tap in enumerate(sheet.taps) if at not in off]
    taps += [
        Tap(one.change, one.faults, round(max((one.at_s or 0.0) + (lag_s or 0.0), 0.0), 3) if timed else None)
        for one in added
    ]
    more = sum((one.faults for one in added), Decimal(0)) - sum((sheet.taps[at].faults for at in off), Decimal(0))
    total = sheet.total + more if rules.lower_is_better else sheet.total - more
    taps.sort(key=lambda tap: (tap.time_s or 0.0, tap.change or 0))
    return replace(sheet, taps=tuple(taps), total=max(total, Decimal(0)), reason=reason.strip())


def judged_span(count: Count) -> tuple[float, float]:
    """From the first judged blow to the last, in seconds on the log's clock: all that a judge may hear before final."""
    times_s = count.rung.times_s[count.judged]
    return float(np.nanmin(times_s)), float(np.nanmax(times_s))


def _enough(differences: Sequence[Difference], margins: Iterable[Decimal], most: int) -> tuple[Difference, ...]:
    """Return the weightiest differences that reach the nearest of some margins; none where they do not."""
    margin = min(margins, default=None)
    if margin is None:
        return ()
    heaviest = sorted(differences, key=lambda one: (-one.faults, one.doubtful, one.at_s or 0.0))[:most]
    reached = Decimal(0)
    for number, one in enumerate(heaviest, start=1):
        reached += one.faults
        if reached >= margin:
            return tuple(heaviest[:number])
    return ()


def _places(taps: Sequence[Tap]) -> list[tuple[Tap, int]]:
    return [(tap, at) for at, tap in enumerate(taps)]


def _leftover(places: list[tuple[Tap, int]], alone: Iterable[Tap]) -> list[tuple[Tap, int]]:
    """Return which taps of a sheet these are; of two that are quite alike it does not matter which."""
    free = list(places)
    found = []
    for tap in alone:
        index = next(index for index, (one, _) in enumerate(free) if one == tap)
        found.append(free.pop(index))
    return sorted(found, key=lambda one: one[1])


def _judges(tap: Tap, at: int, count: Count, lag_s: float | None) -> Difference:
    at_s = tap.time_s - lag_s if tap.time_s is not None and lag_s is not None else _begun(count, tap.change)
    where = f"change {tap.change}" if tap.change is not None else "an unknown change"
    return Difference(f"j{at}", tap.change, at_s, tap.faults, f"You charged {figure(tap.faults)} at {where}")


def _begun(count: Count, change: int | None) -> float | None:
    """When a change began, on the log's clock; None where it was not rung."""
    if change is None:
        return None
    row = change + count.rung.piece.opening - 1
    if not 0 <= row < len(count.rung.times_s) or np.isnan(count.rung.times_s[row]).all():
        return None
    return float(np.nanmin(count.rung.times_s[row]))


def _machines(faults: Iterable[Fault], rules: Sheets) -> tuple[Difference, ...]:
    return tuple(
        Difference(
            key=f"m{fault.row}-{fault.place}",
            change=fault.change,
            at_s=fault.time_s,
            faults=max((fault.charge / rules.step).to_integral_value(ROUND_HALF_UP), Decimal(1)) * rules.step,
            sentence=fault.sentence,
            doubtful=fault.doubtful,
        )
        for fault in sorted(faults, key=lambda one: one.time_s)
    )
