"""Forms: what was typed, what is wrong with it and beside which field, and the values that it makes.

Readers raise `InputError` whose ``where`` is the field's name, so that its message can stand beside the field.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from judging.contest.sheets import check_figure
from judging.errors import InputError, RuleError
from judging.marks.lines import change_of, check_lines, makes_up_the_total, most_a_tap
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Sheet, Tap

#: Longest text of a field; a comment of a page or two.
MOST_CHARACTERS = 5000

#: More lines than a judge can tick in the longest touch.
MOST_TAPS = 6000


class Texts(dict[str, str]):
    """Texts by field, empty for any other field."""

    def __missing__(self, key: str) -> str:
        """Return nothing, and note nothing."""
        return ""


@dataclass(frozen=True, slots=True)
class Form:
    """A form as it is shown.

    Parameters
    ----------
    typed : mapping of str to str
        What stands in each field.
    wrong : mapping of str to str
        What is wrong, by field; a field of no such name shows it above the form.
    hints : mapping of str to str
        What helps to fill a field in.
    """

    typed: Mapping[str, str] = field(default_factory=Texts)
    wrong: Mapping[str, str] = field(default_factory=Texts)
    hints: Mapping[str, str] = field(default_factory=Texts)


def form_of(
    typed: Mapping[str, str] | None = None,
    *,
    hints: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
    fields: tuple[str, ...] = (),
) -> Form:
    """Return a form with what was typed kept and its error beside the field it is about.

    Parameters
    ----------
    typed, hints : mapping of str to str or None
        By field.
    error : InputError or RuleError or None
        What is wrong.
    fields : tuple of str
        Names of the form's fields; an error about anything else stands above the form, under ``form``.

    Returns
    -------
    Form
    """
    wrong = Texts()
    if error is not None:
        where = error.where if isinstance(error, InputError) and error.where in fields else "form"
        problem = error.problem if isinstance(error, InputError) and where != "form" else str(error)
        wrong[where] = f"{problem[:1].upper()}{problem[1:]}{'' if problem.endswith(('.', '?', '!')) else '.'}"
    return Form(typed=Texts(typed or {}), wrong=wrong, hints=Texts(hints or {}))


class SheetForm(BaseModel):
    """A judge's sheet as it is typed."""

    model_config = ConfigDict(extra="forbid")

    total: str = Field(default="", max_length=40)
    taps: str = Field(default="", max_length=200_000)
    criteria: list[Annotated[str, Field(max_length=40)]] = Field(default=[], max_length=100)
    comment: str = Field(default="", max_length=MOST_CHARACTERS)
    reason: str = Field(default="", max_length=500)


class PhaseForm(BaseModel):
    """Where a contest shall go, and where it was when that was decided."""

    model_config = ConfigDict(extra="forbid")

    to: str = Field(max_length=40)
    seen_at: str = Field(default="", max_length=40)
    reason: str = Field(default="", max_length=500)


class InterestsForm(BaseModel):
    """Towers and bands that a judge has to do with."""

    model_config = ConfigDict(extra="forbid")

    belongs_to: str = Field(default="", max_length=MOST_CHARACTERS)


class LinkForm(BaseModel):
    """For whom a personal link is made."""

    model_config = ConfigDict(extra="forbid")

    holder: str = Field(max_length=120)
    note: str = Field(default="", max_length=200)


class ConsentForm(BaseModel):
    """Whether a band agrees to be recorded."""

    model_config = ConfigDict(extra="forbid")

    consent: str = Field(max_length=20)


class JoinForm(BaseModel):
    """What becomes of a recording that was made in slices."""

    model_config = ConfigDict(extra="forbid")

    slices: int = Field(default=0, ge=0, le=1_000_000)
    what: Literal["join", "forget"] = "join"


