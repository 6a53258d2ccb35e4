"""Penalties of one band: what happened, why, what the rules make of it; given and taken away with a reason."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel, ConfigDict, Field

from judging.contest import penalty_said
from judging.contest.values import Entry
from judging.errors import InputError
from judging.figures import figure
from judging.marks.penalties import PenaltyKind
from judging.marks.rules import MarksRules
from judging.web.judged import Judged

_LONGEST = 200


class PenaltyForm(BaseModel):
    """One penalty as it is given or taken away."""

    model_config = ConfigDict(extra="forbid")

    kind: str = Field(max_length=40)
    count: str = Field(default="", max_length=20)
    changes: str = Field(default="", max_length=20)
    why: str = Field(default="", max_length=_LONGEST)
    do: str = Field(default="give", max_length=10)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of penalty.

    Parameters
    ----------
    name : str
        As the rules call it, or ``"disqualified"``, ``"not completed"``, ``"withdrawn"``.
    field : str
        Of an entry.
    label : str
        Beside the number; empty where a reason alone says it.
    changes : bool
        Whether it is also asked after how many changes.
    """

    name: str
    field: str
    label: str = ""
    changes: bool = False

    @property
    def is_counted(self) -> bool:
        """Whether it has a number."""
        return bool(self.label)


#: Every kind; those below the rules' own are decided by people and need no key in the rules.
KINDS = (
    Kind("borrowed ringers", "borrowed", "How many"),
    Kind("restart", "restarts", "How often", changes=True),
    Kind("missing rows", "missing_rows", "How many"),
    Kind("over time", "over_time_s", "Seconds over the time"),
    Kind("wrong method", "wrong_method"),
    Kind("novice handicap", "experienced", "Experienced ringers"),
    Kind("not completed", "unfinished"),
    Kind("disqualified", "disqualified"),
    Kind("withdrawn", "withdrawn"),
)


@dataclass(frozen=True, slots=True)
class PenaltyLine:
    """One kind of penalty as the page shows it for a band.

    Parameters
    ----------
    kind : Kind
        Which.
    count, changes, why : str
        As reported now; empty where it is not so.
    rule : str
        What the rules say it costs.
    """

    kind: Kind
    count: str
    changes: str
    why: str
    rule: str

    @property
    def is_given(self) -> bool:
        """Whether it is so now."""
        return bool(self.count if self.kind.is_counted else self.why)


def penalty_lines(entry: Entry, rules: MarksRules) -> tuple[PenaltyLine, ...]:
    """Return every kind of penalty with what is reported of a band."""
    return tuple(_line(kind, entry, rules) for kind in KINDS)


def footnotes_of(entry: Entry, judged: Judged) -> tuple[str, ...]:
    """Return what penalties make of a band's figures now, as the results sheet prints it; empty before a result."""
    return tuple(dict.fromkeys(_footnotes(entry, judged)))


def read_penalty(form: PenaltyForm, entry: Entry) -> tuple[dict[str, Any], str]:
    """Return what a form changes of an entry, by field, and the reason for the trail.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    kind = next((kind for kind in KINDS if kind.name == form.kind), None)
    if kind is None:
        raise InputError("kind", f'"{form.kind}" is no penalty')
    why = " ".join(form.why.split())
    if not why:
        raise InputError("why", "is empty; a penalty is given, and taken away, with a reason")
    others = [cause for cause in entry.causes if not cause.startswith(f"{kind.name}:")]
    if form.do == "take away":
        taken: dict[str, Any] = {kind.field: _nothing(kind), "causes": tuple(others)}
        return (taken | {"restart_changes": 0} if kind.changes else taken), why
    if not kind.is_counted:
        return {kind.field: why}, why
    changed: dict[str, Any] = {kind.field: _whole(form.count, "count")}
    if kind.changes:
        changed["restart_changes"] = _whole(form.changes, "changes") if form.changes.strip() else 0
    if not changed[kind.field] and kind.field != "experienced":
        raise InputError("count", "is 0; take the penalty away instead")
    if kind.field == "over_time_s":
        changed[kind.field] = float(changed[kind.field])
    return {**changed, "causes": (*others, f"{kind.name}: {why}")}, why


def _line(kind: Kind, entry: Entry, rules: MarksRules) -> PenaltyLine:
    value = getattr(entry, kind.field)
    declared = [penalty for penalty in rules.penalties if penalty.kind == kind.name]
    cause = next((cause for cause in entry.causes if cause.startswith(f"{kind.name}:")), "")
    if kind.name in get_args(PenaltyKind):
        rule = " ".join(penalty_said(penalty, rules) for penalty in declared) or "By the rules it costs nothing."
    else:
        rule = "The band takes no place."
    counted = f"{value:g}" if kind.is_counted and value is not None and (value or kind.field == "experienced") else ""
    return PenaltyLine(
        kind,
        count=counted,
        changes=str(entry.restart_changes or "") if kind.changes else "",
        why=cause.partition(":")[2].strip() if kind.is_counted else value,
        rule=rule,
    )


def _footnotes(entry: Entry, judged: Judged) -> Iterator[str]:
    names = {judge.id: judge.name for judge in judged.day.judges}
    for result in judged.outcome.results:
        for placed in result.places:
            if placed.entry == entry.id:
                for step in placed.adjustments:
                    whose = f"{names.get(step.judge, step.judge)}: " if step.judge else ""
                    yield f"{whose}{step.rule}: {figure(step.before)} became {figure(step.after)}"
                if placed.place is None:
                    yield from placed.reasons


def _nothing(kind: Kind) -> object:
    if not kind.is_counted:
        return ""
    return None if kind.field == "experienced" else 0.0 if kind.field == "over_time_s" else 0


def _whole(text: str, field: str) -> int:
    text = text.strip()
    if not (text.isascii() and text.isdecimal() and len(text) <= 6):
        raise InputError(field, f'"{text[:20]}" is not a whole number')
    return int(text)
