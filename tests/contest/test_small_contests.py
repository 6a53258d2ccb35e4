"""More than twenty small contests after the practice of districts, each with its result worked out by hand."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from judging.contest import ContestDay, draw, judge_contest, read_entries, read_rules, read_sheets
from judging.marks import Sheet

CONTESTS = tomllib.loads((Path(__file__).parent / "small_contests.toml").read_text())["contest"]


def day_of(contest: dict[str, Any]) -> ContestDay:
    judges = sorted({*contest["sheets"], *contest.get("taps", {})})
    heads = "".join(
        f'[[judge]]\nid = "{judge}"\nname = "{judge}"\nchief = {str(judge == "j1").lower()}\n' for judge in judges
    )
    rules = read_rules(
        f'rules = 1\ntitle = "A contest"\n{heads}[draw]\nseed = "s"\n{contest["rules"]}\n', name="rules.toml"
    )
    entries = read_entries(
        "".join(
            f'[[entry]]\nid = "{entry}"\nband = "Band {entry}"\n{more}\n' for entry, more in contest["entries"].items()
        ),
        name="entries.toml",
        rules=rules,
    )
    sheets: list[Sheet] = []
    for header, of in (("entry,total", contest["sheets"]), ("entry,change,faults", contest.get("taps", {}))):
        for judge, lines in of.items():
            text = "\n".join([header, *lines])
            sheets += read_sheets(text, name=f"{judge}.csv", judge=judge, entries=entries, rules=rules.marks.sheets)
    return ContestDay(rules, entries, rules.judges, {}, {}, tuple(sheets), draw(entries, rules.draw_seed))


@pytest.mark.parametrize("contest", CONTESTS, ids=lambda contest: contest["name"])
def test_the_result_is_the_one_worked_out_by_hand(contest: dict[str, Any]) -> None:
    (result,) = judge_contest(day_of(contest)).results

    found = [
        [
            line.entry,
            "-" if line.place is None else str(line.place),
            "-" if line.mark is None else str(line.mark),
        ]
        for line in result.places
    ]
    assert found == [line[:3] for line in contest["expect"]]
    for line, (_, _, _, reason) in zip(result.places, contest["expect"], strict=True):
        assert any(reason in said for said in line.reasons)


def test_there_are_more_than_twenty() -> None:
    assert len({contest["name"] for contest in CONTESTS}) > 20
