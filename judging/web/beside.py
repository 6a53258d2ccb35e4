"""A judge's own page: how they judged, beside colleagues and the machine. For that judge alone, and advice only."""

from dataclasses import dataclass, replace
from decimal import Decimal

from judging.contest import Phase
from judging.contest.comparing import PanelCompared
from judging.contest.day import entries_in, panel_of
from judging.figures import figure
from judging.marks.panel import latest
from judging.papers.drawings import judges_svg
from judging.web.firmness import Agreement, agreement_of
from judging.web.judging_page import JudgingView
from judging.web.standing import unsigned
from judging.web.views import ContestView


@dataclass(frozen=True, slots=True)
class BesideBand:
    """One band's line: every figure as printed, a dash where there is none.

    Parameters
    ----------
    band : str
        Name or number, as the judge may see it.
    own, others, machine : str
        The judge's figure, the mean of the colleagues', and the machine's count.
    both, alone, missed : str
        Faults that judge and machine noted, the judge alone, and the machine alone.
    """

    band: str
    own: str
    others: str
    machine: str
    both: str
    alone: str
    missed: str


@dataclass(frozen=True, slots=True)
class BesideSection:
    """One section in which somebody judged.

    Parameters
    ----------
    name : str
        Of the section.
    drawing : str
        This judge against the panel, and no colleague; empty where there is nothing to compare.
    told : tuple of str
        About this judge.
    panel_told : tuple of str
        About the panel as a whole.
    agreement : tuple of Agreement
        Of the panel.
    bands : tuple of BesideBand
        In the order of ringing.
    """

    name: str
    drawing: str
    told: tuple[str, ...]
    panel_told: tuple[str, ...]
    agreement: tuple[Agreement, ...]
    bands: tuple[BesideBand, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """A judge beside colleagues and the machine.

    Parameters
    ----------
    waits : bool
        Whether it must wait, since a first sheet is signed before anything else is seen.
    is_final : bool
        Whether the result is final.
    sections : tuple of BesideSection
        Empty where it waits.
    """

    waits: bool
    is_final: bool
    sections: tuple[BesideSection, ...]


def beside_of(judging: JudgingView, view: ContestView) -> Beside:
    """Return how somebody judged; nothing of it before every first sheet is signed.

    Parameters
    ----------
    judging : JudgingView
        The judge who looks.
    view : ContestView
        The contest, as that judge may see it.

    Returns
    -------
    Beside
    """
    judged = view.judged
    waits = not judged.is_drawn or bool(unsigned(judged.day))
    judge = judging.judge.key
    sections = (
        ()
        if waits
        else tuple(
            _section(view, section.name, judge)
            for section in judged.rules.sections
            if judge in panel_of(judged.day, section)
        )
    )
    return Beside(waits, judged.phase is Phase.FINAL, sections)


def _section(view: ContestView, name: str, judge: str) -> BesideSection:
    panel = view.judged.panel(name)
    own, judges = panel.judge(judge), panel.judges
    return BesideSection(
        name=name,
        drawing=judges_svg(replace(judges, judges=(own,)), panel.names) if judges is not None and own else "",
        told=((*own.sentences,) if own else ()) + tuple(panel.sentences.get(judge, ())),
        panel_told=judges.sentences if judges is not None else (),
        agreement=agreement_of(judges) if judges is not None else (),
        bands=_bands(view, name, judge, panel),
    )


def _bands(view: ContestView, section: str, judge: str, panel: PanelCompared) -> tuple[BesideBand, ...]:
    judged = view.judged
    sheets = latest(judged.day.sheets)
    laid = {one.entry: one for one in panel.taps.get(judge, ())}
    ids = {entry.id for entry in entries_in(judged.day, section)}
    bands = []
    for entry in (entry for entry in judged.day.order if entry in ids and (judge, entry) in sheets):
        others = [sheet.total for (by, of), sheet in sheets.items() if of == entry and by != judge]
        taps = laid.get(entry)
        bands.append(
            BesideBand(
                band=view.names.name(entry),
                own=figure(sheets[judge, entry].total),
                others=_mean(others),
                machine=figure(judged.outcome.machine_counts[entry]) if entry in judged.outcome.machine_counts else "–",
                both=str(len(taps.pairs)) if taps else "–",
                alone=str(len(taps.judge_only)) if taps else "–",
                missed=str(len(taps.machine_only)) if taps else "–",
            )
        )
    return tuple(bands)


def _mean(figures: list[Decimal]) -> str:
    if not figures:
        return "–"
    return figure((sum(figures, Decimal(0)) / len(figures)).quantize(Decimal("0.1")).normalize())
