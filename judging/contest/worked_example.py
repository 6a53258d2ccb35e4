"""THE DECLARED RULES → A WORKED EXAMPLE of five invented bands, computed by the code that ranks real ones.

Bands 1 to 3 are the three whose order depends on how judges are combined; band 4 has one of everything that costs
something under the rules; band 5 has the figures of band 1 with the judges exchanged, so that marks which only add are
level.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from judging.contest.declared import RuleSet
from judging.marks.lines import change_of, makes_up_the_total, most_a_tap
from judging.marks.penalties import Penalty
from judging.marks.ranking import rank
from judging.marks.values import Entrant, Result, Sheet, Tap

_FIGURES: Mapping[str, tuple[int, ...]] = {
    "band-1": (18, 62, 40),
    "band-2": (24, 50, 38),
    "band-3": (30, 45, 41),
    "band-4": (22, 48, 35),
    "band-5": (62, 18, 40),
}
_MACHINE: Mapping[str, int] = {"band-1": 41, "band-2": 37, "band-3": 39, "band-4": 36, "band-5": 40}
_CHANGES = 120
#: From what marks are counted down where the rules name no most.
_MOST_MARKS = Decimal(240)


@dataclass(frozen=True, slots=True)
class WorkedExample:
    """An example under the declared rules.

    Parameters
    ----------
    figures : mapping of str to mapping of str to Decimal
        What each judge signed, by entry and judge.
    happenings : mapping of str to str
        What else happened, in words, by entry.
    result : Result
        What the rules make of it.
    """

    figures: Mapping[str, Mapping[str, Decimal]]
    happenings: Mapping[str, str]
    result: Result


def worked_example(rules: RuleSet) -> WorkedExample:
    """Rank five invented bands under the declared rules.

    Parameters
    ----------
    rules : RuleSet
        As declared.

    Returns
    -------
    WorkedExample
        With every step of the arithmetic in its footnotes and reasons.
    """
    judges = _judges(rules)
    sheets = [
        _sheet(judge, entry, _figure(figures[index], rules), rules, halves=2 * (entry == "band-5"))
        for entry, figures in _FIGURES.items()
        for index, judge in enumerate(judges)
    ]
    marks = rules.marks
    happened = [_happening(penalty) for penalty in _that_cost(rules)]
    return WorkedExample(
        figures={entry: {sheet.judge: sheet.total for sheet in sheets if sheet.entry == entry} for entry in _FIGURES},
        happenings={"band-4": ", ".join(happened)} if happened else {},
        result=rank(
            [_entrant(entry, rules) for entry in _FIGURES],
            sheets,
            marks,
            judges=judges,
            machine={entry: Decimal(figure) for entry, figure in _MACHINE.items()},
            fingerprint=rules.fingerprint,
        ),
    )


def _judges(rules: RuleSet) -> list[str]:
    """One judge for an agreed mark, three where two figures are left out, otherwise two; declared ones first."""
    wanted = 1 if rules.marks.combining.policy == "agreed mark" else 3 if rules.marks.combining.drop != "none" else 2
    chief = [rules.marks.ties.chief_judge] if rules.marks.ties.chief_judge else []
    known = [*chief, *(judge.id for judge in rules.judges if judge.id not in chief)]
    known += [f"judge-{number}" for number in range(1, 4) if f"judge-{number}" not in known]
    return known[:wanted]


def _figure(faults: int, rules: RuleSet) -> Decimal:
    """Figure of a sheet in the declared unit and step, within the declared most."""
    sheets = rules.marks.sheets
    most = sheets.most if sheets.most is not None else _MOST_MARKS
    if sheets.lines == "block":
        most = min(most, sum((room for _, room in _rooms(rules)), Decimal(0)))
    figure = min(Decimal(faults), most) if sheets.lower_is_better else max(Decimal(0), most - faults)
    return (figure / sheets.step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * sheets.step


def _sheet(judge: str, entry: str, total: Decimal, rules: RuleSet, *, halves: int) -> Sheet:
    """Sheet with a tap a change, so many of them in halves where halves may be given."""
    lines = rules.marks.sheets.lines
    if makes_up_the_total(rules.marks.sheets):
        return Sheet(judge, entry, total, _dealt(total, _rooms(rules)))
    if lines != "any":  # a total is a sheet of every other kind too
        return Sheet(judge, entry, total)
    half = Decimal("0.5")
    if half % rules.marks.sheets.step or total < halves or total % half:
        return Sheet(judge, entry, total)
    wholes = int(total) - halves // 2
    taps = [Tap(1 + number % _CHANGES, Decimal(1)) for number in range(wholes)]
    rest = total - wholes
    taps += [Tap(1 + (wholes + number) % _CHANGES, half) for number in range(int(rest / half))]
    return Sheet(judge, entry, total, tuple(taps))


def _rooms(rules: RuleSet) -> tuple[tuple[int, Decimal], ...]:
    """Lines that a sheet of criteria or blocks must have, each with the most it may hold."""
    sheets = rules.marks.sheets
    if sheets.criteria:
        return tuple((number, criterion.most) for number, criterion in enumerate(sheets.criteria, 1))
    blocks = range(1, max(_CHANGES // (sheets.block_changes or _CHANGES), 1) + 1)
    most = most_a_tap(sheets) // sheets.step * sheets.step
    return tuple((change_of(number, sheets), most) for number in blocks)


def _dealt(total: Decimal, rooms: tuple[tuple[int, Decimal], ...]) -> tuple[Tap, ...]:
    """Lines filled one after another until the total is reached."""
    taps, rest = [], total
    for change, room in rooms:
        taps.append(Tap(change, min(rest, room)))
        rest -= taps[-1].faults
    return tuple(taps)


def _entrant(entry: str, rules: RuleSet) -> Entrant:
    if entry != "band-4":
        return Entrant(entry, experienced=0, changes=_CHANGES)
    kinds = {penalty.kind for penalty in _that_cost(rules)}
    return Entrant(
        entry,
        borrowed=int("borrowed ringers" in kinds),
        experienced=1,
        restarts=int("restart" in kinds),
        missing_rows=2 * ("missing rows" in kinds),
        minutes_over=int("over time" in kinds),
        wrong_method="one lead too many" if "wrong method" in kinds else "",
        changes=_CHANGES,
    )


def _that_cost(rules: RuleSet) -> list[Penalty]:
    """Penalties that cost something, where others only take the place away."""
    return [penalty for penalty in rules.marks.penalties if penalty.percent or penalty.amount or penalty.multipliers]


def _happening(penalty: Penalty) -> str:
    return {
        "missing rows": "2 rows missing",
        "restart": "begun again once",
        "borrowed ringers": "1 borrowed ringer",
        "over time": "1 minute begun over time",
        "wrong method": "one lead too many",
        "novice handicap": "1 experienced ringer",
    }[penalty.kind]
