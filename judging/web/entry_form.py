"""A band's entry as the organiser types it, and the report of its ringing as the steward does: forms → fields.

Every field is text as it was typed, so that it can be shown again; readers say beside which field it cannot be.
"""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from judging.contest.rules import RuleSet
from judging.contest.values import Entry
from judging.errors import InputError

#: Longest name of a band and of a reason.
_LONGEST = 200


class ReportForm(BaseModel):
    """What the steward reports of a band's ringing; what it costs is a rule of the contest."""

    model_config = ConfigDict(extra="forbid")

    over_time_s: str = Field(default="", max_length=20)
    restarts: str = Field(default="", max_length=20)
    restart_changes: str = Field(default="", max_length=20)
    missing_rows: str = Field(default="", max_length=20)
    wrong_method: str = Field(default="", max_length=_LONGEST)
    unfinished: str = Field(default="", max_length=_LONGEST)


class EntryForm(BaseModel):
    """A band's entry."""

    model_config = ConfigDict(extra="forbid")

    band: str = Field(default="", max_length=_LONGEST)
    section: str = Field(default="", max_length=_LONGEST)
    borrowed: str = Field(default="", max_length=20)
    experienced: str = Field(default="", max_length=20)
    scratch: str = Field(default="", max_length=3)
    withdrawn: str = Field(default="", max_length=_LONGEST)
    disqualified: str = Field(default="", max_length=_LONGEST)
    remarks: str = Field(default="", max_length=2000)
    reason: str = Field(default="", max_length=_LONGEST)


REPORT_FIELDS = tuple(ReportForm.model_fields)
ENTRY_FIELDS = tuple(EntryForm.model_fields)

REPORT_HINTS = {
    "over_time_s": "In seconds; empty where it was within the time.",
    "restarts": "How often the touch was begun again.",
    "restart_changes": "Changes rung before it was begun again.",
    "missing_rows": "Rows of the test piece that were not rung.",
    "wrong_method": "What was wrong with the method or its truth; empty where nothing was.",
    "unfinished": "Why the piece was not completed, such as a fire-out; the band then takes no place.",
}

ENTRY_HINTS = {
    "borrowed": "How many ringers are borrowed.",
    "experienced": "How many ringers are experienced, where the rules handicap by it.",
    "withdrawn": "Why; empty where the band rings.",
    "disqualified": "Why; empty where it is not.",
    "remarks": "For the organiser alone.",
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
    }


def read_entry(form: EntryForm, rules: RuleSet) -> dict[str, Any]:
    """Return what is entered, by field of an entry.

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
    return {
        "band": band,
        "section": form.section if form.section in sections else sections[0],
        "borrowed": _whole(form.borrowed, "borrowed", most=16),
        "experienced": _whole(form.experienced, "experienced", most=16) if form.experienced.strip() else None,
        "scratch": form.scratch == "yes",
        "withdrawn": form.withdrawn.strip(),
        "disqualified": form.disqualified.strip(),
        "remarks": form.remarks.strip(),
    }


def typed_of(entry: Entry, names: tuple[str, ...]) -> dict[str, str]:
    """Return an entry's fields as they would be typed; noughts and nothings are left empty."""
    return {name: _typed(getattr(entry, name)) for name in names if hasattr(entry, name)}


def _typed(value: object) -> str:
    if value is True:
        return "yes"
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
