"""A JUDGE'S TAPS + THE MACHINE'S FAULTS → WHO HEARD WHAT, fault by fault, as advice.

A judge taps some tenths of a second after the blow, on a clock of their own. The lag between the two clocks, reaction
time included, is the one at which most taps find a fault; it is believed only where it stands out from all others.
Then each tap is paired with at most one fault, and each fault with at most one tap.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.marks.values import Sheet, Tap
from judging.striking.values import Fault

Floats = NDArray[np.float64]

#: How far a tap may be from its fault once the lag is taken out. Simple reactions to a heard event spread over one or
#: two tenths of a second, and a judge decides besides; value from memory, no source.
WINDOW_S = 0.6
#: On one clock a tap comes after its fault by a time between these: deciding takes some tenths of a second, hardly more
#: than one and a half; value from memory, no source.
REACTION_S = (0.0, 1.5)
#: A lag is believed where it pairs so many times as many as the best other one, and at least so many taps.
_STANDS_OUT = 1.5
_FEWEST_PAIRS = 4
#: Of so many faults of one sort at least is it said how many a judge hears.
_FEWEST_OF_A_SORT = 5
#: So far from what the judge hears in all must a sort be to be worth saying.
_WORTH_SAYING = 0.25


@dataclass(frozen=True, slots=True)
class TapsCompared:
    """One judge's taps for one entry beside the machine's faults.

    Parameters
    ----------
    judge, entry : str
        Identifiers.
    lag_s, lag_spread_s : float or None
        Judge's clock less the log's, reaction time included, and the spread of single reactions; None where taps were
        paired by change.
    pairs : tuple of (Tap, Fault)
        What both noted.
    judge_only : tuple of Tap
        What the judge noted alone.
    machine_only : tuple of Fault
        What the machine noted alone.
    """

    judge: str
    entry: str
    lag_s: float | None
    lag_spread_s: float | None
    pairs: tuple[tuple[Tap, Fault], ...]
    judge_only: tuple[Tap, ...]
    machine_only: tuple[Fault, ...]


def compare_taps(sheet: Sheet, noted: Iterable[Fault]) -> TapsCompared | None:
    """Lay a judge's taps on the machine's faults.

    Parameters
    ----------
    sheet : Sheet
        With taps.
    noted : iterable of Fault
        What the machine found in the same entry; what it did not charge is left alone.

    Returns
    -------
    TapsCompared or None
        None where there are no taps, or they have neither times that lie on the faults nor changes.
    """
    faults = [fault for fault in noted if fault.charge > 0]
    taps = [tap for tap in sheet.taps if tap.faults > 0]
    if not taps or not faults:
        return None
    if all(tap.time_s is not None for tap in taps):
        timed = sorted(taps, key=lambda tap: tap.time_s or 0.0)
        faults.sort(key=lambda fault: fault.time_s)
        tap_s = np.array([tap.time_s for tap in timed], dtype=np.float64)
        fault_s = np.array([fault.time_s for fault in faults])
        lag_s = find_lag(tap_s, fault_s)
        if lag_s is not None:
            pairs = pair_up(tap_s - lag_s, fault_s, WINDOW_S)
            apart = np.array([tap_s[tap] - fault_s[fault] for tap, fault in pairs])
            return _told(sheet, timed, faults, pairs, (float(np.median(apart)), float(apart.std())))
    if any(tap.change is None for tap in taps):
        return None
    taps.sort(key=lambda tap: tap.change or 0)
    faults.sort(key=lambda fault: fault.change or 0)
    pairs = pair_up(
        np.array([tap.change or 0 for tap in taps], dtype=np.float64),
        np.array([fault.change or 0 for fault in faults], dtype=np.float64),
        1.0,
    )
    return _told(sheet, taps, faults, pairs, None)


def pair_up(first: Floats, second: Floats, window: float) -> list[tuple[int, int]]:
    """Most pairs of two ascending series, each used once, no further apart than a window.

    Parameters
    ----------
    first, second : ndarray, shape (M,) and (N,)
        Ascending.
    window : float
        How far apart two may be.

    Returns
    -------
    list of pairs of int
        Indices; as many as there can be, since all windows are alike (the earliest that fits is never a loss).
    """
    pairs, i, j = [], 0, 0
    while i < len(first) and j < len(second):
        if first[i] < second[j] - window:
            i += 1
        elif first[i] > second[j] + window:
            j += 1
        else:
            pairs.append((i, j))
            i, j = i + 1, j + 1
    return pairs


def find_lag(tap_s: Floats, fault_s: Floats) -> float | None:
    """Lag of a judge's clock at which most taps find a fault.

    Parameters
    ----------
    tap_s, fault_s : ndarray
        Ascending times, each on its own clock.

    Returns
    -------
    float or None
        Seconds to take off the taps; None where no lag stands out.
    """
    apart = (tap_s[:, None] - fault_s[None, :]).ravel()
    lags = np.arange(apart.min(), apart.max() + WINDOW_S, WINDOW_S / 2)
    found = np.array([len(pair_up(tap_s - lag, fault_s, WINDOW_S)) for lag in lags])
    best = int(found.argmax())
    elsewhere = found[np.abs(np.arange(len(lags)) - best) > 4]
    if found[best] < max(_FEWEST_PAIRS, _STANDS_OUT * elsewhere.max(initial=0)):
        return None
    lag = float(lags[best])
    for _ in range(3):
        lag = float(np.median([tap_s[i] - fault_s[j] for i, j in pair_up(tap_s - lag, fault_s, WINDOW_S)]))
    return lag


def find_reaction(tap_s: Floats, fault_s: Floats) -> float | None:
    """Reaction time at which most taps find a fault, where one clock serves both.

    Parameters
    ----------
    tap_s, fault_s : ndarray
        Ascending times on the same clock.

    Returns
    -------
    float or None
        Seconds from a fault to its tap, within `REACTION_S`; None where fewer than four taps find a fault.
    """
    lags = np.arange(*REACTION_S, 0.05)
    found = np.array([len(pair_up(tap_s - lag, fault_s, WINDOW_S)) for lag in lags])
    if found.max(initial=0) < _FEWEST_PAIRS:
        return None
    lag = float(np.median(lags[found == found.max()]))
    for _ in range(3):
        apart = [tap_s[i] - fault_s[j] for i, j in pair_up(tap_s - lag, fault_s, WINDOW_S)]
        lag = float(np.clip(np.median(apart), *REACTION_S)) if apart else lag
    return lag


def heard_by_sort(compared: Iterable[TapsCompared], bells: int) -> dict[str, tuple[int, int]]:
    """How many faults of each sort a judge noted, of how many the machine has.

    Parameters
    ----------
    compared : iterable of TapsCompared
        Of one judge, any number of entries.
    bells : int
        Number of bells; the last is the tenor.

    Returns
    -------
    dict
        ``(noted, all)`` for ``"in all"``, ``"leads"``, ``"clips"``, ``"wide"``, ``"tenor"``, ``"whole faults"``.
    """
    both: list[Fault] = []
    alone: list[Fault] = []
    for one in compared:
        both += [fault for _, fault in one.pairs]
        alone += one.machine_only
    sorts: Mapping[str, Callable[[Fault], bool]] = {
        "in all": lambda _: True,
        "leads": lambda fault: fault.place == 1,
        "clips": lambda fault: fault.own_ms < 0 or fault.kind == "clash",
        "wide": lambda fault: fault.own_ms > 0 and fault.kind != "clash",
        "tenor": lambda fault: fault.bell == bells,
        "whole faults": lambda fault: fault.level == "whole",
    }
    return {
        name: (sum(map(belongs, both)), sum(map(belongs, both)) + sum(map(belongs, alone)))
        for name, belongs in sorts.items()
    }


def heard_in_words(judge: str, heard: Mapping[str, tuple[int, int]]) -> tuple[str, ...]:
    """What a judge hears, and what sorts of fault more or less than others.

    Parameters
    ----------
    judge : str
        As named on the page.
    heard : mapping of str to pair of int
        From `heard_by_sort`.

    Returns
    -------
    tuple of str
        The whole first; a sort only where there are enough of it and it differs.
    """
    noted, of = heard["in all"]
    if not of:
        return ()
    sentences = [f"{judge} noted {noted} of the machine's {of} faults."]
    for sort, (some, all_of_it) in heard.items():
        if sort == "in all" or all_of_it < _FEWEST_OF_A_SORT:
            continue
        apart = some / all_of_it - noted / of
        if abs(apart) >= _WORTH_SAYING:
            sentences.append(f"{judge} hears {sort} {'more' if apart > 0 else 'less'}: {some} of {all_of_it}.")
    return tuple(sentences)


def heard_beside_others(
    judge: str, heard: Mapping[str, tuple[int, int]], others: Sequence[Mapping[str, tuple[int, int]]]
) -> tuple[str, ...]:
    """Say what sorts of fault a judge notes more or less often than colleagues who noted the same ringing.

    Parameters
    ----------
    judge : str
        As named on the page.
    heard : mapping of str to pair of int
        From `heard_by_sort`.
    others : sequence of mapping of str to pair of int
        The same of each colleague with taps.

    Returns
    -------
    tuple of str
        Only sorts of which there are enough, and that differ.
    """
    sentences = []
    for sort, (some, of) in heard.items():
        theirs = [other[sort] for other in others if other[sort][1] >= _FEWEST_OF_A_SORT]
        noted, all_of_it = sum(pair[0] for pair in theirs), sum(pair[1] for pair in theirs)
        if of < _FEWEST_OF_A_SORT or not all_of_it or abs(some / of - noted / all_of_it) < _WORTH_SAYING:
            continue
        side = "more" if some / of > noted / all_of_it else "less"
        what = "the machine's faults" if sort == "in all" else sort
        sentences.append(
            f"{judge} notes {side} of {what} than colleagues do: {some} of {of}, against {noted} of {all_of_it}."
        )
    return tuple(sentences)


def reaction_in_words(judge: str, compared: Sequence[TapsCompared]) -> tuple[str, ...]:
    """Say how steadily a judge's taps follow the blows, from the spread of single reactions about each touch's delay.

    The delay itself holds the difference of two clocks as well, so only its spread is told.
    """
    spreads = [one.lag_spread_s for one in compared if one.lag_spread_s is not None]
    if not spreads:
        return ()
    spread_s = float(np.sqrt(np.mean(np.square(spreads))))
    return (f"{judge}'s taps follow the blows after a steady delay, give or take {spread_s:.2f} s.",)


def _told(
    sheet: Sheet,
    taps: Sequence[Tap],
    faults: Sequence[Fault],
    pairs: Sequence[tuple[int, int]],
    lag: tuple[float, float] | None,
) -> TapsCompared:
    paired_taps, paired_faults = {tap for tap, _ in pairs}, {fault for _, fault in pairs}
    return TapsCompared(
        judge=sheet.judge,
        entry=sheet.entry,
        lag_s=lag[0] if lag else None,
        lag_spread_s=lag[1] if lag else None,
        pairs=tuple((taps[tap], faults[fault]) for tap, fault in pairs),
        judge_only=tuple(tap for index, tap in enumerate(taps) if index not in paired_taps),
        machine_only=tuple(fault for index, fault in enumerate(faults) if index not in paired_faults),
    )
