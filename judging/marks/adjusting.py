"""FIGURE → FIGURE AFTER PENALTIES AND HANDICAPS, each step a footnote.

A penalty that counts something (borrowed ringers, restarts, missing rows, minutes begun) adds
``count * (percent / 100 * base + amount)`` to faults, or takes it off marks, never below 0. A handicap multiplies.

Example: 40 faults, two borrowed ringers at 15 per cent each: 40 + 2 * 0.15 * 40 = 52.
"""

from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

from judging.errors import InputError
from judging.figures import figure, some
from judging.marks.exact import WORKING_DIGITS, Rounding, carry, plain, settle
from judging.marks.penalties import Base, Penalty
from judging.marks.values import Adjustment, Entrant

_ZERO = Decimal(0)
#: How footnotes and judges' figures are printed; the arithmetic keeps every digit.
PRINTED = Rounding(Decimal("0.001"), "half up")


def adjust(
    figure: Decimal,
    entrant: Entrant,
    penalties: Sequence[Penalty],
    *,
    base: Base,
    lower_is_better: bool,
    judge: str = "",
) -> tuple[Decimal, tuple[Adjustment, ...]]:
    """Figure after the penalties of one base, in the order in which they are declared.

    Parameters
    ----------
    figure : Decimal
        As counted.
    entrant : Entrant
        What happened on the day.
    penalties : sequence of Penalty
        All of them; those of the other base are left alone.
    base : {"each judge", "combined"}
        Which figure this is.
    lower_is_better : bool
        Whether a penalty adds (faults) or takes off (marks).
    judge : str
        Whose figure it is, for the footnote; empty for the combined mark.

    Returns
    -------
    tuple
        The figure, and one footnote for every step that applied.

    Raises
    ------
    InputError
        Where a handicap is declared and the number of experienced ringers is not known.
    """
    counted, now, footnotes = figure, figure, []
    for penalty in penalties:
        if penalty.base != base:
            continue
        after = carry(_after(penalty, counted, now, entrant, lower_is_better=lower_is_better))
        if penalty.rounding is not None and settle(after) != settle(now):
            after = penalty.rounding(after)
        if _applies(penalty, entrant):
            footnotes.append(Adjustment(judge, _with_cause(penalty, entrant), PRINTED(now), PRINTED(after)))
        now = after
    return plain(now), tuple(footnotes)


def why_unplaced(entrant: Entrant, penalties: Sequence[Penalty]) -> str:
    """Reason, in words, why an entrant takes no place; empty where it can be placed."""
    for words, reason in (
        ("Withdrawn", entrant.withdrawn),
        ("Disqualified", entrant.disqualified),
        ("Did not complete the piece", entrant.unfinished),
        ("Not placed in this section", entrant.out_of_section),
    ):
        if reason:
            return f"{words}: {reason}"
    for penalty in penalties:
        broken = _limit_broken(penalty, entrant)
        if broken:
            return f"Unplaced by the rules: {broken}"
    return "Scratch band: judged, not placed" if entrant.scratch else ""


def _limit_broken(penalty: Penalty, entrant: Entrant) -> str:
    count = count_of(penalty, entrant)
    if penalty.most is not None and count > penalty.most:
        return (
            f"{some(count, penalty.of_what)}, {'none is' if penalty.most == 0 else f'at most {penalty.most}'} allowed"
            f"{_why(penalty, entrant)}"
        )
    if penalty.within_changes is not None and entrant.restarts and entrant.restart_changes > penalty.within_changes:
        return (
            f"begun again after {some(entrant.restart_changes, 'change')}, allowed within {penalty.within_changes}"
            f"{_why(penalty, entrant)}"
        )
    return ""


def count_of(penalty: Penalty, entrant: Entrant) -> int:
    """How many of what a penalty counts an entrant has."""
    counts = {
        "missing rows": entrant.missing_rows,
        "restart": entrant.restarts,
        "borrowed ringers": entrant.borrowed,
        "over time": entrant.minutes_over,
        "wrong method": int(bool(entrant.wrong_method)),
        "novice handicap": entrant.experienced or 0,
    }
    return counts[penalty.kind]


def _applies(penalty: Penalty, entrant: Entrant) -> bool:
    if penalty.multipliers:
        return multiplier_of(penalty, entrant) != 1
    return bool(count_of(penalty, entrant) and (penalty.percent or penalty.amount))


def multiplier_of(penalty: Penalty, entrant: Entrant) -> Fraction:
    """What a handicap multiplies an entrant's faults by.

    Raises
    ------
    InputError
        Where the number of experienced ringers is not known.
    """
    if entrant.experienced is None:
        raise InputError(
            f"entry {entrant.id}, experienced", "not given, but the rules handicap by the number of experienced ringers"
        )
    return penalty.multipliers[min(entrant.experienced, len(penalty.multipliers) - 1)]


def _after(penalty: Penalty, counted: Decimal, now: Decimal, entrant: Entrant, *, lower_is_better: bool) -> Decimal:
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        if penalty.multipliers:
            multiplier = multiplier_of(penalty, entrant)
            return now * multiplier.numerator / multiplier.denominator
        of = counted if penalty.percent_of == "as counted" else now
        change = count_of(penalty, entrant) * (penalty.percent / 100 * of + penalty.amount)
        return now + change if lower_is_better else max(_ZERO, now - change)


def _with_cause(penalty: Penalty, entrant: Entrant) -> str:
    return f"{_in_words(penalty, entrant)}{_why(penalty, entrant)}"


def _why(penalty: Penalty, entrant: Entrant) -> str:
    cause = entrant.causes.get(penalty.kind, "")
    return f" ({cause})" if cause else ""


def _in_words(penalty: Penalty, entrant: Entrant) -> str:
    if penalty.multipliers:
        multiplier = multiplier_of(penalty, entrant)
        return f"novice handicap with {some(entrant.experienced or 0, 'experienced ringer')}: faults times {multiplier}"
    each = [f"{figure(penalty.percent)} %"] if penalty.percent else []
    each += [figure(penalty.amount)] if penalty.amount else []
    count = count_of(penalty, entrant)
    return f"{some(count, penalty.of_what)} at {' and '.join(each)}{' each' if count > 1 else ''}"
