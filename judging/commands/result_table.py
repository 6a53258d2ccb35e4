"""A result on a terminal: one table a section, and under it why each place is what it is."""

from collections.abc import Iterator, Mapping
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
        From `judging.contest.result_document`, with `judging.contest.cross_check_document` under ``cross_check``.
    bands : mapping of str to str
        Names as the reader may see them, by entry.
    """
    console = Console(highlight=False)
    for section, beside in zip(document["sections"], document["cross_check"], strict=True):
        console.print(_table(document, section, bands))
        for line in section["places"]:
            for reason in line["reasons"]:
                console.print(Text(f"  {bands[line['entry']]}: {reason}"), soft_wrap=True)
            for step in line["adjustments"]:
                who = f" ({step['judge']})" if step["judge"] else ""
                change = f"{_figure(step['before'])} becomes {_figure(step['after'])}"
                console.print(Text(f"  {bands[line['entry']]}: {step['rule']}{who}: {change}"), soft_wrap=True)
        for line in section["places"]:
            why = document["uncounted"].get(line["entry"], "")
            if why and not why.endswith("judged by ear only"):  # that is no surprise, and the dash says it
                console.print(Text(f"  {bands[line['entry']]}: no part for the machine: {why}"), soft_wrap=True)
        for note in section["notes"]:
            console.print(Text(f"  {note}"), soft_wrap=True)
        for heading, sentences in _advice(beside, bands):
            console.print(Text(f"  {heading}"), soft_wrap=True)
            for sentence in sentences:
                console.print(Text(f"    {sentence}"), soft_wrap=True)
        console.print()
    console.print(
        Text(f"Rules {document['fingerprint'][:12]}, revision {document['sections'][0]['revision']}"), soft_wrap=True
    )


def _advice(beside: Mapping[str, Any], bands: Mapping[str, str]) -> Iterator[tuple[str, list[str]]]:
    """What is advice beside a section's result, by heading; it changes no mark."""
    judges, lines = beside["judges"], beside["lines"]
    again = [
        f"{one['judge']}, {bands[one['entry']]}: {one['figure']:g}, where the other figures foretell about "
        f"{one['foretold']:.0f}"
        for one in judges["surprising"]
    ]
    if judges["sentences"]:
        yield "The judges compared (advice)", judges["sentences"]
    if again:
        yield "To be looked at again", again
    if lines is None:
        return
    if lines["result"] is not None:
        yield "The result under every line of a fault", _under(lines["result"], bands)
    yield "The machine's own order under every line", _under(lines["machine"], bands)


def _under(orders: Mapping[str, Any], bands: Mapping[str, str]) -> list[str]:
    if orders["stands"]:
        return ["the same under every line and every marking scheme"]
    return [f"{bands[entry]}: {sentence}" for entry, sentence in orders["sentences"].items()]


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
