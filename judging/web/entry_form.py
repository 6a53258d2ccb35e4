"""A band's entry as the organiser types it, and the report of its ringing as the steward does: forms → fields.

Every field is text as it was typed, so that it can be shown again; readers say beside which field it cannot be.
"""

from collections.abc import Collection, Mapping
from typing import Any

from fastapi import UploadFile
from pydantic import BaseModel, ConfigDict, Field

from judging.contest.rules import RuleSet
from judging.contest.values import Entry
from judging.errors import InputError
from judging.store import StoredEntry
from judging.store.columns import utc_now

#: Longest name of a band and of a reason.
_LONGEST = 200

_MOST_TABLE_BYTES = 500_000


class ReportForm(BaseModel):
    """What the steward reports of a band's ringing; what it costs is a rule of the contest."""

    model_config = ConfigDict(extra="forbid")

    over_time_s: str = Field(default="", max_length=20)
    restarts: str = Field(default="", max_length=20)
    restart_changes: str = Field(default="", max_length=20)
    missing_rows: str = Field(default="", max_length=20)
    wrong_method: str = Field(default="", max_length=_LONGEST)
    unfinished: str = Field(default="", max_length=_LONGEST)
    incidents: str = Field(default="", max_length=2000)


class EntryForm(BaseModel):
    """A band's entry."""

    model_config = ConfigDict(extra="forbid")

    band: str = Field(default="", max_length=_LONGEST)
    section: str = Field(default="", max_length=_LONGEST)
    borrowed: str = Field(default="", max_length=20)
    experienced: str = Field(default="", max_length=20)
    scratch: str = Field(default="", max_length=3)
    late: str = Field(default="", max_length=3)
    also_in: list[str] = Field(default=[], max_length=50)
    piece: str = Field(default="", max_length=_LONGEST)
    withdrawn: str = Field(default="", max_length=_LONGEST)
    disqualified: str = Field(default="", max_length=_LONGEST)
    remarks: str = Field(default="", max_length=2000)
    reason: str = Field(default="", max_length=_LONGEST)
    another: str = Field(default="", max_length=3)


REPORT_FIELDS = tuple(ReportForm.model_fields)
ENTRY_FIELDS = tuple(EntryForm.model_fields)


class TurnForm(BaseModel):
    """What the steward sees of a band's turn."""

    model_config = ConfigDict(extra="forbid")

    turn: str = Field(default="", max_length=20)


REPORT_HINTS = {
    "over_time_s": "In seconds; empty where it was within the time.",
    "restarts": "How often the touch was begun again.",
    "restart_changes": "Changes rung before it was begun again.",
    "missing_rows": "Rows of the test piece that were not rung.",
    "wrong_method": "What was wrong with the method or its truth; empty where nothing was.",
    "unfinished": "Why the piece was not completed, such as a fire-out; the band then takes no place.",
    "incidents": "Such as a ringer substituted or a fire-out put right. For the organiser; no names.",
}

ENTRY_HINTS = {
    "borrowed": "How many ringers are borrowed.",
    "experienced": "How many ringers are experienced, where the rules handicap by it.",
    "withdrawn": "Why; empty where the band rings.",
    "disqualified": "Why; empty where it is not.",
    "remarks": "For the organiser alone.",
    "also_in": "With the same ringing.",
    "piece": "Where it is not the section’s.",
    "reason": "Why the entry is changed; kept in the trail.",
}