def read_sheet(form: SheetForm, *, judge: str, entry: str, rules: Sheets) -> Sheet:
    """Return the sheet that a form holds.

    Parameters
    ----------
    form : SheetForm
        As typed; a total, or lines of faults, or both if they agree.
    judge, entry : str
        Whose sheet for whom.
    rules : Sheets
        Its unit, step and limit.

    Returns
    -------
    Sheet

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    taps = read_criteria(form.criteria, rules) if rules.criteria else read_taps(form.taps, rules)
    adds_up = rules.lower_is_better or makes_up_the_total(rules)
    if form.total.strip():
        total = number_typed(form.total, "total")
        counted = sum((tap.faults for tap in taps), Decimal(0))
        if taps and adds_up and counted != total:  # elsewhere lines hold faults, and a mark is not their sum
            raise InputError("total", f"is {total}, but the lines below add up to {counted}; which of the two is meant")
    elif taps and adds_up:
        total = sum((tap.faults for tap in taps), Decimal(0))
    else:
        blank = "write 0 for a sheet without a fault" if rules.lower_is_better else "write the mark"
        raise InputError("total", f"is empty; {blank}")
    try:
        check_figure(total, "total", rules)
    except InputError as error:
        raise InputError("total", error.problem) from error
    check_lines(taps, total, "taps", rules)
    return Sheet(judge, entry, total, taps, form.comment.strip(), reason=form.reason.strip())


def read_criteria(typed: Sequence[str], rules: Sheets) -> tuple[Tap, ...]:
    """Return the lines of an impression sheet, one for each declared criterion.

    Parameters
    ----------
    typed : sequence of str
        Figures in the order of the criteria.
    rules : Sheets
        With the criteria.

    Returns
    -------
    tuple of Tap

    Raises
    ------
    InputError
        About ``taps``, naming the criterion.
    """
    figures = [*typed, *("" for _ in rules.criteria)][: len(rules.criteria)]
    if not any(figure.strip() for figure in figures):
        return ()
    taps = []
    for number, (criterion, figure) in enumerate(zip(rules.criteria, figures, strict=True), 1):
        if not figure.strip():
            raise InputError("taps", f'"{criterion.name}" is empty; write 0 where nothing is given')
        taps.append(Tap(number, number_typed(figure, "taps", f"{criterion.name}: ")))
        if taps[-1].faults < 0:
            raise InputError("taps", f"{criterion.name}: {taps[-1].faults} is below 0")
        if taps[-1].faults % rules.step:
            raise InputError("taps", f"{criterion.name}: {taps[-1].faults} is finer than the step, {rules.step}")
    return tuple(taps)


def read_taps(text: str, rules: Sheets | None = None) -> tuple[Tap, ...]:
    """Return faults typed one a line: change, faults, and if known the seconds from the start.

    Parameters
    ----------
    text : str
        Such as ``"38 ½"``, ``"112 1 204.6"``; empty lines do not matter.
    rules : Sheets or None
        What a line is for; its number is that of a change, a whole pull or a block. None for changes.

    Returns
    -------
    tuple of Tap
        In the order of the lines.

    Raises
    ------
    InputError
        About ``taps``, naming the line.
    """
    lines = [
        (number, line.replace(",", " ").replace(":", " ").split()) for number, line in enumerate(text.splitlines(), 1)
    ]
    written = [(number, parts) for number, parts in lines if parts]
    if len(written) > MOST_TAPS:
        raise InputError("taps", f"hold {len(written)} lines, more than {MOST_TAPS}")
    return tuple(_tap(number, parts, rules or Sheets()) for number, parts in written)


def _tap(number: int, parts: list[str], rules: Sheets) -> Tap:
    line = f"line {number}"
    if len(parts) not in {2, 3}:
        raise InputError("taps", f'{line} has {len(parts)} words; a line is a change and its faults, such as "38 ½"')
    change, faults, *time = parts
    if not (change.isascii() and change.isdecimal() and 0 < int(change[:7]) < 10**6):
        raise InputError("taps", f'{line}: "{change[:20]}" is not the number of a change, which counts from 1')
    charged = number_typed(faults, "taps", f"{line}: ")
    most = most_a_tap(rules)
    if not 0 <= charged <= most:
        raise InputError("taps", f"{line}: {charged} is not from 0 to {most} {rules.unit}")
    time_s = float(number_typed(time[0], "taps", f"{line}: ")) if time else None
    if time_s is not None and not 0 <= time_s <= 86_400:
        raise InputError("taps", f"{line}: {time_s:g} is no time in seconds within a day")
    return Tap(change_of(int(change), rules), charged, time_s)


def number_typed(text: str, where: str, said: str = "") -> Decimal:
    """Return a number as people write it: 18½, 18.5 or 18,5.

    Raises
    ------
    InputError
        It is no number, or none that a sheet can hold.
    """
    plain = text.strip().replace(",", ".")
    if plain.endswith("½"):
        plain = f"{plain[:-1] or '0'}.5"
    try:
        number = Decimal(plain)
    except InvalidOperation:
        raise InputError(where, f'{said}"{text.strip()[:40]}" is not a number; write halves as ½ or .5') from None
    if not number.is_finite() or abs(number) >= 10**9 or len(plain) > 20:
        raise InputError(where, f'{said}"{text.strip()[:40]}" is not a number that a sheet can hold')
    return number
