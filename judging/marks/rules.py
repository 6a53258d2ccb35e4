"""What is declared about marks before the draw: sheets, combining, the machine's part, penalties, ties, rounding.

These are the room's own typed rules; the contest composes them with the others and knows their file. Nothing here
has a hidden default that changes a result: every field is printed on the rules page.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from judging.errors import InputError
from judging.marks.exact import Rounding
from judging.marks.penalties import Penalty
from judging.marks.sheet_rules import Sheets
from judging.striking.marking import ADDED_LATER

Policy = Literal["sum", "mean", "ratio", "standard score", "placings", "majority of placings", "agreed mark"]
Drop = Literal["none", "highest and lowest"]
MissingJudge = Literal["refuse", "leave the judge out", "use those present"]
Part = Literal["cross-check", "tie-break", "voice"]
TieRule = Literal[
    "chief judge",
    "fewest whole faults",
    "fewest faulty changes",
    "fewest faults in the last changes",
    "better by more judges",
    "best single sheet",
    "lowest total of placings",
    "machine",
]

#: Policies whose combined figure is still faults or marks, so that a penalty in faults or per cent can be added to it.
PLAIN_POLICIES: frozenset[Policy] = frozenset({"sum", "mean", "agreed mark"})
#: Tie rules that look at a sheet's single faults.
_ABOUT_LINES: frozenset[TieRule] = frozenset(
    {"fewest whole faults", "fewest faulty changes", "fewest faults in the last changes"}
)
#: Policies that average over judges, and so can take those who were there.
AVERAGING_POLICIES: frozenset[Policy] = frozenset({"mean", "ratio"})

#: Lines that may be out by a quarter (one standard error) are no lines; two of them must stay below a factor of two.
MOST_UNSURE_LINES_PERCENT = Decimal(25)


@dataclass(frozen=True, slots=True)
class Combining:
    """How the judges' figures become one.

    Parameters
    ----------
    policy : Policy
        ``sum`` and ``mean`` of the judges' figures; ``ratio``: each figure over that judge's own mean, averaged;
        ``standard score``: each figure's distance from that judge's mean in population standard deviations, summed;
        ``placings``: each judge's places added up, equal figures sharing the mean of their places; ``majority of
        placings``: the best place that more than half of the judges gave or bettered; ``agreed mark``: one sheet.
    drop : {"none", "highest and lowest"}
        Of three or more judges, leave out each entry's highest and lowest figure. Only with sum and mean.
    missing_judge : {"refuse", "leave the judge out", "use those present"}
        What happens when a judge has no sheet for a band: no result; that judge counts for nobody in the section; or
        the average is taken over those who were there (mean and ratio only).
    """

    policy: Policy = "sum"
    drop: Drop = "none"
    missing_judge: MissingJudge = "refuse"

    def __post_init__(self) -> None:
        """Refuse combinations that have no meaning."""
        if self.drop != "none" and self.policy not in {"sum", "mean"}:
            raise InputError("combining, drop", f'"{self.drop}" goes with "sum" or "mean", not with "{self.policy}"')
        if self.drop != "none" and self.missing_judge == "use those present":
            raise InputError(
                "combining, drop",
                f'"{self.drop}" needs the same judges for every band, so missing_judge cannot be "use those present"',
            )
        if self.missing_judge == "use those present" and self.policy not in AVERAGING_POLICIES:
            raise InputError(
                "combining, missing_judge",
                f'"use those present" goes with "mean" or "ratio": under "{self.policy}" a band heard by fewer judges '
                "would be better off",
            )


@dataclass(frozen=True, slots=True)
class MachinePart:
    """What weight the machine's count has.

    Parameters
    ----------
    part : {"cross-check", "tie-break", "voice"}
        Shown beside the judges only; also asked by the tie rule ``machine``; or counted as one more judge.
    weight : Decimal
        Of its voice, a judge being 1.
    sure_within_ms, most_unsure_percent : Decimal
        Declared quality: a count with more of its judged blows unheard, or timed less surely than so many
        milliseconds, has no part. Evenblow's choice: 10 ms is less than a quarter of the least half fault.
    lines_unsure_percent : Decimal
        Standard error of the tolerance lines' common scale, from their calibration; safety of places counts it in where
        the machine has a voice. 0 where they were not calibrated.
    tower_delays : bool
        Whether a delay that a bell has for every band alike is taken out before counting.
    """

    part: Part = "cross-check"
    weight: Decimal = Decimal(1)
    sure_within_ms: Decimal = Decimal(10)
    most_unsure_percent: Decimal = Decimal(15)
    lines_unsure_percent: Decimal = field(default=Decimal(0), metadata=ADDED_LATER)
    tower_delays: bool = field(default=False, metadata=ADDED_LATER)

    def __post_init__(self) -> None:
        """Refuse a weight or a share outside its range."""
        if not Decimal(0) <= self.lines_unsure_percent <= MOST_UNSURE_LINES_PERCENT:
            raise InputError(
                "machine, lines_unsure_percent",
                f"{self.lines_unsure_percent} is not from 0 to {MOST_UNSURE_LINES_PERCENT}",
            )
        if not Decimal(0) < self.weight <= Decimal(10):
            raise InputError("machine, weight", f"{self.weight} is not above 0 and up to 10 (a judge weighs 1)")
        if not Decimal(0) <= self.most_unsure_percent <= Decimal(100):
            raise InputError("machine, most_unsure_percent", f"{self.most_unsure_percent} is not from 0 to 100")
        if not Decimal(0) < self.sure_within_ms <= Decimal(100):
            raise InputError("machine, sure_within_ms", f"{self.sure_within_ms} is not above 0 and up to 100")


@dataclass(frozen=True, slots=True)
class Ties:
    """What is asked, in order, of entries with the same mark; what it leaves level shares the place.

    Parameters
    ----------
    rules : tuple of TieRule
        In the order in which they are asked.
    chief_judge : str
        Identifier of the chief judge; needed by the rule of that name.
    last_changes : int or None
        How many changes at the end the rule of that name looks at.
    """

    rules: tuple[TieRule, ...] = ()
    chief_judge: str = ""
    last_changes: int | None = None

    def __post_init__(self) -> None:
        """Refuse a rule asked twice, or one whose number or judge is not named."""
        if len(set(self.rules)) < len(self.rules):
            raise InputError("ties, rules", "a rule is there twice; it cannot split what it has left level")
        if "chief judge" in self.rules and not self.chief_judge:
            raise InputError("ties, rules", '"chief judge" is there, but no judge is declared as chief')
        if "fewest faults in the last changes" in self.rules and not self.last_changes:
            raise InputError("ties, last_changes", "a rule looks at the last changes, but not how many is declared")


@dataclass(frozen=True, slots=True)
class MarksRules:
    """Everything declared about marks.

    Parameters
    ----------
    sheets, combining, machine, penalties, ties, rounding
        The parts, each its own value.
    rank_rounded : bool
        True where the rounded mark ranks, so that equal print is equal place; False where rounding is for print only.

    Raises
    ------
    InputError
        Where two parts contradict each other.
    """

    sheets: Sheets = field(default_factory=Sheets)
    combining: Combining = field(default_factory=Combining)
    machine: MachinePart = field(default_factory=MachinePart)
    penalties: tuple[Penalty, ...] = ()
    ties: Ties = field(default_factory=Ties)
    rounding: Rounding = field(default_factory=Rounding)
    rank_rounded: bool = True

    def __post_init__(self) -> None:
        """Refuse parts that contradict each other."""
        for rule in self.ties.rules:
            if rule in _ABOUT_LINES and self.sheets.lines in {"total", "block", "criterion"}:
                raise InputError(
                    "ties, rules", f'"{rule}" looks at single faults, which sheets of "{self.sheets.lines}" do not have'
                )
            if rule in _ABOUT_LINES and self.sheets.unit != "faults":
                raise InputError(
                    "ties, rules",
                    f'"{rule}" looks at single faults, but sheets hold {self.sheets.unit}, more being better',
                )
        if "machine" in self.ties.rules and self.machine.part == "cross-check":
            raise InputError("ties, rules", '"machine" is there, but the machine\'s part is "cross-check" only')
        if self.machine.part == "tie-break" and "machine" not in self.ties.rules:
            raise InputError("machine, part", 'it is "tie-break", but no tie rule is "machine"')
        if self.machine.part == "voice":
            self._check_voice()
        kinds = [penalty.kind for penalty in self.penalties]
        if len(set(kinds)) < len(kinds):
            raise InputError("penalty", "the same kind is declared twice")
        for penalty in self.penalties:
            self._check_penalty(penalty)

    def _check_voice(self) -> None:
        if self.combining.policy in {"agreed mark", "majority of placings"}:
            raise InputError("machine, part", f'a voice has no meaning under "{self.combining.policy}"')
        if self.combining.drop != "none":
            raise InputError("machine, part", "a voice cannot be declared where the highest and lowest are dropped")
        if self.sheets.unit != "faults":
            raise InputError("machine, part", f"the machine counts faults, the judges give {self.sheets.unit}")

    def _check_penalty(self, penalty: Penalty) -> None:
        where = f'penalty for "{penalty.kind}"'
        if penalty.base == "combined" and self.combining.policy not in PLAIN_POLICIES:
            raise InputError(
                f"{where}, base",
                f'under "{self.combining.policy}" the combined mark is no longer {self.sheets.unit}; use "each judge"',
            )
        if penalty.multipliers and not self.sheets.lower_is_better:
            raise InputError(where, "a handicap multiplies faults; these sheets hold marks")
