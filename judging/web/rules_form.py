"""The rules in a form: fields beside the text of ``rules.toml``, which is what counts; the fields only change it."""

import datetime as dt
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from judging.contest import RuleSet, read_rules
from judging.contest.asking import SAID, TOPICS, Question, Topic
from judging.contest.rewriting import Place, Value, how_many, rewrite, value_at
from judging.contest.tables import parse
from judging.errors import InputError
from judging.papers import Heading, RulesPaper, rules_paper_data
from judging.web.forms import Form, Texts, form_of, number_typed

#: The file's name, in messages.
FILE = "rules.toml"

#: Rules to which a question has more answers are written in the text.
MOST_TABLES: Final = 40

_WHERE = re.compile(r"rules\.toml(?:, |$)(?:\[{1,2}(\w+)\]{1,2}(?: (\d+))?|(\w+))?(?:, (\w+))?")


@dataclass(frozen=True, slots=True)
class Field:
    """One question as it is shown.

    Parameters
    ----------
    name : str
        Of the field.
    question : Question
        What is asked.
    place : Place
        Where its answer stands.
    options : tuple of pairs of str
        What can be chosen, with its words; empty where something is typed.
    slots : int
        How many may be chosen, one after another.
    """

    name: str
    question: Question
    place: Place
    options: tuple[tuple[str, str], ...] = ()
    slots: int = 1


@dataclass(frozen=True, slots=True)
class Part:
    """Fields about one table of the file, or about one topic; `is_new` where they would make another table."""

    key: str
    title: str
    fields: tuple[Field, ...]
    is_new: bool = False


@dataclass(frozen=True, slots=True)
class TopicShown:
    """One topic with its parts; of several tables there is one part each, and one for another."""

    key: str
    title: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class RulesForm:
    """The whole form.

    Parameters
    ----------
    text : str
        Of the rules, as it stands in the form.
    was : str
        The text to which the fields belong; what differs from it in a field was typed there.
    topics : tuple of TopicShown
        The fields.
    form : Form
        What stands in them and what is wrong with it.
    example : RulesPaper or None
        What the rules come to; None where they cannot be read.
    """

    text: str
    was: str
    topics: tuple[TopicShown, ...]
    form: Form
    example: RulesPaper | None


def example_of(rules: RuleSet) -> RulesPaper:
    """Return rules in sentences, with five invented bands ranked under them."""
    return rules_paper_data(rules, heading=Heading(rules.title))


def form_with(
    text: str,
    *,
    was: str = "",
    typed: Mapping[str, str] | None = None,
    error: InputError | None = None,
    problem: str = "",
) -> RulesForm:
    """Return the form as it is shown.

    Parameters
    ----------
    text : str
        Of the rules.
    was : str
        The last text that could be read; the text itself where empty.
    typed : mapping of str to str or None
        What was typed into fields, where that could not be put into the text.
    error : InputError or None
        What is wrong; its ``where`` is a field.
    problem : str
        What else is wrong, to stand above the form.

    Returns
    -------
    RulesForm
    """
    raw = _parsed(text)
    was = was or text
    if raw is None:
        raw = _parsed(was) or {}
    else:
        was = text
    topics = tuple(_topic(topic, raw) for topic in TOPICS)
    fields = [field for topic in topics for part in topic.parts for field in part.fields]
    stands = {field.name: _shown(field, raw) for field in fields}
    form = form_of(
        {**stands, **(typed or {}), "text": text},
        hints={field.name: field.question.key.meaning.replace("`", "") for field in fields if field.place.number <= 1},
        error=error,
        fields=(*stands, "text", "file"),
    )
    if problem:
        form = Form(form.typed, Texts({**form.wrong, "form": problem}), form.hints)
    try:
        example = example_of(read_rules(text, name=FILE)) if error is None else None
    except InputError as unread:
        example = None
        if not form.wrong:
            return form_with(text, was=was, typed=typed, error=beside_its_field(unread, tuple(stands)))
    return RulesForm(text, was, topics, form, example)


