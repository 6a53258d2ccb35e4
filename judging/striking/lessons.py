"""What a band learns besides its habits: how the pace and the handstroke gap go, and what is done well."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from judging.striking.values import Count, Habit

#: A pace that is so far from the usual is spoken of: about the tempo difference that is just noticed over six
#: intervals (3 %, a published figure for isochronous sequences).
UNEVEN_PACE = 0.03

#: Change of the handstroke gap that is worth a word, in gaps: about what is noticed of a lead.
GAP_CHANGE = 0.2

#: Rows on each side of a change of pace that smooth its picture.
BESIDE = 3

#: Rows without a fault that are worth a word, and how much steadier the steadiest bell must be than the middle one.
CLEAN_ROWS, STEADIER = 16, 0.85

#: Where the middle bell is nearer to even than this, all are steady.
UNEVEN_MS = 5.0


def pace(count: Count) -> Iterator[Habit]:
    """Quickening, slowing and surging of the marked rows."""
    rows = np.flatnonzero(count.judged)
    if len(rows) < 24:
        return
    gap = count.rhythm.gap_s[rows]
    third = len(rows) // 3
    change = float(np.median(gap[-third:]) / np.median(gap[:third]) - 1)
    if abs(change) >= UNEVEN_PACE:
        word = "slowed" if change > 0 else "quickened"
        yield Habit(
            (),
            f"The pace {word} by {100 * abs(change):.0f} % from the beginning to the end",
            tuple(rows.tolist()),
            what=f"The pace {word} from the beginning to the end",
        )
        return
    smooth = np.convolve(np.pad(gap, BESIDE, mode="edge"), np.ones(2 * BESIDE + 1) / (2 * BESIDE + 1), "valid")
    away = smooth / np.median(gap) - 1
    worst = int(np.argmax(np.abs(away)))
    if abs(away[worst]) >= UNEVEN_PACE:
        same = np.abs(away) >= UNEVEN_PACE / 2
        first = worst - int(np.argmin(same[worst::-1])) + 1 if not same[: worst + 1].all() else 0
        last = worst + int(np.argmin(same[worst:])) - 1 if not same[worst:].all() else len(rows) - 1
        piece = count.rung.piece
        word = "slower" if away[worst] > 0 else "quicker"
        where = f"changes {piece.change_of(int(rows[first]))} to {piece.change_of(int(rows[last]))}"
        if piece.change_of(int(rows[first])) is None:
            where = "the opening rounds"
        yield Habit(
            (),
            f"The pace surged: up to {100 * abs(away[worst]):.0f} % {word} in {where}",
            tuple(rows[first : last + 1].tolist()),
            what="The pace surged",
        )


def handstroke_gap(count: Count) -> Iterator[Habit]:
    """Handstroke gap that opens or closes in the course of the piece.

    The grid has one handstroke gap. Where the band's differs from it by δ, handstroke rows stand δ / 2 later against
    backstroke rows than they should.
    """
    rows = np.flatnonzero(count.judged)
    if len(rows) < 24 or not count.rhythm.handstroke_gap_is_seen:
        return
    hand = count.rung.piece.is_hand
    found = []
    for third in (rows[: len(rows) // 3], rows[-(len(rows) // 3) :]):
        late = [np.clip(count.deviations.gaps[third[hand[third] == stroke]], -0.5, 0.5) for stroke in (True, False)]
        late = [blows[~np.isnan(blows)] for blows in late]
        if min(map(len, late)) < 2:
            return
        shift = 2 * float(late[0].mean() - late[1].mean())
        error = 2 * float(np.sqrt(sum(blows.var(ddof=1) / len(blows) for blows in late)))
        found.append((count.rhythm.handstroke_gap + shift, error))
    (first, first_error), (last, last_error) = found
    if abs(last - first) >= max(GAP_CHANGE, 3 * np.hypot(first_error, last_error)):
        word = "opened" if last > first else "closed"
        yield Habit(
            (),
            f"The handstroke gap {word} from {first:.1f} to {last:.1f} of a blow",
            tuple(rows.tolist()),
            what=f"The handstroke gap {word}",
        )


def praise(count: Count, there: NDArray[np.bool_]) -> Iterator[Habit]:
    """What was done well: the steadiest bell, the longest clean stretch, a mistake put right quickly."""
    yield from _steadiest(count, there)
    yield from _longest_clean(count)
    for event in count.rung.events:
        rows = event.last_row - event.first_row + 1
        if event.kind == "out of course" and rows <= 4 and "right again" in event.sentence:
            name = count.rung.piece.change_of(event.first_row)
            length = "one row" if rows == 1 else f"{rows} rows"
            yield Habit(
                event.bells,
                f"The slip at change {name} was put right within {length}",
                tuple(range(event.first_row, event.last_row + 1)),
                praise=True,
            )


def _steadiest(count: Count, there: NDArray[np.bool_]) -> Iterator[Habit]:
    late = np.where(there, count.deviations.ms, 0.0)
    bells = count.rung.bells[there].astype(np.int64)
    blows = np.bincount(bells, minlength=count.rung.piece.bells + 1)
    size = np.sqrt(np.bincount(bells, late[there] ** 2, minlength=len(blows)) / np.maximum(blows, 1))
    often = np.flatnonzero(blows >= 6)
    if len(often) < 3:
        return
    best = int(often[size[often].argmin()])
    middle = float(np.median(size[often]))
    if middle >= UNEVEN_MS and size[best] <= STEADIER * middle:
        rows = np.flatnonzero((there & (count.rung.bells == best)).any(axis=1))
        yield Habit(
            (best,),
            f"{best} is the steadiest bell: {size[best]:.0f} ms from even on average",
            tuple(rows.tolist()),
            praise=True,
        )


def _longest_clean(count: Count) -> Iterator[Habit]:
    whole = (count.rung.strike >= 0).all(axis=1)  # of a row that was not heard whole nobody can say that it was clean
    charged = np.zeros(len(count.judged), dtype=np.bool_)
    charged[[fault.row for fault in count.faults if fault.charge and fault.kind != "stand"]] = True
    faulty = np.flatnonzero(count.judged & (charged | ~whole))
    rows = np.flatnonzero(count.judged)
    edges = np.concatenate([[rows[0] - 1], faulty, [rows[-1] + 1]])
    at = int(np.diff(edges).argmax())
    first, last = int(edges[at]) + 1, int(edges[at + 1]) - 1
    piece = count.rung.piece
    if len(faulty) and last - first + 1 >= CLEAN_ROWS and piece.change_of(first) is not None:
        yield Habit(
            (),
            f"Changes {piece.change_of(first)} to {piece.change_of(last)} without a fault",
            tuple(range(first, last + 1)),
            praise=True,
        )
