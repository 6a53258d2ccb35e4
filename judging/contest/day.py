"""CONTEST DAY → OUTCOME: every log counted, every section ranked. Pure: the same day always gives the same outcome."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

from judging.contest.conflicts import sheets_that_count
from judging.contest.declared import RuleSet, Section
from judging.contest.machine import count_spread, counts_if_moved, why_unfit
from judging.contest.values import ContestDay, Entry, Outcome
from judging.errors import InputError, NothingHeard
from judging.marks.panel import prepare, shown_machine_figures
from judging.marks.ranking import rank_prepared
from judging.marks.safety import how_safe, with_safety
from judging.marks.values import Entrant, Result, Safety
from judging.piece.piece import Piece
from judging.striking.counting import count_striking
from judging.striking.installation import FEWEST_BANDS, installation_of, without_delays
from judging.striking.rules import CountingRules
from judging.striking.silent_notes import note_map
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count


class Counter(Protocol):
    """Counts a band's striking as `count_striking` does, or remembers how it did."""

    def __call__(self, log: StrikeLog, piece: Piece, rules: CountingRules, *, name: str = "") -> Count:
        """Return the count; raise NothingHeard where there is none."""
        ...


@dataclass(frozen=True, slots=True)
class _Heard:
    """What the machine made of the day."""

    counts: dict[str, Count] = field(default_factory=dict)
    uncounted: dict[str, str] = field(default_factory=dict)


def judge_contest(day: ContestDay, *, count: Counter = count_striking) -> Outcome:
    """Count every log and rank every section.

    Parameters
    ----------
    day : ContestDay
        Everything the contest holds.
    count : Counter, optional
        Where somebody remembers counts made before.

    Returns
    -------
    Outcome
        A log that holds no ringing of its piece gives no count; why is said in ``uncounted``.

    Raises
    ------
    InputError
        For a sheet that cannot be, a gap that the rules refuse, an entry in no section, or a missing piece.
    """
    _check_sheets(day)
    heard = _count_all(day, count)
    entrants = {entry.id: entrant_of(entry, _piece_if_there(entry, day)) for entry in day.entries}
    totals = {entry: count.beside_judges for entry, count in heard.counts.items()}
    ranked = [_rank_section(section, day, heard) for section in day.rules.sections]
    return Outcome(
        counts=heard.counts,
        results=tuple(result for result, _ in ranked),
        safeties=tuple(safety for _, safety in ranked),
        machine_counts=shown_machine_figures(totals, entrants, day.rules.marks),
        uncounted=heard.uncounted,
    )


def piece_of(entry: Entry, day: ContestDay) -> Piece:
    """Test piece of an entry: its own, or its section's.

    Raises
    ------
    InputError
        Where it is not among the pieces.
    """
    return day.pieces[piece_name_of(entry, day)]


def piece_name_of(entry: Entry, day: ContestDay) -> str:
    """Identifier of an entry's test piece, which is among the pieces.

    Raises
    ------
    InputError
        Where it is not among them.
    """
    name = entry.piece or home_of(entry, day.rules).piece
    if not name and len(day.pieces) == 1:
        return next(iter(day.pieces))
    if name not in day.pieces:
        known = ", ".join(sorted(day.pieces)) or "none"
        wrong = f'"{name}" is not among the test pieces' if name else "neither it nor its section names one of them"
        raise InputError(f"entry {entry.id}, piece", f"{wrong} ({known})")
    return name


def home_of(entry: Entry, rules: RuleSet) -> Section:
    """Section in which an entry rings.

    Raises
    ------
    InputError
        Where it names none that the rules have.
    """
    if not entry.section and len(rules.sections) == 1:
        return rules.sections[0]
    for section in rules.sections:
        if section.name == entry.section:
            return section
    raise InputError(f"entry {entry.id}, section", f'"{entry.section}" is no section of the rules')


def notes_of(entry: Entry, rules: RuleSet, *, bells: int) -> Mapping[int, int] | None:
    """Bell of each note in an entry's strike log, if that is a MIDI file; None where its section declares none.

    Raises
    ------
    InputError
        Where there is not one note for each bell of its piece.
    """
    section = home_of(entry, rules)
    if not section.notes:
        return None
    return note_map(section.notes, bells=bells, where=f'section "{section.name}", notes')


def entries_in(day: ContestDay, section: str) -> tuple[Entry, ...]:
    """Entries that stand in a section, ringing in it or in another; all of them where there is only one section."""
    if len(day.rules.sections) == 1:
        return day.entries
    return tuple(entry for entry in day.entries if section in {home_of(entry, day.rules).name, *entry.also_in})


def entrants_in(day: ContestDay, section: Section) -> tuple[Entrant, ...]:
    """What the arithmetic must know about a section's entries, under the section's own limits."""
    return tuple(
        _in_section(entrant_of(entry, _piece_if_there(entry, day)), section) for entry in entries_in(day, section.name)
    )