def text_from(typed: Mapping[str, str]) -> str:
    """Return the text of the rules that a form comes to: its text, with what was changed in its fields.

    Parameters
    ----------
    typed : mapping of str to str
        ``text``, ``was`` and the fields.

    Returns
    -------
    str
        TOML; what it says may still be wrong.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    text, was = _lines(typed.get("text", "")), _lines(typed.get("was", ""))
    try:
        before, raw = parse(was, name=FILE), parse(text, name=FILE)
    except InputError as error:
        raise InputError("text", error.problem) from error
    values: dict[Place, Value | None] = {}
    for topic in TOPICS:
        for part in _parts(topic, before):
            changed = {
                field: typed[field.name].strip()
                for field in part.fields
                if field.name in typed and _lines(typed[field.name]).strip() != _shown(field, before).strip()
            }
            values |= _values(part, changed, raw)
    if not values:
        return text
    try:
        return rewrite(text, values, name=FILE)
    except InputError as error:
        raise InputError("text", error.problem) from error


def beside_its_field(error: InputError, fields: tuple[str, ...]) -> InputError:
    """Return an error about the text of the rules as one about the field that it belongs to."""
    name = ""
    if found := _WHERE.match(error.where):
        missing = re.match(r'the key "(\w+)" is missing', error.problem)
        key = found[4] or (missing[1] if missing else "")
        table = found[1] or found[3] or "top"
        name = "-".join(part for part in (table, found[2], key) if part) if key else f"top-{table}"
    if name in fields:
        return InputError(name, error.problem)
    where = error.where.removeprefix(FILE).lstrip(", ")
    return InputError("text", f"{where}: {error.problem}" if where else error.problem)


def _values(part: Part, changed: Mapping[Field, str], raw: Mapping[str, object]) -> dict[Place, Value | None]:
    """Return what a part's changed fields put into the text."""
    if not changed:
        return {}
    naming, *_ = part.fields
    table, number = naming.place.table, naming.place.number
    if not number:
        return {field.place: _read(field, text) for field, text in changed.items()}
    known = how_many(raw, table)
    if part.is_new:
        number = known + 1
    elif number > known:
        raise InputError(naming.name, "is no longer in the text; write there what you want to change")
    if changed.get(naming) == "" or (part.is_new and naming not in changed):
        if part.is_new:
            raise InputError(naming.name, "is empty; what else is written here belongs to nothing")
        return {Place(table, "", number): None}
    values: dict[Place, Value | None] = {}
    if part.is_new and table == "judge":
        values[Place(table, "id", number)] = _free_judge(raw)
    return values | {Place(table, field.place.key, number): _read(field, text) for field, text in changed.items()}


def _free_judge(raw: Mapping[str, object]) -> str:
    taken = {value_at(raw, Place("judge", "id", number)) for number in range(1, how_many(raw, "judge") + 1)}
    return next(name for number in range(1, len(taken) + 2) if (name := f"judge-{number}") not in taken)


def _topic(topic: Topic, raw: Mapping[str, object]) -> TopicShown:
    return TopicShown(topic.title.lower().replace(" ", "-"), topic.title, tuple(_parts(topic, raw)))


def _parts(topic: Topic, raw: Mapping[str, object]) -> Iterator[Part]:
    if not topic.table:
        yield Part(topic.title, "", tuple(_field(question, 0, raw) for question in topic.questions))
        return
    known = min(how_many(raw, topic.table), MOST_TABLES)
    for number in range(1, known + 2):
        is_new = number == known + 1
        fields = tuple(_field(question, number, raw) for question in topic.questions)
        name = _shown(fields[0], raw)
        title = f"Another {topic.one}" if is_new else f"{topic.one.capitalize()} {number}{f': {name}' if name else ''}"
        yield Part(f"{topic.table}-{number}", title, fields, is_new=is_new)


def _field(question: Question, number: int, raw: Mapping[str, object]) -> Field:
    key, place = question.key, Place(question.table, question.key.name, number)
    name = "-".join(part for part in (question.table or "top", str(number or ""), key.name) if part)
    said = SAID.get((question.table, key.name), {})
    options = tuple((choice, said.get(choice, f"{choice[:1].upper()}{choice[1:]}")) for choice in key.choices)
    if key.kind == "yes or no":
        options = (("yes", "Yes"), ("no", "No"))
    elif options and key.default is None:
        options = (("", "Choose"), *options)
    elif key.kind == "list of":
        options = (("", "Nothing more"), *options)
    held = value_at(raw, place)
    slots = min(max(len(held) if isinstance(held, list) else 0, 2) + 1, len(key.choices))
    return Field(name, question, place, options, slots if key.kind == "list of" else 1)


def _shown(field: Field, raw: Mapping[str, object]) -> str:
    """Return what stands in a field: the value in the text, or what holds where there is none."""
    value = value_at(raw, field.place)
    if value is None:
        value = field.question.key.default
    match value:
        case bool():
            return "yes" if value else "no"
        case list() | tuple():
            return "\n".join(str(one) for one in value)
        case Decimal():
            return f"{value:f}" if value.is_finite() and abs(value.adjusted()) < MOST_TABLES else str(value)
        case dt.time():
            return f"{value:%H:%M}"
        case _:
            return "" if value is None else str(value)


def _read(field: Field, text: str) -> Value | None:
    """Return what was typed into a field as it stands in the file."""
    match field.question.key.kind if text else "nothing":
        case "nothing":
            value: Value | None = None
        case "whole number":
            if not re.fullmatch(r"-?[0-9]{1,15}", text):
                raise InputError(field.name, f'"{text[:40]}" is not a whole number')
            value = int(text)
        case "number":
            number = number_typed(text, field.name)
            value = Decimal(int(number)) if number == int(number) else number
        case "yes or no":
            if text not in {"yes", "no"}:
                raise InputError(field.name, f'is "{text[:40]}", and can be yes or no')
            value = text == "yes"
        case "date":
            value = _day(field, text)
        case "list of":
            value = tuple(line.strip() for line in text.splitlines() if line.strip())
        case _:
            value = text
    return value


def _day(field: Field, text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(field.name, f'"{text[:40]}" is no day; write it as 2027-06-19') from None


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n")


def _parsed(text: str) -> Mapping[str, object] | None:
    try:
        return parse(text, name=FILE)
    except InputError:
        return None
