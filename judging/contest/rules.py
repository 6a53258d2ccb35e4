"""RULES.TOML → THE DECLARED RULES: read, checked, and refused with what was probably meant."""

import datetime as dt
import re
from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, cast

from judging.contest import keys
from judging.contest.counting import COUNTING_TABLES, read_counting
from judging.contest.declared import (
    VERSION,
    Break,
    ConflictRule,
    Eligibility,
    LateRule,
    Protest,
    Public,
    RuleSet,
    Section,
    SwapRule,
)
from judging.contest.judge import Judge
from judging.contest.tables import Table, parse, refuse_unknown, table, tables
from judging.errors import InputError
from judging.marks.exact import Mode, Rounding
from judging.marks.penalties import Base, Penalty, PenaltyKind, PercentOf
from judging.marks.rules import Combining, Drop, MachinePart, MarksRules, MissingJudge, Part, Policy, TieRule, Ties
from judging.marks.sheet_rules import Criterion, Lines, Sheets, Unit
from judging.piece.lengths import LengthRule
from judging.striking import note_map

__all__ = ["Eligibility", "Protest", "Public", "RuleSet", "Section", "check_identifier", "read_judges", "read_rules"]

#: Finest mark where none is declared and 0.01 would make marks level that are not: half a fault in sixty moves a ratio
#: by less than that.
_STEPS: dict[Policy, Decimal] = {"ratio": Decimal("0.001"), "standard score": Decimal("0.001")}

#: The machine stands beside the judges under this name when it has a voice.
RESERVED_JUDGE = "machine"

_IDENTIFIER = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LONGEST_IDENTIFIER = 64


def read_rules(text: str, *, name: str) -> RuleSet:
    """Rules of a contest from the text of its ``rules.toml``.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Returns
    -------
    RuleSet
        Typed, checked, with its fingerprint.

    Raises
    ------
    InputError
        Naming file, table, key, value and what was probably meant.
    """
    raw = parse(text, name=name)
    top = _top(raw, name)
    judges, chief = _judges(raw, name)
    draw = Table(table(raw, "draw", name), keys.DRAW, f"{name}, [draw]")
    first_band = Table(table(raw, "timetable", name), keys.TIMETABLE, f"{name}, [timetable]").time_of_day("first_band")
    conflict = Table(table(raw, "conflict", name), keys.CONFLICT, f"{name}, [conflict]")
    try:
        return RuleSet(
            title=top.text("title"),
            district=top.text("district"),
            date=top.day("date"),
            place=top.text("place"),
            sections=_sections(raw, name, {judge.id for judge in judges}),
            judges=judges,
            draw_seed=draw.text("seed"),
            first_band=first_band,
            breaks=_breaks(raw, name, first_band),
            late=cast(LateRule, draw.choice("late")),
            swaps=cast(SwapRule, draw.choice("swaps")),
            conflict=cast(ConflictRule, conflict.choice("then")),
            protest=_protest(raw, name),
            eligibility=_eligibility(raw, name),
            public=_public(raw, name),
            counting=read_counting(raw, name=name),
            marks=_marks(raw, name, chief),
        )
    except InputError as error:
        if error.where.startswith(name):
            raise
        raise InputError(f"{name}, {error.where}", error.problem) from error


def read_judges(text: str, *, name: str) -> tuple[Judge, ...]:
    """Judges from the text of a ``rules.toml``.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Returns
    -------
    tuple of Judge
        In the order of the file; empty where it names none.

    Raises
    ------
    InputError
        For a judge without identifier or name, or one named twice.
    """
    return _judges(parse(text, name=name), name)[0]


def check_identifier(value: str, where: str) -> str:
    """Return an identifier, if it is one: lower-case letters, digits and single hyphens.

    Raises
    ------
    InputError
        Otherwise.
    """
    if not _IDENTIFIER.fullmatch(value) or len(value) > _LONGEST_IDENTIFIER:
        raise InputError(
            where,
            f'"{value[:80]}" is no identifier; it names files and addresses, so use lower-case letters, digits and '
            f"single hyphens, at most {_LONGEST_IDENTIFIER}",
        )
    return value


