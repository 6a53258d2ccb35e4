"""ENTRIES.TOML → ENTRIES: one ``[[entry]]`` a band, each key documented."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import get_args

from judging.contest.rules import RuleSet, check_identifier
from judging.contest.tables import Key, Table, parse, refuse_unknown, tables
from judging.contest.values import Entry
from judging.errors import InputError
from judging.marks.penalties import PenaltyKind

_ZERO = Decimal(0)
_LONGEST_BAND = 200

#: Every key of an ``[[entry]]``.
ENTRY = (
    Key(
        "[entry]", "id", "text", None, "Identifier: names the recording, the log and the sheets' lines.", required=True
    ),
    Key(
        "[entry]",
        "band",
        "text",
        None,
        "The band's name, which judges do not see before the result is final.",
        required=True,
    ),
    Key("[entry]", "section", "text", "", "Section it rings in; may be left out where there is only one."),
    Key("[entry]", "also_in", "list of text", (), "Further sections in which it stands with the same ringing."),
    Key("[entry]", "piece", "text", "", "Identifier of its test piece; the section's where it is left out."),
    Key("[entry]", "scratch", "yes or no", False, "Judged, but takes no place."),
    Key("[entry]", "late", "yes or no", False, "Incomplete at the draw: rings after those that were drawn."),
    Key("[entry]", "borrowed", "whole number", 0, "How many borrowed ringers.", least=_ZERO, most=Decimal(16)),
    Key("[entry]", "experienced", "whole number", None, "How many experienced ringers.", least=_ZERO, most=Decimal(16)),
    Key("[entry]", "withdrawn", "text", "", "Why it is withdrawn."),
    Key("[entry]", "disqualified", "text", "", "Why it is disqualified."),
    Key("[entry]", "unfinished", "text", "", "Why the piece was not completed; it takes no place."),
    Key("[entry]", "wrong_method", "text", "", "What was wrong with the method, as the steward reports."),
    Key("[entry]", "over_time_s", "number", _ZERO, "By how many seconds the time allowed was exceeded.", least=_ZERO),
    Key("[entry]", "restarts", "whole number", 0, "How often the touch was begun again.", least=_ZERO),
    Key("[entry]", "restart_changes", "whole number", 0, "Changes rung before it was begun again.", least=_ZERO),
    Key("[entry]", "missing_rows", "whole number", 0, "Rows of the test piece that were not rung.", least=_ZERO),
    Key("[entry]", "may_be_recorded", "yes or no", True, "False where the band gave no consent: judged by ear only."),
    Key("[entry]", "conflicts", "list of text", (), "Judges, by identifier, who have to do with the band."),
    Key("[entry]", "causes", "list of text", (), 'Why a penalty was given, such as "over time: by the tower clock".'),
    Key("[entry]", "remarks", "text", "", "For the organiser."),
)


def read_entries(text: str, *, name: str, rules: RuleSet | None = None) -> tuple[Entry, ...]:
    """Entries from the text of an ``entries.toml``.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.
    rules : RuleSet or None
        Where given, sections are checked against it, and the test piece is filled in from the section.

    Returns
    -------
    tuple of Entry
        In the order of the file, which is the order in which they were received.

    Raises
    ------
    InputError
        Naming file, entry, key and value.
    """
    raw = parse(text, name=name)
    for key in raw:
        if key != "entry":
            refuse_unknown(key, {"entry": None}, name)
    entries: list[Entry] = []
    for where, item in tables(raw, "entry", name):
        row = Table(item, ENTRY, where)
        entry = _read(row, where)
        for known in entries:
            if known.id == entry.id:
                row.refuse("id", f'"{entry.id}" is there twice')
            if known.band.casefold() == entry.band.casefold():
                row.refuse(
                    "band",
                    f'"{entry.band}" is there twice; a band enters once and stands in several sections by also_in',
                )
        entries.append(entry if rules is None else _in_its_section(entry, rules, row))
    if not entries:
        raise InputError(name, "there is no entry; head each with [[entry]]")
    return tuple(entries)


def read_entry(item: Mapping[str, object], where: str, rules: RuleSet | None = None) -> Entry:
    """One entry from its keys and values, as TOML gives them.

    Parameters
    ----------
    item : mapping of str to object
        By key of `ENTRY`.
    where : str
        File and place, for messages.
    rules : RuleSet or None
        As for `read_entries`.

    Returns
    -------
    Entry

    Raises
    ------
    InputError
        Naming place, key and value.
    """
    row = Table(item, ENTRY, where)
    entry = _read(row, where)
    return entry if rules is None else _in_its_section(entry, rules, row)


def _read(row: Table, where: str) -> Entry:
    band = row.text("band")
    if not band or len(band) > _LONGEST_BAND:
        row.refuse("band", f"{len(band)} characters; a name has from 1 to {_LONGEST_BAND}")
    if "\n" in band or "\t" in band:
        row.refuse("band", "a name stands on one line, without tabs")
    if row.whole("restart_changes") and not row.whole("restarts"):
        row.refuse("restart_changes", "it says how much was rung before a restart, but restarts is 0")
    return Entry(
        id=check_identifier(row.text("id"), f"{where}, id"),
        band=band,
        section=row.text("section"),
        also_in=row.texts("also_in"),
        piece=row.text("piece"),
        scratch=row.flag("scratch"),
        late=row.flag("late"),
        borrowed=row.whole("borrowed"),
        experienced=row.whole_or_none("experienced"),
        withdrawn=row.text("withdrawn"),
        disqualified=row.text("disqualified"),
        unfinished=row.text("unfinished"),
        wrong_method=row.text("wrong_method"),
        over_time_s=float(row.number("over_time_s")),
        restarts=row.whole("restarts"),
        restart_changes=row.whole("restart_changes"),
        missing_rows=row.whole("missing_rows"),
        may_be_recorded=row.flag("may_be_recorded"),
        conflicts=row.texts("conflicts"),
        causes=_causes(row),
        remarks=row.text("remarks"),
    )


def _causes(row: Table) -> tuple[str, ...]:
    """Causes of penalties, each of a kind that there is, one a kind."""
    causes = row.texts("causes")
    kinds = [cause.partition(":")[0] for cause in causes]
    for kind, cause in zip(kinds, causes, strict=True):
        if kind not in get_args(PenaltyKind) or not cause.partition(":")[2].strip() or kinds.count(kind) > 1:
            row.refuse("causes", f'"{cause[:80]}" is no kind of penalty, a colon and why, once for each kind')
    return causes


def _in_its_section(entry: Entry, rules: RuleSet, row: Table) -> Entry:
    names = [section.name for section in rules.sections]
    home = entry.section or (names[0] if len(names) == 1 else "")
    for key, section in (("section", home), *(("also_in", other) for other in entry.also_in)):
        if section not in names:
            row.refuse(key, f'"{section}" is no section of the rules; they have ' + ", ".join(f'"{n}"' for n in names))
    for judge in entry.conflicts:
        if judge not in {known.id for known in rules.judges}:
            row.refuse("conflicts", f'"{judge}" is no judge of the rules')
    if entry.late and rules.late == "refused":
        row.refuse("late", "by the rules a band that is late does not ring")
    piece = entry.piece or rules.section(home).piece
    return replace(entry, section=home, piece=piece)
