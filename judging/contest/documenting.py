"""THE LIST OF KEYS → THE PAGE that documents the contest's files, in Markdown; what is read is what is documented."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from judging.contest.counting import COUNTING_TABLES
from judging.contest.entries import ENTRY
from judging.contest.keys import TABLES, TOP
from judging.contest.tables import Key

#: Tables written with double brackets, of which a file may have several.
SEVERAL = frozenset({"section", "judge", "break", "penalty", "criterion"})


def reference() -> str:
    """Return the reference of ``rules.toml`` and ``entries.toml`` in Markdown: a table of keys for each table.

    Returns
    -------
    str
        Ends with a line feed.
    """
    parts = ["## rules.toml", "", "At the top of the file:", "", *_table(TOP), ""]
    for name, keys in every_table().items():
        parts += [f"### `{headed(name)}`", "", *_table(keys), ""]
    parts += ["## entries.toml", "", "### `[[entry]]`", "", *_table(ENTRY), ""]
    return "\n".join(parts)


def every_table() -> Mapping[str, Sequence[Key]]:
    """Tables of ``rules.toml`` by name, each with its keys."""
    return {**TABLES, **COUNTING_TABLES}


def _table(keys: Sequence[Key]) -> list[str]:
    return [
        "| key | value | default | what it does |",
        "|---|---|---|---|",
        *(f"| {' | '.join((f'`{name}`', *rest))} |" for name, *rest in explained(keys)),
    ]


def explained(keys: Sequence[Key]) -> tuple[tuple[str, str, str, str], ...]:
    """Return a line for each key: its name, what its value is, its default, what it does."""
    return tuple((key.name, _kind(key), _default(key), key.meaning) for key in keys)


def headed(name: str) -> str:
    """Head of a table as it is written in the file."""
    return f"[[{name}]]" if name in SEVERAL else f"[{name}]"


def _kind(key: Key) -> str:
    if key.choices:
        return f"{key.kind} " + ", ".join(f"`{choice}`" for choice in key.choices)
    limits = [f"from {key.least}"] if key.least is not None else []
    limits += [f"to {key.most}"] if key.most is not None else []
    return " ".join([key.kind, *limits])


def _default(key: Key) -> str:
    if key.required:
        return "must be there"
    if key.default is None or key.default in {"", ()}:
        return "none"
    if isinstance(key.default, bool):
        return f"`{str(key.default).lower()}`"
    return f"`{key.default:f}`" if isinstance(key.default, Decimal) else f"`{key.default}`"