def entrant_of(entry: Entry, piece: Piece | None = None) -> Entrant:
    """Return what the arithmetic must know about an entry; the band's name stays behind.

    Parameters
    ----------
    entry : Entry
        As entered, with what the steward reported.
    piece : Piece or None
        Its test piece, for its length.

    Returns
    -------
    Entrant
        ``changes`` is None where the length is not fixed.
    """
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
        causes={kind: why.strip() for kind, _, why in (cause.partition(":") for cause in entry.causes)},
        changes=None if piece is None or piece.free_lengths else int(piece.is_change.sum()),
    )


def _piece_if_there(entry: Entry, day: ContestDay) -> Piece | None:
    """Piece that the entry or its section names; where neither does, the only one there is."""
    name = entry.piece or home_of(entry, day.rules).piece
    if not name and len(day.pieces) == 1:
        return next(iter(day.pieces.values()))
    return day.pieces.get(name)


def _count_all(day: ContestDay, count: Counter) -> _Heard:
    heard = _Heard()
    for entry in day.entries:
        if not entry.may_be_recorded:
            heard.uncounted[entry.id] = "no consent to a recording; judged by ear only"
        elif entry.id not in day.logs:
            heard.uncounted[entry.id] = "no strike log; judged by ear only"
        else:
            _count_one(entry, day, heard, count)
    if day.rules.marks.machine.tower_delays:
        _take_out_delays(day, heard, count)
    return heard


def _take_out_delays(day: ContestDay, heard: _Heard, counter: Counter) -> None:
    """Count every band again without what a tower does to all of them alike, and say so beside each count."""
    for bells in sorted({count.rung.piece.bells for count in heard.counts.values()}):
        mine = {entry: count for entry, count in heard.counts.items() if count.rung.piece.bells == bells}
        sound = [count for entry, count in mine.items() if entry not in heard.uncounted]
        if len(sound) < FEWEST_BANDS:
            told = (
                f"No delay of the tower was taken out: that needs {FEWEST_BANDS} bands on {bells} bells, and "
                f"{len(sound)} could be counted."
            )
            heard.counts.update({entry: _noted(count, told) for entry, count in mine.items()})
            continue
        tower = installation_of(sound)
        for entry, count in mine.items():
            log = without_delays(day.logs[entry], count.rung, tower)
            again = counter(log, piece_of(_entry(entry, day), day), day.rules.counting, name=entry)
            heard.counts[entry] = _noted(again, tower.sentence)


def _noted(count: Count, note: str) -> Count:
    return replace(count, notes=(*count.notes, note))


def _entry(name: str, day: ContestDay) -> Entry:
    return next(entry for entry in day.entries if entry.id == name)


def _count_one(entry: Entry, day: ContestDay, heard: _Heard, counter: Counter) -> None:
    try:
        count = counter(day.logs[entry.id], piece_of(entry, day), day.rules.counting, name=entry.id)
    except NothingHeard as error:
        heard.uncounted[entry.id] = error.problem
        return
    heard.counts[entry.id] = count
    why = why_unfit(count, entry, day.rules)
    if why:
        heard.uncounted[entry.id] = why


def _rank_section(section: Section, day: ContestDay, heard: _Heard) -> tuple[Result, Safety | None]:
    rules = day.rules.marks
    here = entrants_in(day, section)
    ids = {entrant.id for entrant in here}
    counts = {entry: count for entry, count in heard.counts.items() if entry in ids}
    prepared = prepare(
        here,
        [sheet for sheet in sheets_that_count(day.sheets, day.entries, day.rules.conflict) if sheet.entry in ids],
        rules,
        judges=panel_of(day, section),
        machine={entry: count.beside_judges for entry, count in counts.items()},
        unfit=heard.uncounted,
    )
    result = rank_prepared(
        prepared, rules, section=section.name, fingerprint=day.rules.fingerprint, revision=day.revision
    )
    has_voice = rules.machine.part == "voice"
    safety = how_safe(
        prepared,
        result,
        rules,
        machine_spread={entry: count_spread(count, day.rules.counting) for entry, count in counts.items()},
        machine_moved={entry: counts_if_moved(count, day.rules) for entry, count in counts.items() if has_voice},
    )
    return with_safety(result, safety), safety


def panel_of(day: ContestDay, section: Section) -> tuple[str, ...]:
    """Identifiers of a section's judges: those declared for it, otherwise all."""
    return section.judges or tuple(judge.id for judge in day.judges)


def _in_section(entrant: Entrant, section: Section) -> Entrant:
    """Entrant under the section's own limit of borrowed ringers."""
    if section.most_borrowed is None or entrant.borrowed <= section.most_borrowed:
        return entrant
    allowed = "none is" if section.most_borrowed == 0 else f"at most {section.most_borrowed} are"
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