def _top(raw: Mapping[str, object], name: str) -> Table:
    known = {key.name for key in keys.TOP} | set(keys.TABLES) | set(COUNTING_TABLES)
    for key in raw:
        if key not in known:
            refuse_unknown(key, dict.fromkeys(known), name)
    top = Table({key.name: raw[key.name] for key in keys.TOP if key.name in raw}, keys.TOP, name)
    version = top.whole("rules")
    if version != VERSION:
        top.refuse("rules", f"{version} is not a version this program knows; it knows {VERSION}")
    return top


def _judges(raw: Mapping[str, object], name: str) -> tuple[tuple[Judge, ...], str]:
    judges: list[Judge] = []
    chiefs: list[str] = []
    for where, item in tables(raw, "judge", name):
        row = Table(item, keys.JUDGE, where)
        judge = Judge(check_identifier(row.text("id"), f"{where}, id"), row.text("name"))
        if judge.id == RESERVED_JUDGE:
            row.refuse("id", f'"{RESERVED_JUDGE}" is what the machine\'s count is called')
        if judge.id in {known.id for known in judges}:
            row.refuse("id", f'"{judge.id}" is there twice')
        judges.append(judge)
        if row.flag("chief"):
            chiefs.append(judge.id)
    if len(chiefs) > 1:
        raise InputError(f"{name}, [[judge]]", f"{' and '.join(chiefs)} are both chief; there is one at most")
    return tuple(judges), "".join(chiefs)


def _sections(raw: Mapping[str, object], name: str, judges: Collection[str]) -> tuple[Section, ...]:
    sections: list[Section] = []
    for where, item in tables(raw, "section", name):
        row = Table(item, keys.SECTION, where)
        section = Section(
            name=row.text("name"),
            piece=row.text("piece"),
            changes=row.whole_or_none("changes"),
            practice_minutes=row.number_or_none("practice_minutes"),
            slot_minutes=row.number_or_none("slot_minutes"),
            minutes_allowed=row.number_or_none("minutes_allowed"),
            most_borrowed=row.whole_or_none("most_borrowed"),
            eligibility=row.text("eligibility"),
            judges=row.texts("judges"),
            asks=LengthRule(
                least_changes=row.whole_or_none("least_changes"),
                most_changes=row.whole_or_none("most_changes"),
                true=row.flag("piece_is_true"),
                comes_round=row.flag("piece_comes_round"),
                every_bell_but_tenor_leads=row.flag("every_bell_leads"),
            ),
            notes=row.text("notes"),
        )
        if section.notes:  # on as many bells as there are notes; its pieces' bells are looked at with them
            note_map(section.notes, bells=section.notes.count(",") + 1, where=f"{where}, notes")
        least, most = section.asks.least_changes, section.asks.most_changes
        if least is not None and most is not None and least > most:
            row.refuse("most_changes", f"{most} is less than least_changes, {least}")
        if section.name in {known.name for known in sections}:
            row.refuse("name", f'"{section.name}" is there twice')
        for judge in section.judges:
            if judge not in judges:
                row.refuse("judges", f'"{judge}" is no judge of these rules; name each in a [[judge]]')
        sections.append(section)
    return tuple(sections) or (Section(),)


def _breaks(raw: Mapping[str, object], name: str, first_band: dt.time | None) -> tuple[Break, ...]:
    breaks: list[Break] = []
    for where, item in tables(raw, "break", name):
        row = Table(item, keys.BREAK, where)
        at = row.time_of_day("at")
        before = breaks[-1].at if breaks else first_band
        if at is None or before is None:
            row.refuse("at", "a break stands in a timetable, which begins with [timetable] and first_band")
        if at <= before:
            what = "the break before it" if breaks else "the first band"
            row.refuse("at", f"{at:%H:%M} is no later than {what}, at {before:%H:%M}")
        breaks.append(Break(at, row.number("minutes"), row.text("for") or "Break"))
    return tuple(breaks)


