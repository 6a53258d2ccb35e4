"""SIGNED SHEETS → EACH JUDGE'S FIGURES, after penalties; every gap refused or dealt with by the declared rule.

What comes out of here is all that the ranker, and its float twin that measures how safe a place is, ever see.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from judging.errors import InputError
from judging.marks.adjusting import adjust, why_unplaced
from judging.marks.combining import Figures, Panel
from judging.marks.lines import check_lines
from judging.marks.penalties import Penalty
from judging.marks.rules import MarksRules
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Adjustment, Entrant, Sheet

#: What the machine is called among the judges.
MACHINE = "machine"

_FEWEST_TO_DROP_FROM = 3


@dataclass(frozen=True, slots=True)
class Prepared:
    """A section ready to be combined.

    Parameters
    ----------
    panel : Panel
        Figures after each judge's penalties, the machine among them where it has a voice.
    signed : mapping of str to mapping of str to Decimal
        By judge and entry, as signed (or counted), before penalties; the same judges as in the panel.
    entrants : mapping of str to Entrant
        By identifier.
    unplaced : mapping of str to str
        Why, by entry.
    sheets : mapping of tuple of str to Sheet
        By judge and entry, the revision that counts.
    adjustments : mapping of str to tuple of Adjustment
        Each judge's footnotes by entry.
    machine : mapping of str to Decimal or None
        The machine's figures after its penalties; None where it has no part in this section.
    shown : mapping of str to Decimal
        The machine's figures as they are shown beside the judges', after missing rows only.
    notes : tuple of str
        What was done where something was missing.
    """

    panel: Panel
    signed: Mapping[str, Figures]
    entrants: Mapping[str, Entrant]
    unplaced: Mapping[str, str]
    sheets: Mapping[tuple[str, str], Sheet]
    adjustments: Mapping[str, tuple[Adjustment, ...]]
    machine: Figures | None
    shown: Figures
    notes: tuple[str, ...]


def latest(sheets: Iterable[Sheet]) -> dict[tuple[str, str], Sheet]:
    """Sheets that count, by judge and entry: of each, the highest revision.

    Parameters
    ----------
    sheets : iterable of Sheet
        Every signed sheet; earlier revisions stay where they are kept.

    Returns
    -------
    dict
        Keyed by judge and entry.

    Raises
    ------
    InputError
        Where a judge signed two sheets of the same revision for one entry, a revision is missing, or a later one
        gives no reason.
    """
    found: dict[tuple[str, str], dict[int, Sheet]] = {}
    for sheet in sheets:
        where = f"sheet of {sheet.judge} for {sheet.entry}"
        revisions = found.setdefault((sheet.judge, sheet.entry), {})
        if sheet.revision in revisions:
            raise InputError(
                where, f"there are two of revision {sheet.revision}; a corrected sheet is the next revision"
            )
        if sheet.revision > 1 and not sheet.reason:
            raise InputError(where, f"revision {sheet.revision} gives no reason; a revised sheet says why")
        revisions[sheet.revision] = sheet
    for (judge, entry), revisions in found.items():
        if sorted(revisions) != list(range(1, len(revisions) + 1)):
            raise InputError(
                f"sheet of {judge} for {entry}",
                f"it has revisions {', '.join(map(str, sorted(revisions)))}; the first and every later one are kept",
            )
    return {key: revisions[max(revisions)] for key, revisions in found.items()}


def prepare(
    entrants: Sequence[Entrant],
    sheets: Iterable[Sheet],
    rules: MarksRules,
    *,
    judges: Sequence[str],
    machine: Figures,
    unfit: Mapping[str, str],
) -> Prepared:
    """Figures of one section.

    Parameters
    ----------
    entrants : sequence of Entrant
        Of the section.
    sheets : iterable of Sheet
        At least those of the section; others are left alone.
    rules : MarksRules
        As declared.
    judges : sequence of str
        The section's panel.
    machine : mapping of str to Decimal
        The machine's counts by entry, before any penalty.
    unfit : mapping of str to str
        Why a count is not of the declared quality, by entry.

    Returns
    -------
    Prepared
        Ready to be combined.

    Raises
    ------
    InputError
        For a sheet that cannot be, a judge missing where the rules refuse that, or too few judges for the policy.
    """
    known = {entrant.id: entrant for entrant in entrants}
    counting = {key: sheet for key, sheet in latest(sheets).items() if sheet.entry in known}
    for sheet in counting.values():
        _check_sheet(sheet, known[sheet.entry], judges, rules)
    unplaced = {entrant.id: why for entrant in entrants if (why := why_unplaced(entrant, rules.penalties))}
    placed = tuple(sorted(set(known) - set(unplaced)))
    panel_judges, notes = _panel_judges(judges, placed, counting, rules)
    signed: dict[str, Figures] = {
        judge: {entry: counting[judge, entry].total for entry in sorted(known) if (judge, entry) in counting}
        for judge in panel_judges
    }
    lacking = [entry for entry in placed if entry not in machine or entry in unfit]
    has_part = rules.machine.part != "cross-check" and bool(placed) and not lacking
    if rules.machine.part != "cross-check" and lacking:
        notes.append(_no_part(lacking))
    if has_part and rules.machine.part == "voice":
        signed[MACHINE] = {entry: figure for entry, figure in machine.items() if entry in known and entry not in unfit}
    return _adjusted(
        signed, known, unplaced, placed, counting, rules, machine if has_part else None, machine, tuple(notes)
    )


def _adjusted(
    signed: Mapping[str, Figures],
    known: Mapping[str, Entrant],
    unplaced: Mapping[str, str],
    placed: tuple[str, ...],
    counting: Mapping[tuple[str, str], Sheet],
    rules: MarksRules,
    machine: Figures | None,
    shown: Figures,
    notes: tuple[str, ...],
) -> Prepared:
    lower = rules.sheets.lower_is_better
    footnotes: dict[str, tuple[Adjustment, ...]] = {}
    figures: dict[str, dict[str, Decimal]] = {}
    for judge, given in signed.items():
        figures[judge] = {}
        for entry, figure in given.items():
            after, steps = adjust(
                figure, known[entry], rules.penalties, base="each judge", lower_is_better=lower, judge=judge
            )
            figures[judge][entry] = after
            footnotes[entry] = footnotes.get(entry, ()) + steps
    weights = {MACHINE: rules.machine.weight} if MACHINE in signed else {}
    return Prepared(
        panel=Panel(figures, placed, lower, weights),
        signed=signed,
        entrants=known,
        unplaced=unplaced,
        sheets=counting,
        adjustments=footnotes,
        machine=None
        if machine is None
        else _after(machine, known, [p for p in rules.penalties if p.base == "each judge"]),
        shown=shown_machine_figures(shown, known, rules),
        notes=notes,
    )


def shown_machine_figures(machine: Figures, known: Mapping[str, Entrant], rules: MarksRules) -> dict[str, Decimal]:
    """Return the machine's counts as they stand beside the judges': with the charge for missing rows, and no other.

    Parameters
    ----------
    machine : mapping of str to Decimal
        As counted, by entry.
    known : mapping of str to Entrant
        By identifier; others are left out.
    rules : MarksRules
        With the penalty for missing rows, if one is declared.

    Returns
    -------
    dict
        By entry.
    """
    return _after(machine, known, [replace(p, base="each judge") for p in rules.penalties if p.kind == "missing rows"])


def _after(machine: Figures, known: Mapping[str, Entrant], penalties: Sequence[Penalty]) -> dict[str, Decimal]:
    """Put penalties on the machine's counts; it counts faults, so they add."""
    return {
        entry: adjust(figure, known[entry], penalties, base="each judge", lower_is_better=True, judge=MACHINE)[0]
        for entry, figure in machine.items()
        if entry in known
    }


