"""DAY + OUTCOME → A SECTION'S JUDGES COMPARED, with each other and fault by fault with the machine; advice only."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from judging.contest.day import entries_in
from judging.contest.values import ContestDay, Outcome
from judging.marks.combining import Figures
from judging.marks.judges import JudgeCompared, JudgesCompared, compare_judges
from judging.marks.lines import are_about_changes
from judging.marks.panel import latest
from judging.marks.surprising import Surprise, surprising
from judging.marks.taps import (
    TapsCompared,
    compare_taps,
    heard_beside_others,
    heard_by_sort,
    heard_in_words,
    reaction_in_words,
)
from judging.marks.values import Sheet


@dataclass(frozen=True, slots=True)
class PanelCompared:
    """A section's judges compared.

    Parameters
    ----------
    section : str
        Name of the section.
    names : mapping of str to str
        Of the judges who have signed a sheet in it, by identifier.
    judges : JudgesCompared or None
        Severity, spread, drift and agreement; None where there is nothing to compare.
    taps : mapping of str to tuple of TapsCompared
        By judge, one for each entry whose taps could be laid on the machine's faults.
    heard : mapping of str to mapping of str to pair of int
        By judge and sort of fault, how many they noted of how many the machine has.
    sentences : mapping of str to tuple of str
        By judge, what they hear of the machine's faults, and beside colleagues.
    surprising : tuple of Surprise
        Figures far from what all the others foretell.
    """

    section: str
    names: Mapping[str, str]
    judges: JudgesCompared | None
    taps: Mapping[str, tuple[TapsCompared, ...]]
    heard: Mapping[str, Mapping[str, tuple[int, int]]]
    sentences: Mapping[str, tuple[str, ...]]
    surprising: tuple[Surprise, ...] = ()

    def all_sentences(self) -> tuple[str, ...]:
        """Return everything that is said of the panel and of each judge; what is so of every judge is said once."""
        found = self.judges
        said = [*found.sentences, *(sentence for one in found.judges for sentence in one.sentences)] if found else []
        said += [sentence for of_judge in self.sentences.values() for sentence in of_judge]
        return tuple(dict.fromkeys(said))

    def judge(self, judge: str) -> JudgeCompared | None:
        """Return one judge beside the others; None where there was nothing to compare."""
        found = self.judges.judges if self.judges else ()
        return next((one for one in found if one.judge == judge), None)


def compare_panel(day: ContestDay, outcome: Outcome, section: str = "") -> PanelCompared:
    """Judges of a section compared.

    Parameters
    ----------
    day : ContestDay
        With the sheets; of each the latest revision is taken.
    outcome : Outcome
        With the machine's counts.
    section : str
        Name of the section; empty where there is only one.

    Returns
    -------
    PanelCompared
        No band is named in any sentence.
    """
    ids = {entry.id for entry in entries_in(day, section)}
    sheets = {key: sheet for key, sheet in latest(day.sheets).items() if sheet.entry in ids}
    signed = {judge for judge, _ in sheets}
    names = {judge.id: judge.name for judge in day.judges if judge.id in signed}
    bells = max((count.rung.piece.bells for entry, count in outcome.counts.items() if entry in ids), default=0)
    laid_by = are_about_changes(day.rules.marks.sheets)
    taps = {judge: _laid(judge, sheets, outcome) if laid_by else () for judge in names}
    heard = {judge: heard_by_sort(laid, bells) for judge, laid in taps.items()}
    lost = _lost(day, {key: sheet.total for key, sheet in sheets.items()})
    return PanelCompared(
        section=section,
        names=names,
        judges=None
        if lost is None
        else compare_judges(lost, day.order, machine=_fit_counts(outcome, ids), names=names),
        taps=taps,
        heard=heard,
        sentences={
            judge: (
                *heard_in_words(name, heard[judge]),
                *heard_beside_others(name, heard[judge], [heard[other] for other in names if other != judge]),
                *reaction_in_words(name, taps[judge]),
            )
            for judge, name in names.items()
        },
        surprising=() if lost is None else surprising(lost, [entry for entry in day.order if entry in ids]),
    )


def _laid(judge: str, sheets: Mapping[tuple[str, str], Sheet], outcome: Outcome) -> tuple[TapsCompared, ...]:
    """One judge's taps beside the machine's faults, band by band."""
    own = [(entry, sheet) for (by, entry), sheet in sorted(sheets.items()) if by == judge and entry in outcome.counts]
    compared = [compare_taps(sheet, outcome.counts[entry].faults) for entry, sheet in own]
    return tuple(laid for laid in compared if laid is not None)


def _lost(day: ContestDay, totals: Mapping[tuple[str, str], Decimal]) -> dict[str, Figures] | None:
    """Faults, or marks lost, by judge and entry; None where nobody can tell from what marks were lost."""
    declared = day.rules.marks.sheets
    top = Decimal(0) if declared.lower_is_better else declared.most
    if top is None:
        return None
    return {
        by: {entry: abs(top - total) for (judge, entry), total in totals.items() if judge == by}
        for by in sorted({judge for judge, _ in totals})
    }


def _fit_counts(outcome: Outcome, ids: set[str]) -> dict[str, Decimal]:
    """Return the machine's counts of the declared quality."""
    return {
        entry: count.beside_judges
        for entry, count in outcome.counts.items()
        if entry in ids and entry not in outcome.uncounted
    }