def read_report(form: ReportForm) -> dict[str, Any]:
    """Return what is reported, by field of an entry.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    return {
        "over_time_s": float(_whole(form.over_time_s, "over_time_s", most=86_400)),
        "restarts": _whole(form.restarts, "restarts", most=99),
        "restart_changes": _whole(form.restart_changes, "restart_changes", most=100_000),
        "missing_rows": _whole(form.missing_rows, "missing_rows", most=100_000),
        "wrong_method": form.wrong_method.strip(),
        "unfinished": form.unfinished.strip(),
        "incidents": form.incidents.strip(),
    }


def read_entry(form: EntryForm, rules: RuleSet, pieces: Collection[str] = ()) -> dict[str, Any]:
    """Return what is entered, by field of an entry.

    Parameters
    ----------
    form : EntryForm
        As typed.
    rules : RuleSet
        Its sections, and whether a late band rings.
    pieces : collection of str
        Test pieces there are.

    Returns
    -------
    dict
        By field of `judging.contest.Entry`.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    band = " ".join(form.band.split())
    if not band:
        raise InputError("band", "is empty; a band enters under its name")
    sections = [section.name for section in rules.sections]
    if form.section not in sections and len(sections) > 1:
        raise InputError("section", f'"{form.section}" is no section of the rules')
    section = form.section if form.section in sections else sections[0]
    strange = set(form.also_in) - set(sections)
    if strange or section in form.also_in:
        raise InputError("also_in", f'"{min(strange or {section})[:80]}" is no further section of the rules')
    if form.piece and form.piece not in pieces:
        raise InputError("piece", f'"{form.piece[:80]}" is no test piece of this contest')
    if form.late == "yes" and rules.late == "refused":
        raise InputError("late", "is not possible: by the rules a band that is late does not ring")
    return {
        "band": band,
        "section": section,
        "also_in": tuple(name for name in sections if name in form.also_in),
        "piece": form.piece,
        "late": form.late == "yes",
        "borrowed": _whole(form.borrowed, "borrowed", most=16),
        "experienced": _whole(form.experienced, "experienced", most=16) if form.experienced.strip() else None,
        "scratch": form.scratch == "yes",
        "withdrawn": form.withdrawn.strip(),
        "disqualified": form.disqualified.strip(),
        "remarks": form.remarks.strip(),
    }


def read_turn(form: TurnForm, entry: StoredEntry) -> dict[str, Any]:
    """Return what a band's turn changes of its entry; the same said twice changes no time.

    Raises
    ------
    InputError
        There is no such turn.
    """
    now = utc_now()
    turns: dict[str, dict[str, Any]] = {
        "practises": {"practice_began_at": entry.practice_began_at or now, "practice_ended_at": None},
        "has practised": {
            "practice_began_at": entry.practice_began_at or now,
            "practice_ended_at": entry.practice_ended_at or now,
        },
        "begins": {"began_at": entry.began_at or now, "ended_at": None},
        "has rung": {"began_at": entry.began_at or now, "ended_at": entry.ended_at or now},
        "has not begun": dict.fromkeys(("practice_began_at", "practice_ended_at", "began_at", "ended_at")),
    }
    if form.turn not in turns:
        raise InputError("turn", f'"{form.turn}" is none of {", ".join(turns)}')
    return turns[form.turn]


def read_table(file: UploadFile) -> str:
    """Return the text of a table of entries.

    Raises
    ------
    InputError
        About ``table``.
    """
    if not file.filename:
        raise InputError("table", "is not chosen; it is a CSV file, as a spreadsheet exports it")
    data = file.file.read(_MOST_TABLE_BYTES + 1)
    if len(data) > _MOST_TABLE_BYTES:
        raise InputError("table", f"is larger than {_MOST_TABLE_BYTES:,} bytes; is it the right file")
    for encoding in ("utf-8-sig", "cp1252"):  # the second is what older spreadsheets write
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError("table", "is no text file; was a spreadsheet saved without exporting it as CSV")


def typed_of(entry: Entry, names: tuple[str, ...]) -> dict[str, str]:
    """Return an entry's fields as they would be typed; noughts and nothings are left empty, lists one a line."""
    return {name: _typed(getattr(entry, name)) for name in names if hasattr(entry, name)}


def typed_form(form: BaseModel) -> Mapping[str, str]:
    """Return a form as it was typed; lists one a line."""
    return {name: _typed(value) for name, value in form.model_dump().items()}


def _typed(value: object) -> str:
    if value is True:
        return "yes"
    if isinstance(value, (tuple, list)):
        return "\n".join(value)
    if not value:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def _whole(text: str, field: str, *, most: int) -> int:
    text = text.strip()
    if not text:
        return 0
    if not (text.isascii() and text.isdecimal() and int(text) <= most):
        raise InputError(field, f'"{text[:20]}" is not a whole number up to {most:,}')
    return int(text)