def _check_sheet(sheet: Sheet, entrant: Entrant, judges: Sequence[str], rules: MarksRules) -> None:
    where = f"sheet of {sheet.judge} for {sheet.entry}"
    if sheet.judge not in judges:
        known = ", ".join(judges) or "none"
        raise InputError(where, f'"{sheet.judge}" is no judge of this section; declared are {known}')
    if entrant.withdrawn:
        raise InputError(where, f"the entry is withdrawn ({entrant.withdrawn}), so it has no sheet")
    check_figure(sheet.total, where, rules.sheets)
    check_lines(sheet.taps, sheet.total, where, rules.sheets)


def check_figure(total: Decimal, where: str, rules: Sheets) -> None:
    """Refuse a figure that no sheet can hold.

    Parameters
    ----------
    total : Decimal
        As signed.
    where : str
        File and line, or judge and entry.
    rules : Sheets
        Unit, step and limit of a sheet.

    Raises
    ------
    InputError
        Below 0, above the limit, or finer than the step.
    """
    if not total.is_finite() or total < 0:
        raise InputError(where, f"{total} {rules.unit}: it cannot be below 0")
    if rules.most is not None and total > rules.most:
        raise InputError(where, f"{total} {rules.unit} is above the most a sheet may hold, {rules.most}")
    if total % rules.step:
        raise InputError(where, f"{total} {rules.unit} is finer than the step declared, {rules.step}")


