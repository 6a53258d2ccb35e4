"""WHAT A LINE OF A JUDGE'S SHEET IS FOR: a blow, a row, a whole pull, a block of rows, or a criterion.

A line is kept as a `Tap`. Its ``change`` is the change it is about; of a whole pull or a block the first change of it;
of a criterion, which is about the whole touch, its number in the order of the rules. A line about blows, rows or whole
pulls holds faults. A line about a block or a criterion holds what the sheet holds, faults or marks, and the total is
their sum.
"""

from collections.abc import Sequence
from decimal import Decimal

from judging.errors import InputError
from judging.figures import counted
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Tap

#: One blow cannot be more than a smash ("big fault" 2-3, common practice, no source); a row's 0-4 scale tops at 4.
MOST_A_TAP = Decimal(10)

#: Changes are counted in whole pulls from the first: changes 1 and 2 are the first one.
_WHOLE_PULL = 2


def changes_a_line(rules: Sheets) -> int:
    """How many changes one line is about; 0 where a line is about none of them in particular."""
    if rules.lines == "block":
        return rules.block_changes or 0
    return {"any": 1, "blow": 1, "row": 1, "whole pull": _WHOLE_PULL, "total": 0, "criterion": 0}[rules.lines]


def change_of(number: int, rules: Sheets) -> int:
    """Change that the line of a number is kept under: of the third whole pull the fifth.

    Examples
    --------
    >>> change_of(3, Sheets(lines="whole pull")), change_of(3, Sheets()), change_of(2, Sheets(lines="total"))
    (5, 3, 2)
    """
    return (number - 1) * max(changes_a_line(rules), 1) + 1


def number_of(change: int, rules: Sheets) -> int:
    """Number of the line that a change belongs to; the other way round from `change_of`."""
    return (change - 1) // max(changes_a_line(rules), 1) + 1


def heading_of(rules: Sheets) -> str:
    """Name of what a line is about, as the head of a column."""
    return "Change" if rules.lines in {"any", "total", "blow", "row"} else rules.lines.capitalize()


def label_of(change: int, rules: Sheets) -> str:
    """Name of the line that a change stands for: its number, or the criterion's name."""
    if rules.lines == "criterion" and 1 <= change <= len(rules.criteria):
        return rules.criteria[change - 1].name
    return str(number_of(change, rules))


def makes_up_the_total(rules: Sheets) -> bool:
    """Whether the lines hold what the sheet holds, so that the total is their sum and nothing else."""
    return rules.lines in {"block", "criterion"}


def are_about_changes(rules: Sheets) -> bool:
    """Whether lines say at which change something was heard, to a row or a whole pull."""
    return rules.lines in {"any", "blow", "row", "whole pull"}


def most_a_tap(rules: Sheets) -> Decimal:
    """The most that one line of a sheet may hold, whatever it is for."""
    if rules.criteria:
        return max(criterion.most for criterion in rules.criteria)
    if rules.lines == "block":
        return rules.most_a_line or MOST_A_TAP * (rules.block_changes or 1)
    return MOST_A_TAP


def check_lines(taps: Sequence[Tap], total: Decimal, where: str, rules: Sheets) -> None:
    """Refuse lines that the declared sheet cannot hold.

    Parameters
    ----------
    taps : sequence of Tap
        The sheet's lines; none for a total only, where the rules allow it.
    total : Decimal
        As signed.
    where : str
        File and line, or judge and entry.
    rules : Sheets
        What a line is for, and the most it may hold.

    Raises
    ------
    InputError
        For lines where a total only is declared; a line above the most, or twice for the same; a criterion or block
        that is missing; lines that do not add up to the total where they must.
    """
    if rules.lines == "total" and taps:
        raise InputError(where, "it has lines, but the rules ask for a total only")
    if rules.lines == "criterion":
        _check_criteria(taps, where, rules)
    elif rules.lines != "any":
        _check_units(taps, where, rules)
    if makes_up_the_total(rules):
        added = sum((tap.faults for tap in taps), Decimal(0))
        if added != total:
            raise InputError(where, f"its total is {total}, but its lines add up to {added}")


def _check_units(taps: Sequence[Tap], where: str, rules: Sheets) -> None:
    held: dict[int, Decimal] = {}
    for tap in taps:
        if tap.change is None:
            continue
        number = number_of(tap.change, rules)
        twice = number in held and tap.time_s is None and rules.lines != "blow"
        if twice:
            raise InputError(where, f"{rules.lines} {number} is there twice; write what it holds in one line")
        held[number] = held.get(number, Decimal(0)) + tap.faults
        most = rules.most_a_line
        heard = tap.faults if rules.lines == "blow" else held[number]
        if most is not None and heard > most:
            raise InputError(
                where, f"{rules.lines} {number} holds {counted(heard, rules.unit)}, the most a line may hold is {most}"
            )
    if rules.lines == "block":
        missing = sorted(set(range(1, max(held, default=0) + 1)) - set(held))
        if missing or not held:
            raise InputError(where, f"block {missing[0] if missing else 1} is missing; every block has a line, 0 too")


def _check_criteria(taps: Sequence[Tap], where: str, rules: Sheets) -> None:
    given = [tap.change for tap in taps]
    for number, criterion in enumerate(rules.criteria, 1):
        if given.count(number) != 1:
            often = "missing" if number not in given else f"there {given.count(number)} times"
            raise InputError(where, f'the criterion "{criterion.name}" is {often}; each is given once')
        figure = next(tap.faults for tap in taps if tap.change == number)
        if figure > criterion.most:
            raise InputError(
                where,
                f'"{criterion.name}" has {counted(figure, rules.unit)}, at most {criterion.most} can be given for it',
            )
    strange = [number for number in given if number is None or not 1 <= number <= len(rules.criteria)]
    if strange:
        raise InputError(where, f"there is no criterion number {strange[0]}; {len(rules.criteria)} are declared")
