"""CONTEST DAY → OUTCOME: every log counted, every section ranked. Pure: the same day always gives the same outcome."""

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from judging.contest.rules import RuleSet, Section
from judging.contest.values import ContestDay, Entry, Outcome
from judging.errors import InputError, NothingHeard
from judging.marks.panel import shown_machine_figures
from judging.marks.ranking import rank
from judging.marks.values import Entrant, Result
from judging.piece.piece import Piece
from judging.striking import count_striking
from judging.striking.values import Count

_PER_CENT = Decimal(100)


def judge_contest(day: ContestDay) -> Outcome:
    """Count every log and rank every section.

    Parameters
    ----------
    day : ContestDay
        Everything the contest holds.

    Returns
    -------
    Outcome
        A log that holds no ringing of its piece gives no count; why is said in ``uncounted``.

    Raises
    ------
    InputError
        For a sheet that cannot be, a gap that the rules refuse, an entry in no section, or a missing piece.
    """
    counts: dict[str, Count] = {}
    uncounted: dict[str, str] = {}
    for entry in day.entries:
        if entry.id not in day.logs:
            uncounted[entry.id] = "no strike log; judged by ear only"
            continue
        try:
            counts[entry.id] = count_striking(
                day.logs[entry.id], piece_of(entry, day), day.rules.counting, name=entry.id
            )
        except NothingHeard as error:
            uncounted[entry.id] = error.problem
    for entry_id, count in counts.items():
        why = why_unfit(count, day.rules)
        if why:
            uncounted[entry_id] = why
    entrants = {entry.id: entrant_of(entry, day.pieces.get(_piece_name(entry, day.rules))) for entry in day.entries}
    totals = {entry: count.total for entry, count in counts.items()}
    _check_sheets(day)
    return Outcome(
        counts=counts,
        results=tuple(_rank_section(section, day, entrants, totals, uncounted) for section in day.rules.sections),
        machine_counts=shown_machine_figures(totals, entrants, day.rules.marks),
        uncounted=uncounted,
    )


def piece_of(entry: Entry, day: ContestDay) -> Piece:
    """Test piece of an entry: its own, or its section's.

    Raises
    ------
    InputError
        Where it is not among the pieces.
    """
    name = _piece_name(entry, day.rules)
    if name not in day.pieces:
        known = ", ".join(sorted(day.pieces)) or "none"
        raise InputError(f"entry {entry.id}, piece", f'"{name}" is not among the test pieces ({known})')
    return day.pieces[name]


def entrant_of(entry: Entry, piece: Piece | None = None) -> Entrant:
    """Return what the arithmetic must know about an entry; the band's name stays behind."""
    fixed = piece is not None and not piece.free_lengths
    return Entrant(
        id=entry.id,
        scratch=entry.scratch,
        borrowed=entry.borrowed,
        experienced=entry.experienced,
        restarts=entry.restarts,
        restart_changes=entry.restart_changes,
        missing_rows=entry.missing_rows,
        minutes_over=math.ceil(entry.over_time_s / 60),
        wrong_method=entry.wrong_method,
        withdrawn=entry.withdrawn,
        disqualified=entry.disqualified,
        unfinished=entry.unfinished,
        changes=int(piece.is_change.sum()) if fixed and piece is not None else None,
    )


def why_unfit(count: Count, rules: RuleSet) -> str:
    """Say why a count is not of the declared quality; empty where it is.

    Parameters
    ----------
    count : Count
        Of one entry.
    rules : RuleSet
        With the share of doubtful or unheard blows that is allowed.

    Returns
    -------
    str
        In words.
    """
    judged = int(count.judged.sum()) * count.rung.piece.bells
    unheard = int((count.rung.bells[count.judged] == 0).sum())
    doubtful = sum(fault.doubtful and fault.judged and fault.kind != "missing blow" for fault in count.faults)
    if not judged:
        return "no row of it is marked"
    share = _PER_CENT * (unheard + doubtful) / judged
    limit = rules.marks.machine.most_doubtful_percent
    return (
        f"{share:.1f} % of its judged blows are doubtful or unheard, at most {limit} % are allowed"
        if share > limit
        else ""
    )


def _piece_name(entry: Entry, rules: RuleSet) -> str:
    return entry.piece or _home(entry, rules).piece


def _home(entry: Entry, rules: RuleSet) -> Section:
    if not entry.section and len(rules.sections) == 1:
        return rules.sections[0]
    for section in rules.sections:
        if section.name == entry.section:
            return section
    raise InputError(f"entry {entry.id}, section", f'"{entry.section}" is no section of the rules')


def _rank_section(
    section: Section,
    day: ContestDay,
    entrants: Mapping[str, Entrant],
    totals: Mapping[str, Decimal],
    uncounted: Mapping[str, str],
) -> Result:
    here = [
        _in_section(entrants[entry.id], section)
        for entry in day.entries
        if _home(entry, day.rules) is section or section.name in entry.also_in
    ]
    ids = {entrant.id for entrant in here}
    return rank(
        here,
        [sheet for sheet in day.sheets if sheet.entry in ids],
        day.rules.marks,
        judges=section.judges or tuple(judge.id for judge in day.judges),
        machine={entry: total for entry, total in totals.items() if entry in ids},
        unfit=uncounted,
        section=section.name,
        fingerprint=day.rules.fingerprint,
    )


def _in_section(entrant: Entrant, section: Section) -> Entrant:
    """Entrant under the section's own limit of borrowed ringers."""
    if section.most_borrowed is None or entrant.borrowed <= section.most_borrowed or entrant.disqualified:
        return entrant
    allowed = "none" if section.most_borrowed == 0 else f"at most {section.most_borrowed}"
    return replace(entrant, out_of_section=f"{entrant.borrowed} borrowed, {allowed} allowed in this section")


def _check_sheets(day: ContestDay) -> None:
    entries = {entry.id for entry in day.entries}
    judges = {judge.id for judge in day.judges}
    for sheet in day.sheets:
        where = f"sheet of {sheet.judge} for {sheet.entry}"
        if sheet.entry not in entries:
            raise InputError(where, f'"{sheet.entry}" is no entry of this contest')
        if sheet.judge not in judges:
            raise InputError(where, f'"{sheet.judge}" is no judge of this contest')
