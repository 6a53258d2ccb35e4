"""More than thirty small contests after the practice of districts, each with its result worked out by hand."""

import json
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from judging.cli import app

CONTESTS = tomllib.loads((Path(__file__).parent / "small_contests.toml").read_text())["contest"]


def write_folder(contest: dict[str, Any], folder: Path) -> Path:
    """Write a contest as the folder that an organiser would have, without recordings or strike logs."""
    judges = sorted({*contest["sheets"], *contest.get("taps", {})})
    heads = "".join(
        f'[[judge]]\nid = "{judge}"\nname = "{judge}"\nchief = {str(judge == "j1").lower()}\n' for judge in judges
    )
    files = {
        "rules.toml": f'rules = 1\ntitle = "A contest"\n{heads}[draw]\nseed = "s"\n{contest["rules"]}\n',
        "entries.toml": "".join(
            f'[[entry]]\nid = "{entry}"\nband = "Band {entry}"\npiece = "rounds"\n{more}\n'
            for entry, more in contest["entries"].items()
        ),
        "pieces/rounds.txt": "123456\n" * 240,
    }
    for header, of in (("entry,total", contest["sheets"]), ("entry,change,faults", contest.get("taps", {}))):
        files |= {f"sheets/{judge}.csv": "\n".join([header, *lines]) for judge, lines in of.items()}
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("contest", CONTESTS, ids=lambda contest: contest["name"])
def test_the_command_gives_the_result_that_was_worked_out_by_hand(contest: dict[str, Any], tmp_path: Path) -> None:
    ran = CliRunner().invoke(app, ["rank", os.fspath(write_folder(contest, tmp_path)), "--json"])

    assert ran.exit_code == 0, ran.output
    result = json.loads(ran.stdout)["sections"][contest.get("section", 0)]
    found = [(line["entry"], line["place"], line["mark"]) for line in result["places"]]
    assert found == [
        (entry, None if place == "-" else int(place), None if mark == "-" else float(mark))
        for entry, place, mark, _ in contest["expect"]
    ]
    for line, (_, _, _, reason) in zip(result["places"], contest["expect"], strict=True):
        assert any(reason in said for said in line["reasons"])
        assert (line["safety"] is None) == (line["place"] is None)


def test_there_are_more_than_thirty() -> None:
    assert len({contest["name"] for contest in CONTESTS}) > 30
