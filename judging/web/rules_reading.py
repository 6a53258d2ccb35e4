"""How rules are declared: the keys that are read, as they are read, and rules to start from, each with an example."""

from dataclasses import dataclass

from judging.contest import PRESETS, read_rules
from judging.contest.documenting import every_table, explained, headed
from judging.contest.entries import ENTRY
from judging.contest.keys import TOP
from judging.papers import Heading, rules_paper_data
from judging.papers.rules_paper import RulesPaper


@dataclass(frozen=True, slots=True)
class KeyTable:
    """Keys of one table: its head as it is written, an identifier for the page, and a line for each key."""

    head: str
    anchor: str
    lines: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Preset:
    """Rules to start from: their name, their text, and what is published of them."""

    name: str
    anchor: str
    text: str
    paper: RulesPaper


def key_tables() -> tuple[KeyTable, ...]:
    """Return every key of ``rules.toml`` and ``entries.toml``, table by table."""
    return (
        KeyTable("At the top of rules.toml", "top", explained(TOP)),
        *(KeyTable(headed(name), name, explained(keys)) for name, keys in every_table().items()),
        KeyTable("[[entry]] of entries.toml", "entry", explained(ENTRY)),
    )


def presets_shown() -> tuple[Preset, ...]:
    """Return the rules to start from, each with five invented bands ranked under it."""
    presets = []
    for number, (name, text) in enumerate(PRESETS.items(), 1):
        rules = read_rules(text, name=name)
        presets.append(Preset(name, f"preset-{number}", text, rules_paper_data(rules, heading=Heading(rules.title))))
    return tuple(presets)
