"""A result on a terminal: one table a section, and under it why each place is what it is."""

from collections.abc import Mapping
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text


def print_results(document: Mapping[str, Any], *, bands: Mapping[str, str]) -> None:
    """Print a result document on standard output.

    Parameters
    ----------
    document : mapping
        From `judging.contest.result_document`.
    bands : mapping of str to str
        Names as the reader may see them, by entry.
    """
    console = Console(highlight=False)
    for section in document["sections"]:
        console.print(_table(document, section, bands))
        for line in section["places"]:
            for reason in line["reasons"]:
                console.print(Text(f"  {bands[line['entry']]}: {reason}"), soft_wrap=True)
            for step in line["adjustments"]:
                who = f" ({step['judge']})" if step["judge"] else ""
                change = f"{_figure(step['before'])} becomes {_figure(step['after'])}"
                console.print(Text(f"  {bands[line['entry']]}: {step['rule']}{who}: {change}"), soft_wrap=True)
        for note in section["notes"]:
            console.print(Text(f"  {note}"), soft_wrap=True)
        console.print()
    console.print(
        Text(f"Rules {document['fingerprint'][:12]}, revision {document['sections'][0]['revision']}"), soft_wrap=True
    )


def _table(document: Mapping[str, Any], section: Mapping[str, Any], bands: Mapping[str, str]) -> Table:
    judges = list(dict.fromkeys(judge for line in section["places"] for judge in line["by_judge"]))
    title = " – ".join(part for part in (document["title"], section["section"]) if part)
    table = Table(title=title, title_justify="left", box=SIMPLE_HEAD, pad_edge=False, collapse_padding=True)
    table.add_column("Place")
    table.add_column("Rang", justify="right")
    table.add_column("Band", no_wrap=True)
    for judge in judges:
        table.add_column(judge, justify="right")
    table.add_column(section["unit"].capitalize(), justify="right")
    table.add_column("Machine", justify="right")
    for line in section["places"]:
        place = "–" if line["place"] is None else f"{line['place']}{' =' if line['tied'] else ''}"
        rang = document["order"].index(line["entry"]) + 1 if line["entry"] in document["order"] else ""
        table.add_row(
            place,
            str(rang),
            Text(bands[line["entry"]]),
            *(_figure(line["by_judge"].get(judge)) for judge in judges),
            _figure(line["mark"]),
            _figure(line["machine"]),
        )
    return table


def _figure(number: float | None) -> str:
    return "–" if number is None else f"{number:g}"