def _protest(raw: Mapping[str, object], name: str) -> Protest:
    row = Table(table(raw, "protest", name), keys.PROTEST, f"{name}, [protest]")
    return Protest(minutes=row.whole("minutes"), to=row.text("to"))


def _eligibility(raw: Mapping[str, object], name: str) -> Eligibility:
    row = Table(table(raw, "eligibility", name), keys.ELIGIBILITY, f"{name}, [eligibility]")
    return Eligibility(row.whole_or_none("bands_per_ringer"), row.whole_or_none("residents"), row.text("words"))


def _public(raw: Mapping[str, object], name: str) -> Public:
    row = Table(table(raw, "public", name), keys.PUBLIC, f"{name}, [public]")
    return Public(
        result=cast(Literal["final", "provisional"], row.choice("result")),
        by_judge=row.flag("by_judge"),
        machine=row.flag("machine"),
        safety=row.flag("safety"),
        judges_compared=row.flag("judges_compared"),
        fault_sheets=row.flag("fault_sheets"),
    )


def _marks(raw: Mapping[str, object], name: str, chief: str) -> MarksRules:
    sheets = Table(table(raw, "sheets", name), keys.SHEETS, f"{name}, [sheets]")
    combining = Table(table(raw, "combining", name), keys.COMBINING, f"{name}, [combining]")
    machine = Table(table(raw, "machine", name), keys.MACHINE, f"{name}, [machine]")
    ties = Table(table(raw, "ties", name), keys.TIES, f"{name}, [ties]")
    rounding = Table(table(raw, "rounding", name), keys.ROUNDING, f"{name}, [rounding]")
    policy, step = cast(Policy, combining.choice("policy")), rounding.number_or_none("step")
    return MarksRules(
        sheets=Sheets(
            cast(Unit, sheets.choice("unit")),
            sheets.number("step"),
            sheets.number_or_none("most"),
            cast(Lines, sheets.choice("lines")),
            sheets.whole_or_none("block_changes"),
            sheets.number_or_none("most_a_line"),
            tuple(_criterion(Table(item, keys.CRITERION, where)) for where, item in tables(raw, "criterion", name)),
        ),
        combining=Combining(
            policy,
            cast(Drop, combining.choice("drop")),
            cast(MissingJudge, combining.choice("missing_judge")),
        ),
        machine=MachinePart(
            cast(Part, machine.choice("part")),
            machine.number("weight"),
            machine.number("sure_within_ms"),
            machine.number("most_unsure_percent"),
            machine.number("lines_unsure_percent"),
            machine.flag("tower_delays"),
        ),
        penalties=tuple(_penalty(Table(item, keys.PENALTY, where)) for where, item in tables(raw, "penalty", name)),
        ties=Ties(cast(tuple[TieRule, ...], ties.texts("rules")), chief, ties.whole_or_none("last_changes")),
        rounding=Rounding(
            _STEPS.get(policy, Rounding().step) if step is None else step, cast(Mode, rounding.choice("mode"))
        ),
        rank_rounded=rounding.flag("rank_rounded"),
    )


def _criterion(row: Table) -> Criterion:
    return Criterion(row.text("name"), row.number("most"), row.text("words"))


def _penalty(row: Table) -> Penalty:
    step = row.number_or_none("step")
    return Penalty(
        kind=cast(PenaltyKind, row.choice("for")),
        base=cast(Base, row.choice("base")),
        percent=row.number("percent"),
        percent_of=cast(PercentOf, row.choice("percent_of")),
        amount=row.number("amount"),
        multipliers=tuple(_multiplier(row, text) for text in row.texts("multipliers")),
        most=row.whole_or_none("most"),
        within_changes=row.whole_or_none("within_changes"),
        rounding=None if step is None else Rounding(step, cast(Mode, row.choice("mode"))),
    )


def _multiplier(row: Table, text: str) -> Fraction:
    if not re.fullmatch(r"\d{1,4}(/[1-9]\d{0,3})?", text):
        row.refuse("multipliers", f'"{text}" is neither a whole number nor a fraction such as "4/3"')
    return Fraction(text)
