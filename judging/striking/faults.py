"""DEVIATIONS → FAULTS: which blows are out, by how much, how surely, and what each is charged.

A blow's own error against the lines of the tolerance bands gives its level. Two successive blows nearer than the
declared clash raise the own error that made it to a whole fault at least. Then the marking scheme says what the levels
cost and how a row of them adds up, in rows that are marked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from judging.striking.deviation import EXACT
from judging.striking.explaining import Told, fault_sentence
from judging.striking.rules import CountingRules
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Deviations, Fault, FaultKind, Level, Rhythm, Rung

_LEVELS: tuple[Level, ...] = ("blemish", "half", "whole")


@dataclass(frozen=True, slots=True)
class Levels:
    """How far out each blow is.

    Parameters
    ----------
    level : ndarray of int64, shape (R, n)
        0 level striking, 1 blemish, 2 half, 3 whole.
    clash : ndarray of bool, shape (R, n)
        Where the blow's own error made a clash.
    doubtful : ndarray of bool, shape (R, n)
        Where twice the spread of the time straddles a line.
    silent : ndarray of bool, shape (R, n)
        Where a bell was not heard, the first row of each silence only.
    """

    level: NDArray[np.int64]
    clash: NDArray[np.bool_]
    doubtful: NDArray[np.bool_]
    silent: NDArray[np.bool_]


def levels(rung: Rung, rhythm: Rhythm, found: Deviations, rules: CountingRules, judged: NDArray[np.bool_]) -> Levels:
    """Level, clash and doubt of each blow.

    Parameters
    ----------
    rung, rhythm, found
        What was rung, the steady ringing, and the deviations.
    rules : CountingRules
        Tolerance bands, and how doubt counts.
    judged : ndarray of bool, shape (R,)
        Which rows are marked.

    Returns
    -------
    Levels
        Arrays of shape (R, n).
    """
    size = np.abs(np.nan_to_num(found.own_gaps))
    lines = rules.bands.lines_gaps(rhythm.gap_s)
    spread = np.nan_to_num(rung.spread_ms) / 1000 / rhythm.gap_s[:, None]
    away = np.abs(size[:, :, None] - lines[:, None, :]).min(axis=2)
    doubtful = (away < 2 * spread) & ~np.isnan(found.own_gaps)
    surely = np.where(doubtful, np.maximum(size - 2 * spread, 0), size) if rules.doubtful == "lower" else size
    level = (surely[:, :, None] >= lines[:, None, :] - EXACT).sum(axis=2)
    clash = _clashes(rung, rhythm, found, rules.bands)
    if rules.doubtful == "leave out":
        level, clash = np.where(doubtful, 0, level), clash & ~doubtful
    return Levels(np.where(clash, 3, level), clash, doubtful, _silent(rung, judged))


def charged_faults(
    rung: Rung, rhythm: Rhythm, found: Deviations, far: Levels, rules: CountingRules, judged: NDArray[np.bool_]
) -> tuple[Fault, ...]:
    """Every fault and blemish, in order of row and place, with its charge and its sentence.

    Parameters
    ----------
    rung, rhythm, found
        What was rung, the steady ringing, and the deviations.
    far : Levels
        How far out each blow is.
    rules : CountingRules
        The marking scheme.
    judged : ndarray of bool, shape (R,)
        Which rows are marked.

    Returns
    -------
    tuple of Fault
        Blemishes, and faults of unmarked rows, with charge 0.
    """
    told = Told.of(rung, rhythm, found)
    extra = {(blow.row, blow.place - 1): blow for blow in rung.extra_blows}
    blows, charges = _priced(rung, far, rules, judged)
    faults = []
    for (row, column, too_many), charge in zip(blows, charges, strict=True):
        silent = bool(far.silent[row, column])
        kind: FaultKind
        bell, own_ms, time_s = told.bells[row][column], told.own_ms[row][column], told.times[row][column]
        if too_many:
            kind, bell, own_ms, time_s = "extra blow", extra[row, column].bell, 0.0, extra[row, column].time_s
        elif silent:
            kind, bell, own_ms, time_s = "missing blow", told.expected[row][column], 0.0, told.ideal[row][column]
        else:
            kind = "clash" if far.clash[row, column] else "late" if own_ms > 0 else "early"
        faults.append(
            Fault(
                row=row,
                place=column + 1,
                bell=bell,
                change=rung.piece.change_of(row),
                is_hand=told.hand[row],
                kind=kind,
                level="whole" if silent or too_many else _LEVELS[far.level[row, column] - 1],
                own_ms=own_ms,
                time_s=time_s,
                doubtful=bool(far.doubtful[row, column]),
                judged=bool(judged[row]),
                charge=charge,
                sentence=f"{told.where(row)}: {bell or 'a bell'} was heard once too often"
                if too_many
                else fault_sentence(told, row, column, kind),
            )
        )
    return (*faults, *_stand_faults(rung, told, rules))


def _stand_faults(rung: Rung, told: Told, rules: CountingRules) -> Iterator[Fault]:
    """Bells that did not stand with the others, at the last blow of the piece; charged where the stand is marked."""
    last = len(rung.piece.rows) - 1
    for slip in rung.stand_slips:
        yield Fault(
            row=last,
            place=rung.piece.bells,
            bell=slip.bell,
            change=rung.piece.change_of(last),
            is_hand=told.hand[last],
            kind="stand",
            level="whole",
            own_ms=0.0,
            time_s=slip.time_s,
            doubtful=False,
            judged=rules.marked.stand,
            charge=rules.scheme.stand if rules.marked.stand else Decimal(0),
            sentence=f"At the stand: {slip.bell} {'stood before' if slip.early else 'did not stand with'} the others",
        )


def total_charged(
    rung: Rung, rhythm: Rhythm, found: Deviations, rules: CountingRules, judged: NDArray[np.bool_]
) -> Decimal:
    """What `charged_faults` adds up to, without its sentences.

    Parameters
    ----------
    rung, rhythm, found
        What was rung, the steady ringing, and the deviations under the rules' bands.
    rules : CountingRules
        Tolerance bands and marking scheme.
    judged : ndarray of bool, shape (R,)
        Which rows are marked.

    Returns
    -------
    Decimal
        Faults.
    """
    return sum(_priced(rung, levels(rung, rhythm, found, rules, judged), rules, judged)[1], Decimal(0))


def _priced(
    rung: Rung, far: Levels, rules: CountingRules, judged: NDArray[np.bool_]
) -> tuple[list[tuple[int, int, bool]], list[Decimal]]:
    """Row, column and whether it is a blow too many, of everything amiss in order of time; and what each is charged."""
    alone = _alone(far, rules)
    extra = [(blow.row, blow.place - 1, True) for blow in rung.extra_blows] if rules.scheme.extra else []
    blows = [(row, column, False) for row, column in np.argwhere((far.level > 0) | far.silent).tolist()]
    blows = sorted([*blows, *dict.fromkeys(extra)])
    prices = [rules.scheme.extra if too_many else alone[row][column] for row, column, too_many in blows]
    return blows, _shared([row for row, _, _ in blows], prices, rules, judged)


def _clashes(rung: Rung, rhythm: Rhythm, found: Deviations, bands: ToleranceBands) -> NDArray[np.bool_]:
    """Blows whose own error made two blows sound nearly together."""
    apart = np.diff(rung.times_s.ravel()) / np.repeat(rhythm.gap_s, rung.piece.bells)[1:]
    own, maker = found.own_gaps.ravel(), found.maker.ravel()
    apart[np.flatnonzero(rhythm.follows_pause) * rung.piece.bells - 1] = np.inf
    made = np.zeros(rung.times_s.size, dtype=np.bool_)
    for first in np.flatnonzero(apart < bands.clash_gaps - EXACT).tolist():
        second = first + 1
        made[max(_blame(own, maker, found.gaps.ravel(), first, second))[1]] = True
    return made.reshape(rung.times_s.shape)


def _blame(
    own: NDArray[np.float64], maker: NDArray[np.int64], gaps: NDArray[np.float64], first: int, second: int
) -> list[tuple[float, int]]:
    """Own errors that brought two blows together, with their size: the first late, or carrying it; the second early."""
    causes = [(float(own[first]), first), (-float(own[second]), second)]
    carried = int(maker[first])
    if carried >= 0 and carried != first and gaps[first] > 0:
        causes.append((float(gaps[first] - own[first]), carried))
    return causes


def _silent(rung: Rung, judged: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Places of bells not heard, the first of each silence that is marked, or just the first: one cause, one fault."""
    missing = (rung.strike < 0) & rung.is_rung[:, None]
    if not missing.any():
        return missing
    first = missing.copy()
    for row, column in np.argwhere(missing).tolist():
        before = missing[row - 1] & (rung.piece.rows[row - 1] == rung.piece.rows[row, column])
        if row and before.any() and judged[row - 1] == judged[row]:
            first[row, column] = False
    return first


def _alone(far: Levels, rules: CountingRules) -> list[list[Decimal]]:
    """What each blow would be charged in a scheme without rows."""
    scheme = rules.scheme
    prices = np.array([Decimal(0), Decimal(0), scheme.half, scheme.whole], dtype=object)[far.level]
    prices[far.clash] = scheme.clash
    prices[far.silent] = scheme.missing
    listed: list[list[Decimal]] = prices.tolist()
    return listed


def _shared(rows: list[int], prices: list[Decimal], rules: CountingRules, judged: NDArray[np.bool_]) -> list[Decimal]:
    """Charges after what a row, a whole pull or a block adds up to; 0 in rows that are not marked."""
    charges = [price if judged[row] else Decimal(0) for row, price in zip(rows, prices, strict=True)]
    if not rules.scheme.unit_rows or not charges:
        return charges
    units = ((np.cumsum(judged) - 1) // rules.scheme.unit_rows)[rows]
    marked = np.flatnonzero(judged[rows])
    cuts = np.flatnonzero(np.diff(units[marked])) + 1
    for unit in np.split(marked, cuts):
        for index, share in zip(unit.tolist(), rules.scheme.shares(charges[index] for index in unit), strict=True):
            charges[index] = share
    return charges
