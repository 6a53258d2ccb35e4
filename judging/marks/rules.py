"""What is declared about marks before the draw: combining, the machine's part, penalties, ties, rounding.

These are the room's own typed rules; the contest composes them with the others and knows their file. Nothing here
has a hidden default that changes a result: every field is printed on the rules page.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_DOWN, ROUND_HALF_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal, localcontext
from fractions import Fraction
from typing import Literal

from judging.errors import InputError

Policy = Literal["sum", "mean", "ratio", "standard score", "placings", "majority of placings", "agreed mark"]
Drop = Literal["none", "highest and lowest"]
MissingJudge = Literal["refuse", "leave the judge out", "use those present"]
Part = Literal["cross-check", "tie-break", "voice"]
Base = Literal["each judge", "combined"]
PercentOf = Literal["as counted", "so far"]
Mode = Literal["half up", "half even", "half down", "up", "down"]
Unit = Literal["faults", "marks"]
Lines = Literal["any", "total", "blow", "row", "whole pull", "block", "criterion"]
PenaltyKind = Literal["missing rows", "restart", "borrowed ringers", "over time", "wrong method", "novice handicap"]
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

#: Penalties that count something, and what they count.
_COUNTED: dict[PenaltyKind, str] = {
    "missing rows": "missing row",
    "restart": "restart",
    "borrowed ringers": "borrowed ringer",
    "over time": "minute begun over time",
    "wrong method": "wrong method",
}

_MODES: dict[Mode, str] = {
    "half up": ROUND_HALF_UP,
    "half even": ROUND_HALF_EVEN,
    "half down": ROUND_HALF_DOWN,
    "up": ROUND_UP,
    "down": ROUND_DOWN,
}

#: Of a field that rules declared earlier do not have: left at its default it is no part of their fingerprint.
ADDED_LATER: Mapping[str, bool] = {"added_later": True}

#: Lines that may be out by a quarter (one standard error) are no lines; two of them must stay below a factor of two.
MOST_UNSURE_LINES_PERCENT = Decimal(25)

#: Digits carried between steps; far beyond anything printed.
WORKING_DIGITS = 50
#: Divisions that do not come out are settled to this before they are rounded as declared or compared, so that the
#: order of judges cannot decide a half and two routes to the same figure are the same figure.
_SETTLED = Decimal(1).scaleb(-24)
#: From one step to the next more is carried, so that a sum of thirds that is a half is settled as one.
_CARRIED = Decimal(1).scaleb(-36)


def settle(figure: Decimal) -> Decimal:
    """Figure with the last digits of a division that does not come out taken off (24 places, half even)."""
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return figure.quantize(_SETTLED, rounding=ROUND_HALF_EVEN)


def carry(figure: Decimal) -> Decimal:
    """Figure as it goes from one step of arithmetic to the next (36 places, half even)."""
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return figure.quantize(_CARRIED, rounding=ROUND_HALF_EVEN)


def plain(figure: Decimal) -> Decimal:
    """Figure without trailing zeros or an exponent, as it is printed."""
    trimmed = figure.normalize()
    return trimmed.quantize(Decimal(1)) if trimmed == trimmed.to_integral_value() else trimmed


@dataclass(frozen=True, slots=True)
class Rounding:
    """Rounding to the nearest multiple of a step.

    Parameters
    ----------
    step : Decimal
        The finest figure, such as 0.01 or 0.5; above 0.
    mode : {"half up", "half even", "half down", "up", "down"}
        What happens between two steps; up and down are away from and towards zero.
    """

    step: Decimal = Decimal("0.01")
    mode: Mode = "half up"

    def __post_init__(self) -> None:
        """Refuse a step that is no step."""
        if not self.step.is_finite() or self.step <= 0:
            raise InputError("rounding, step", f"{self.step} is not above 0; a step is the finest figure, such as 0.01")

    def __call__(self, figure: Decimal) -> Decimal:
        """Round a figure.

        Parameters
        ----------
        figure : Decimal
            Any finite figure.

        Returns
        -------
        Decimal
            ``step`` times the whole number that the mode makes of ``figure / step``.
        """
        with localcontext() as context:
            context.prec = WORKING_DIGITS
            steps = settle(settle(figure) / self.step).quantize(Decimal(1), rounding=_MODES[self.mode])
            return plain(steps * self.step)


@dataclass(frozen=True, slots=True)
class Criterion:
    """One of the criteria of an impression sheet.

    Parameters
    ----------
    name : str
        As it is printed.
    most : Decimal
        The most that may be given for it.
    words : str
        What it is about.
    """

    name: str
    most: Decimal
    words: str = ""

    def __post_init__(self) -> None:
        """Refuse a criterion for which nothing can be given."""
        if not self.most.is_finite() or self.most <= 0:
            raise InputError(f'criterion "{self.name}", most', f"{self.most} is not above 0")


@dataclass(frozen=True, slots=True)
class Sheets:
    """What a judge's sheet holds.

    Parameters
    ----------
    unit : {"faults", "marks"}
        Faults: fewer is better. Marks: more is better.
    step : Decimal
        The finest figure a judge may give: 0.5 where half faults are counted.
    most : Decimal or None
        The most one sheet may hold; None for no limit. With criteria it is the sum of theirs.
    lines : Lines
        What a line is for. ``any``: a total, or faults change by change, as the judge likes. ``total``: nothing else.
        Otherwise a line for each blow, row or whole pull at which something was heard, for every block of rows, or for
        every criterion; see `judging.marks.lines`.
    block_changes : int or None
        Changes in a block.
    most_a_line : Decimal or None
        The most one line may hold (a row that is marked in several taps, all of them); None for no limit.
    criteria : tuple of Criterion
        In the order in which they are printed.
    """

    unit: Unit = "faults"
    step: Decimal = Decimal("0.5")
    most: Decimal | None = None
    lines: Lines = field(default="any", metadata=ADDED_LATER)
    block_changes: int | None = field(default=None, metadata=ADDED_LATER)
    most_a_line: Decimal | None = field(default=None, metadata=ADDED_LATER)
    criteria: tuple[Criterion, ...] = field(default=(), metadata=ADDED_LATER)

    def __post_init__(self) -> None:
        """Refuse figures that are not above 0, and parts that contradict each other."""
        for key, value in (("step", self.step), ("most", self.most), ("most_a_line", self.most_a_line)):
            if value is not None and (not value.is_finite() or value <= 0):
                raise InputError(f"sheets, {key}", f"{value} is not above 0")
        if (self.lines == "block") != (self.block_changes is not None):
            raise InputError("sheets, block_changes", "it belongs to lines for each block, and they need it")
        if (self.lines == "criterion") != bool(self.criteria):
            raise InputError("sheets, lines", 'each [[criterion]] belongs to lines = "criterion", which needs them')
        if self.most_a_line is not None and self.lines not in {"blow", "row", "whole pull", "block"}:
            raise InputError("sheets, most_a_line", f'lines are for "{self.lines}", which has no most a line')
        names = [criterion.name.casefold() for criterion in self.criteria]
        if len(set(names)) < len(names):
            raise InputError("criterion, name", "two criteria have the same name")
        if self.criteria:
            together = sum((criterion.most for criterion in self.criteria), Decimal(0))
            if self.most is not None and self.most != together:
                raise InputError("sheets, most", f"it is {self.most}, but the criteria add up to {together}")
            object.__setattr__(self, "most", together)

    @property
    def lower_is_better(self) -> bool:
        """Whether fewer is better."""
        return self.unit == "faults"


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
class Penalty:
    """One penalty or handicap; they are applied in the order in which they are declared.

    Parameters
    ----------
    kind : PenaltyKind
        What it is for.
    base : {"each judge", "combined"}
        Whether each judge's figure is changed, or the combined mark.
    percent : Decimal
        Per cent of the figure for each one counted (borrowed ringer, restart, minute begun): two at 15 are 30 in one.
    percent_of : {"as counted", "so far"}
        Of the figure before any penalty of this base, or of what the earlier penalties have made of it.
    amount : Decimal
        Faults added, or marks taken off, for each one counted.
    multipliers : tuple of Fraction
        For a novice handicap: what faults are multiplied by with 0, 1, 2, ... experienced ringers; the last holds
        for every larger number.
    most : int or None
        With more than this many, the entry is unplaced; None for no limit.
    within_changes : int or None
        For a restart: with more changes rung than this before it, the entry is unplaced.
    rounding : Rounding or None
        Of the figure after this step; None leaves it to the end.
    """

    kind: PenaltyKind
    base: Base = "each judge"
    percent: Decimal = Decimal(0)
    percent_of: PercentOf = "as counted"
    amount: Decimal = Decimal(0)
    multipliers: tuple[Fraction, ...] = ()
    most: int | None = None
    within_changes: int | None = None
    rounding: Rounding | None = None

    def __post_init__(self) -> None:
        """Refuse a penalty that says nothing, or says what its kind cannot mean."""
        where = f'penalty for "{self.kind}"'
        for key, value in (("percent", self.percent), ("amount", self.amount)):
            if not value.is_finite() or value < 0:
                raise InputError(f"{where}, {key}", f"{value} is below 0")
        if (self.kind == "novice handicap") != bool(self.multipliers):
            raise InputError(f"{where}, multipliers", "they belong to a novice handicap, and it needs them")
        if self.multipliers and (self.percent or self.amount):
            raise InputError(where, "a handicap multiplies; it has no percent and no amount")
        if any(multiplier <= 0 for multiplier in self.multipliers):
            raise InputError(f"{where}, multipliers", "each must be above 0")
        if self.within_changes is not None and self.kind != "restart":
            raise InputError(f"{where}, within_changes", "only a restart has it")
        if not (self.percent or self.amount or self.multipliers or self.most is not None):
            raise InputError(where, "it says nothing; give a percent, an amount, multipliers, or the most allowed")

    @property
    def of_what(self) -> str:
        """What one of it is, in the singular."""
        return _COUNTED.get(self.kind, "experienced ringer")


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
