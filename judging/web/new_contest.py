"""A new contest from usual rules: a preset, a test piece to begin from, and what only the organiser knows."""

import datetime as dt
import secrets
from collections.abc import Mapping

from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from judging.contest import PRESETS, fill_in, read_rules
from judging.errors import InputError
from judging.web.access import Visitor
from judging.web.contest_files import HINTS as FILE_HINTS
from judging.web.forms import Form, form_of
from judging.web.pages import page

#: Most judges of a contest; more than any district has asked.
MOST_JUDGES = 12

_LONGEST = 200

#: Test pieces to begin from, by what they are called: name and text of a piece file.
READY_PIECES: Mapping[str, tuple[str, str]] = {
    "Plain Bob Doubles, 120 changes, tenor covering": (
        "plain-bob-doubles.toml",
        """piece = 1
method = "Plain Bob Doubles"
cover = "tenor"
calling = "pppb"      # one letter a lead: p plain, b bob
repeat = 3
opening_rows = 8
closing_rows = 2
changes = 120
""",
    ),
    "Cambridge Surprise Major, a plain course of 224 changes": (
        "cambridge-major.toml",
        """piece = 1
method = "Cambridge Surprise Major"
opening_rows = 8
closing_rows = 2
changes = 224
""",
    ),
    "Call changes on six: Queens and back": (
        "queens-and-back.toml",
        """piece = 1
title = "Queens and back"
bells = 6
called = "up"
whole_pulls_each = "until the next call"
call_changes = ["2 to 3", "4 to 5", "2 to 5", "5 to 2", ["3 to 2", "5 to 4"]]
""",
    ),
    "Rounds on six, 60 whole pulls": (
        "rounds.toml",
        """piece = 1
title = "Rounds on six"
bells = 6
rows = ["Rounds"]
whole_pulls_each = 60
""",
    ),
}

HINTS = {
    "preset": "After the practice of district contests. Every figure can be changed until the rules are published.",
    "date": "May follow until the rules are published, as may the place.",
    "place": "Tower and village, as they are printed.",
    "district": "As it is printed above the contest’s name; may be left empty.",
    "judges": "One a line, as they are printed; a panel that gives one agreed sheet is one line.",
    "seed": "The order of ringing follows from it, and anyone can work it out again. It is published with the rules, "
    "before the draw; this one was made up by chance.",
    "piece": "It can be changed, or others added, until the rules are published.",
}


class PresetForm(BaseModel):
    """What a new contest from usual rules is made of."""

    model_config = ConfigDict(extra="forbid")

    preset: str = Field(default="", max_length=80)
    title: str = Field(default="", max_length=_LONGEST)
    district: str = Field(default="", max_length=_LONGEST)
    place: str = Field(default="", max_length=_LONGEST)
    date: str = Field(default="", max_length=20)
    judges: str = Field(default="", max_length=5000)
    seed: str = Field(default="", max_length=_LONGEST)
    piece: str = Field(default="", max_length=_LONGEST)
    then: str = Field(default="", max_length=20)


FIELDS = tuple(PresetForm.model_fields)


def preset_rules(form: PresetForm) -> str:
    """Return the text of the rules that a form asks for, read once to be sure of it.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    if form.preset not in PRESETS:
        raise InputError("preset", "is not chosen")
    title = " ".join(form.title.split())
    if not title:
        raise InputError("title", "is empty; the contest is called by it everywhere")
    judges = [" ".join(line.split()) for line in form.judges.splitlines() if line.strip()]
    if not judges:
        raise InputError("judges", "are missing; name at least one")
    if len(judges) > MOST_JUDGES:
        raise InputError("judges", f"are {len(judges)}, more than {MOST_JUDGES}")
    if len({judge.casefold() for judge in judges}) < len(judges):
        raise InputError("judges", "are not all different; one is there twice")
    if not form.seed.strip():
        raise InputError("seed", "is empty; without it there is no draw that anyone can run again")
    text = fill_in(
        PRESETS[form.preset],
        title=title,
        judges=judges,
        seed=" ".join(form.seed.split()),
        district=" ".join(form.district.split()),
        place=" ".join(form.place.split()),
        date=_date(form.date),
    )
    try:
        read_rules(text, name="rules")
    except InputError as error:
        key = "judges" if "[[judge]]" in error.where else error.where.rpartition(", ")[2]
        raise InputError(key if key in FIELDS else "form", error.problem if key in FIELDS else str(error)) from error
    return text


def new_piece_of(form: PresetForm) -> dict[str, str]:
    """Return the test piece chosen, by file name; none where it comes later.

    Raises
    ------
    InputError
        There is no such piece.
    """
    if not form.piece:
        return {}
    if form.piece not in READY_PIECES:
        raise InputError("piece", f'"{form.piece[:80]}" is none of those listed')
    name, text = READY_PIECES[form.piece]
    return {name: text}


def new_contest_page(
    visitor: Visitor,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | None = None,
    files: Form | None = None,
    status: int = 0,
) -> HTMLResponse:
    """Return the page of a new contest, with what was typed and what is wrong with it."""
    if typed is None:
        typed = {"seed": secrets.token_hex(5), "piece": next(iter(READY_PIECES))}
    return page(
        "new_contest.html",
        status=status or (200 if error is None else 422),
        viewer=visitor,
        presets=tuple(PRESETS),
        pieces=tuple(READY_PIECES),
        form=form_of(typed, hints=HINTS, error=error, fields=FIELDS),
        files=files or form_of(hints=FILE_HINTS),
    )


def _date(text: str) -> dt.date | None:
    if not text.strip():
        return None
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise InputError("date", f'"{text.strip()[:20]}" is no day; write it as 2027-06-19') from None
