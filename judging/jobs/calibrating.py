"""Contests that both judges and machine have counted → tolerance bands as the judges draw them, for new rules."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from judging.contest import ContestDay, RuleSet, piece_of
from judging.errors import InputError, NothingHeard
from judging.jobs.recount import unpacked
from judging.marks.rules import MOST_UNSURE_LINES_PERCENT
from judging.marks.values import Sheet
from judging.store.contest_folder import read_folder
from judging.striking import Calibration, Count, CountingRules, calibrate, count_striking


@dataclass(frozen=True, slots=True)
class Calibrated:
    """What came of some contests.

    Parameters
    ----------
    found : Calibration
        Scaled bands, their uncertainty, and the agreement.
    pieces : tuple of str
        What each piece is: contest and entry, in the order of the calibration's totals.
    remarks : tuple of str
        What was left out, and why.
    """

    found: Calibration
    pieces: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def toml(self) -> str:
        """Lines for ``rules.toml``, to be put there before the rules are published."""
        bands, written = self.found.bands, self.found.saturation
        names = ("blemish_gaps", "half_gaps", "whole_gaps", "blemish_ms", "half_ms", "whole_ms", "clash_gaps")
        lines = ["[tolerance]", *(f"{name} = {getattr(bands, name):g}" for name in names)]
        if written is not None:
            lines += ["", "[counting]", f"saturation = {written:g}"]
        lines += ["", "[machine]", f"lines_unsure_percent = {self.found.unsure_percent:f}"]
        return "\n".join(lines)


def calibrate_contests(contests: Sequence[Path], rules: RuleSet | None = None) -> Calibrated:
    """Bands under which the machine counts as the judges of some contests did, as `calibrate_days` of their files.

    Parameters
    ----------
    contests : sequence of Path
        Contest folders or archives, each with strike logs and sheets.
    rules : RuleSet, optional
        The bands to be scaled, and how is counted; by default those of the first contest.

    Returns
    -------
    Calibrated

    Raises
    ------
    InputError
        Where a contest cannot be read, or there is too little to go by.
    """
    return calibrate_days([(contest.name, day_of(contest)) for contest in contests], rules)


def day_of(contest: Path) -> ContestDay:
    """Return a contest as its files hold it.

    Parameters
    ----------
    contest : Path
        A folder or an archive.

    Returns
    -------
    ContestDay

    Raises
    ------
    InputError
        Naming the first file that is not usable.
    """
    with unpacked(contest) as folder:
        return read_folder(folder).day


def calibrate_days(contests: Sequence[tuple[str, ContestDay]], rules: RuleSet | None = None) -> Calibrated:
    """Bands under which the machine counts as the judges of some contests did.

    What judges signed before they saw the machine's count is compared: the first version of each sheet.

    Parameters
    ----------
    contests : sequence of (str, ContestDay)
        Each with what it is called.
    rules : RuleSet, optional
        The bands to be scaled, and how is counted; by default those of the first contest.

    Returns
    -------
    Calibrated

    Raises
    ------
    InputError
        Where there is too little to go by.
    """
    counts: list[Count] = []
    people: list[Decimal] = []
    pieces: list[str] = []
    remarks: list[str] = []
    for called, day in contests:
        rules = rules or day.rules
        for entry in day.entries:
            name = f"{called}, {entry.id}"
            totals = _totals(day, entry.id)
            if entry.id not in day.logs or not totals:
                remarks.append(f"{name}: left out, {'no sheet' if entry.id in day.logs else 'no strike log'}")
                continue
            try:
                counts.append(count_striking(day.logs[entry.id], piece_of(entry, day), rules.counting, name=name))
            except NothingHeard as error:
                remarks.append(f"left out: {error}")
                continue
            people.append(sum(totals, Decimal(0)) / len(totals))
            pieces.append(name)
    counting = rules.counting if rules else CountingRules()
    found = calibrate(counts, people, counting)
    if found.unsure_percent > MOST_UNSURE_LINES_PERCENT:
        raise InputError(
            "calibration",
            f"the lines are known to within {found.unsure_percent} % only, and at most {MOST_UNSURE_LINES_PERCENT} % "
            "can be declared: judges and machine differ too unevenly from piece to piece; add more pieces",
        )
    return Calibrated(found, tuple(pieces), tuple(remarks))


def _totals(day: ContestDay, entry: str) -> list[Decimal]:
    """What each judge first signed for an entry, in faults."""
    declared = day.rules.marks.sheets
    top = Decimal(0) if declared.lower_is_better else declared.most
    if top is None:
        raise InputError(
            "calibration", "judges gave marks, and the rules do not say from what: declare most in [sheets]"
        )
    first: dict[str, Sheet] = {}
    for sheet in day.sheets:
        if sheet.entry == entry and (sheet.judge not in first or sheet.revision < first[sheet.judge].revision):
            first[sheet.judge] = sheet
    return [abs(top - sheet.total) for sheet in first.values()]
