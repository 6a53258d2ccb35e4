"""FIGURES → PLACES, with the reason for each: the ranker that decides, in Decimal throughout."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from judging.figures import counted, figure
from judging.marks.adjusting import PRINTED, adjust
from judging.marks.combining import Combined, Figures, combine
from judging.marks.exact import Rounding, settle
from judging.marks.panel import MACHINE, Prepared, prepare
from judging.marks.rules import MarksRules
from judging.marks.ties import Evidence, Settled, settle_tie
from judging.marks.values import Adjustment, Entrant, Placed, Result, Sheet

#: Units of which there are so many; of the others a mark has so much.
_COUNTED = frozenset({"faults", "marks"})


@dataclass(frozen=True, slots=True)
class _Line:
    """An entry that can be placed, on its way to a place."""

    entry: str
    place: int
    tied: bool
    reasons: tuple[str, ...]


def rank(
    entrants: Sequence[Entrant],
    sheets: Iterable[Sheet],
    rules: MarksRules,
    *,
    judges: Sequence[str],
    machine: Figures | None = None,
    unfit: Mapping[str, str] | None = None,
    section: str = "",
    fingerprint: str = "",
    revision: int = 1,
) -> Result:
    """Ranked result of one section.

    Parameters
    ----------
    entrants : sequence of Entrant
        Of the section, in any order.
    sheets : iterable of Sheet
        Every signed sheet, in any order; of each judge and entry the highest revision counts. Sheets of entries that
        are not in the section are left alone.
    rules : MarksRules
        As declared.
    judges : sequence of str
        The section's panel.
    machine : mapping of str to Decimal or None
        The machine's counts by entry, before any penalty.
    unfit : mapping of str to str or None
        Why a count is not of the declared quality, by entry.
    section, fingerprint, revision
        Passed on to the result.

    Returns
    -------
    Result
        Best first, then the unplaced; the same whatever the order of entrants, judges and sheets.

    Raises
    ------
    InputError
        For a sheet that cannot be, or a gap that the rules refuse.
    """
    prepared = prepare(entrants, sheets, rules, judges=judges, machine=machine or {}, unfit=unfit or {})
    return rank_prepared(prepared, rules, section=section, fingerprint=fingerprint, revision=revision)


def rank_prepared(
    prepared: Prepared, rules: MarksRules, *, section: str = "", fingerprint: str = "", revision: int = 1
) -> Result:
    """Ranked result of figures that are already prepared; see `rank`."""
    combined = combine(prepared.panel, rules.combining)
    marks, footnotes = _after_combined_penalties(prepared, combined, rules)
    unit = combined.unit or rules.sheets.unit
    ranked = {entry: rules.rounding(mark) if rules.rank_rounded else mark for entry, mark in marks.items()}
    lines, notes = _place(prepared, ranked, rules, unit=unit, lower=combined.lower_is_better)

    def placed(entry: str, place: int | None, reasons: tuple[str, ...], *, tied: bool) -> Placed:
        return Placed(
            entry=entry,
            place=place,
            tied=tied,
            mark=rules.rounding(marks[entry]) if entry in marks else None,
            by_judge={judge: PRINTED(figure) for judge, figure in _of(entry, prepared.panel.figures).items()},
            machine=prepared.shown.get(entry),
            adjustments=prepared.adjustments.get(entry, ()) + footnotes.get(entry, ()),
            reasons=reasons,
            on_scale=_of(entry, combined.on_scale),
        )

    return Result(
        section=section,
        unit=unit,
        lower_is_better=combined.lower_is_better,
        places=(
            *(placed(line.entry, line.place, line.reasons, tied=line.tied) for line in lines),
            *(
                placed(entry, None, (why, *_why_no_mark(entry, prepared)), tied=False)
                for entry, why in sorted(prepared.unplaced.items())
            ),
        ),
        notes=(*combined.notes, *prepared.notes, *notes),
        fingerprint=fingerprint,
        revision=revision,
    )


def _of(entry: str, by_judge: Mapping[str, Figures]) -> dict[str, Decimal]:
    return {judge: figures[entry] for judge, figures in by_judge.items() if entry in figures}


def _after_combined_penalties(
    prepared: Prepared, combined: Combined, rules: MarksRules
) -> tuple[dict[str, Decimal], dict[str, tuple[Adjustment, ...]]]:
    """Put the penalties on combined marks, of entries whose whole panel is there."""
    marks, footnotes = {}, {}
    for entry, mark in combined.marks.items():
        if _why_no_mark(entry, prepared):
            continue
        adjusted, footnotes[entry] = adjust(
            mark,
            prepared.entrants[entry],
            rules.penalties,
            base="combined",
            lower_is_better=combined.lower_is_better,
        )
        marks[entry] = settle(adjusted)
    return marks, footnotes


def _why_no_mark(entry: str, prepared: Prepared) -> tuple[str, ...]:
    """Say why an unplaced entry's mark would not compare with the others'; empty where it does."""
    if entry in prepared.panel.placed:
        return ()
    heard = [judge for judge, figures in prepared.panel.figures.items() if entry in figures]
    absent = [judge for judge in prepared.panel.figures if judge not in heard]
    if not heard or not absent:
        return ()
    return (f"No mark: nothing from {' and '.join(absent)}",)


def _place(
    prepared: Prepared, ranked: Mapping[str, Decimal], rules: MarksRules, *, unit: str, lower: bool
) -> tuple[list[_Line], tuple[str, ...]]:
    evidence = Evidence(
        by_judge={
            judge: {entry: settle(figure) for entry, figure in figures.items()}
            for judge, figures in prepared.panel.figures.items()
            if judge != MACHINE
        },
        sheets=prepared.sheets,
        entrants=prepared.entrants,
        placed=prepared.panel.placed,
        machine=prepared.machine,
        lower_is_better=rules.sheets.lower_is_better,
    )

    def merit(entry: str) -> Decimal:
        return ranked[entry] if lower else -ranked[entry]

    order = sorted(prepared.panel.placed, key=lambda entry: (merit(entry), entry))
    levels = [list(level) for _, level in groupby(order, key=merit)]
    lines: list[_Line] = []
    notes: dict[str, None] = {}
    for index, level in enumerate(levels):
        mark = ranked[level[0]]
        ahead = _margin(mark, ranked[levels[index + 1][0]], unit, rules.rounding) if index + 1 < len(levels) else ""
        behind = _margin(mark, ranked[levels[index - 1][0]], unit, rules.rounding) if index else ""
        settled = (
            settle_tie(level, rules.ties, evidence)
            if len(level) > 1
            else Settled(groups=((level[0],),), splits={}, not_asked=())
        )
        notes.update(dict.fromkeys(settled.not_asked))
        for group in settled.groups:
            place = len(lines) + 1
            lines += [
                _Line(
                    entry=entry,
                    place=place,
                    tied=len(group) > 1,
                    reasons=_reasons(group, settled, _amount(rules.rounding(mark), unit), ahead=ahead, behind=behind),
                )
                for entry in group
            ]
    shared = len({line.place for line in lines if line.tied})
    if shared:
        notes[f"{shared} {'place is' if shared == 1 else 'places are'} shared: no declared tie rule splits them."] = (
            None
        )
    return lines, tuple(notes)


def _reasons(group: tuple[str, ...], settled: Settled, mark: str, *, ahead: str, behind: str) -> tuple[str, ...]:
    """Say what separates a place from its neighbours; no other entry is named, since bands may be numbers."""
    reasons = []
    position = settled.groups.index(group)
    if len(group) > 1:
        others = len(group) - 1
        reasons.append(
            f"Shared with {others} {'other' if others == 1 else 'others'} on {mark}: no declared tie rule splits them"
        )
    if position + 1 < len(settled.groups):
        split = settled.splits[settled.groups[position + 1][0]]
        reasons.append(f"Level with the next place on {mark}, above it by {split}")
    elif ahead:
        reasons.append(f"{ahead} than the next place")
    if position:
        reasons.append(f"Level with the place before on {mark}, below it by {_turned(settled.splits[group[0]])}")
    elif behind:
        reasons.append(f"{behind} than the place before")
    return tuple(reasons) or ("The only placed entry",)


def _turned(split: str) -> str:
    """Make ``rule: better against worse`` read from the other side."""
    rule, figures = split.rsplit(": ", 1)
    better, worse = figures.split(" against ")
    return f"{rule}: {worse} against {better}"


def _margin(mark: Decimal, other: Decimal, unit: str, rounding: Rounding) -> str:
    """Say how a mark differs from another: ``"1 fault fewer"``, ``"0.457 higher in standard score"``.

    As finely as marks are printed; marks that differ and print alike differ by their first two digits.
    """
    exact = abs(mark - other)
    apart = rounding(exact) or exact.quantize(Decimal(1).scaleb(exact.adjusted() - 1))
    if unit in _COUNTED:
        return f"{_amount(apart, unit)} {'fewer' if mark < other else 'more'}"
    return f"{figure(apart)} {'lower' if mark < other else 'higher'} in {unit}"


def _amount(mark: Decimal, unit: str) -> str:
    return counted(mark, unit) if unit in _COUNTED else f"{figure(mark)} in {unit}"