def _panel_judges(
    judges: Sequence[str],
    placed: Sequence[str],
    counting: Mapping[tuple[str, str], Sheet],
    rules: MarksRules,
) -> tuple[list[str], list[str]]:
    """Judges whose figures count, and what is said about the others."""
    kept, notes = [], []
    for judge in sorted(set(judges)):
        gaps = [entry for entry in placed if (judge, entry) not in counting]
        if not gaps:
            kept.append(judge)
        elif rules.combining.policy == "agreed mark" and len(set(judges)) > 1:
            raise InputError(
                "combining, policy",
                f'"agreed mark" is one sheet from the panel, but {len(set(judges))} judges are declared: declare the '
                "panel as one [[judge]], with all their names in its name",
            )
        elif rules.combining.missing_judge == "refuse":
            raise InputError(
                f"sheet of {judge} for {gaps[0]}",
                f"it is missing ({len(gaps)} of {len(placed)} are), and the rules refuse a result without it; declare "
                "missing_judge in [combining] if judges may be absent",
            )
        elif rules.combining.missing_judge == "leave the judge out":
            notes.append(f"{judge} did not judge every band, and so counts for none of them, as declared.")
        else:
            kept.append(judge)
            notes.append(f"{judge} did not judge every band; each mark is over the judges who did, as declared.")
    _check_panel(kept, placed, counting, rules)
    return kept, notes


def _check_panel(
    judges: Sequence[str], placed: Sequence[str], counting: Mapping[tuple[str, str], Sheet], rules: MarksRules
) -> None:
    for entry in placed:
        heard = sum((judge, entry) in counting for judge in judges)
        if not heard:
            raise InputError(f"entry {entry}", "no judge whose figures count has a sheet for it")
        if rules.combining.drop != "none" and heard < _FEWEST_TO_DROP_FROM:
            raise InputError(
                f"entry {entry}",
                f"{heard} judges: the highest and lowest can be left out of {_FEWEST_TO_DROP_FROM} or more",
            )
    if rules.combining.policy == "agreed mark" and len(judges) != 1:
        raise InputError(
            "combining, policy", f'"agreed mark" is one sheet from the panel; {len(judges)} judges have sheets'
        )


def _no_part(lacking: Sequence[str]) -> str:
    bands = "one band has" if len(lacking) == 1 else f"{len(lacking)} bands have"
    return f"The machine has no part in this section, tie rules included: {bands} no count of the declared quality."
