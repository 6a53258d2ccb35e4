"""WHAT AN ORGANISER IS ASKED: the common choices of ``rules.toml`` in plain words; the rest is written in the text.

Meaning, default, limits and choices of a question are those of its key (`judging.contest.keys`), so that a form and
the file cannot come to mean different things.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from judging.contest.documenting import SEVERAL, every_table
from judging.contest.keys import TOP
from judging.contest.tables import Key


@dataclass(frozen=True, slots=True)
class Question:
    """One key, asked.

    Parameters
    ----------
    table : str
        Name of its table; empty for the top of the file.
    key : Key
        The key.
    label : str
        The question in plain words.
    """

    table: str
    key: Key
    label: str


@dataclass(frozen=True, slots=True)
class Topic:
    """Questions that belong together.

    Parameters
    ----------
    title : str
        What they are about.
    table : str
        Where the file may have several tables of this name, which each answer all the questions; empty otherwise.
    one : str
        What one of them is called.
    questions : tuple of Question
        In the order in which they are asked; of several tables, the first one names each.
    """

    title: str
    table: str
    one: str
    questions: tuple[Question, ...]


def _topic(title: str, *asked: tuple[str, str, str], one: str = "") -> Topic:
    keys = {"": TOP, **every_table()}
    questions = tuple(
        Question(table, next(key for key in keys[table] if key.name == name), label) for table, name, label in asked
    )
    several = questions[0].table if questions[0].table in SEVERAL else ""
    return Topic(title, several, one, questions)


TOPICS = (
    _topic(
        "The contest",
        ("", "title", "What is it called?"),
        ("", "district", "Who holds it?"),
        ("", "date", "When?"),
        ("", "place", "Where?"),
    ),
    _topic(
        "Sections",
        ("section", "name", "What is the section called?"),
        ("section", "changes", "How many changes has its test piece?"),
        ("section", "practice_minutes", "Minutes of practice"),
        ("section", "slot_minutes", "Minutes from band to band"),
        ("section", "minutes_allowed", "Minutes allowed for the test piece"),
        ("section", "eligibility", "Who may enter?"),
        one="section",
    ),
    _topic(
        "Judges",
        ("judge", "name", "Name, as it is printed"),
        ("judge", "chief", "Chief judge?"),
        one="judge",
    ),
    _topic(
        "What a judge writes",
        ("sheets", "unit", "Faults or marks?"),
        ("sheets", "step", "Finest figure"),
        ("sheets", "most", "Most on one sheet"),
        ("sheets", "lines", "One line for each what?"),
        ("sheets", "block_changes", "Changes in a block"),
    ),
    _topic(
        "Criteria of an impression sheet",
        ("criterion", "name", "What is it called?"),
        ("criterion", "most", "Most that may be given"),
        ("criterion", "words", "What is it about?"),
        one="criterion",
    ),
    _topic(
        "How the sheets become one mark",
        ("combining", "policy", "What is done with the judges’ figures?"),
        ("combining", "drop", "Are the highest and the lowest left out?"),
        ("combining", "missing_judge", "And without a sheet from every judge?"),
        ("rounding", "step", "Finest mark"),
        ("rounding", "mode", "Between two steps"),
    ),
    _topic(
        "What the machine counts",
        ("machine", "part", "What weight has its count?"),
        ("machine", "weight", "Weight of its voice"),
        ("counting", "scheme", "Marking scheme"),
        ("tolerance", "half_gaps", "Half a fault from what share of the gap?"),
        ("tolerance", "whole_gaps", "A whole fault from what share of the gap?"),
        ("marked", "pull_off", "Is the pull-off marked?"),
        ("marked", "opening", "Are the opening rounds marked?"),
        ("marked", "free_rows", "Rows free at the beginning"),
        ("marked", "most_changes", "Most changes that are marked"),
    ),
    _topic(
        "Penalties and handicaps",
        ("penalty", "for", "For what?"),
        ("penalty", "percent", "Per cent"),
        ("penalty", "amount", "Faults or marks"),
        ("penalty", "base", "On what?"),
        ("penalty", "most", "No place with more than"),
        ("penalty", "within_changes", "Changes within which a band may begin again"),
        one="penalty",
    ),
    _topic(
        "Ties",
        ("ties", "rules", "What is asked of equal marks, in order?"),
        ("ties", "last_changes", "How many last changes?"),
    ),
    _topic(
        "Draw and timetable",
        ("draw", "seed", "Seed of the draw"),
        ("draw", "late", "A band that is late for the draw"),
        ("draw", "swaps", "May bands change places after it?"),
        ("timetable", "first_band", "When does the first band begin?"),
        ("conflict", "then", "A judge who has to do with a band"),
    ),
    _topic(
        "Protests",
        ("protest", "minutes", "Minutes in which one may be handed in"),
        ("protest", "to", "Handed to whom?"),
    ),
    _topic(
        "What the public sees",
        ("public", "result", "The result, from when?"),
        ("public", "by_judge", "Each judge’s figure?"),
        ("public", "machine", "The machine’s count?"),
        ("public", "safety", "How safe each place is?"),
        ("public", "judges_compared", "The judges compared?"),
        ("public", "fault_sheets", "Fault sheets?"),
    ),
)

#: Choices in plain words, by table and key; another choice is its own word.
SAID: Mapping[tuple[str, str], Mapping[str, str]] = {
    ("sheets", "lines"): {
        "any": "Whatever the judge likes: a total, or faults change by change",
        "total": "One total and nothing else",
        "blow": "Each blow",
        "row": "Each row",
        "whole pull": "Each whole pull",
        "block": "Each block of changes",
        "criterion": "Each criterion",
    },
    ("combining", "policy"): {
        "sum": "Added up",
        "mean": "Their mean",
        "ratio": "Each divided by that judge’s own mean",
        "standard score": "Each in that judge’s own standard deviations",
        "placings": "Turned into places, which are added up",
        "majority of placings": "The best place that most judges gave or bettered",
        "agreed mark": "There is one sheet, agreed by all",
    },
    ("combining", "drop"): {"none": "No", "highest and lowest": "Yes, each band’s highest and lowest"},
    ("combining", "missing_judge"): {
        "refuse": "There is no result",
        "leave the judge out": "That judge counts for no band",
        "use those present": "That band has the mean of the others",
    },
    ("machine", "part"): {
        "cross-check": "None: it is shown beside the judges",
        "tie-break": "It may decide a tie, where the ties say so",
        "voice": "It is one more voice",
    },
    ("penalty", "base"): {"each judge": "On each judge’s figure", "combined": "On the combined mark"},
    ("conflict", "then"): {
        "declared only": "Says so beforehand; the sheet counts",
        "sheet left out": "Says so beforehand; the sheet does not count",
    },
    ("public", "result"): {"final": "Once it is final", "provisional": "Once it is provisional"},
}
