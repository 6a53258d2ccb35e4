"""A season's table: two points a win, one a draw, level bands by the matches among themselves (trade practice)."""

import json
from decimal import Decimal
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from judging.cli import app
from judging.contest.league import league_table
from judging.marks import Combining, Entrant, MarksRules, Result, Sheet, rank

AGREED = MarksRules(combining=Combining("agreed mark"))


def match(**faults: int | None) -> Result:
    """Result of a match; None for a band that fired out."""
    entrants = [Entrant(band, unfinished="" if count is not None else "fired out") for band, count in faults.items()]
    sheets = [Sheet("j", band, Decimal(count)) for band, count in faults.items() if count is not None]
    return rank(entrants, sheets, AGREED, judges=["j"])


def table_of(*matches: Result) -> list[tuple[str, int, bool, int]]:
    return [(line.entry, line.place, line.tied, line.points) for line in league_table(matches)]


def test_a_win_is_two_points_and_a_draw_one() -> None:
    (a, b, c) = league_table([match(a=18, b=22), match(b=20, c=20), match(a=10, c=30)])

    assert (a.entry, a.won, a.drawn, a.lost, a.points) == ("a", 2, 0, 0, 4)
    assert (b.entry, c.entry, b.points, c.points) == ("b", "c", 1, 1)
    assert (b.place, c.place, b.tied) == (2, 2, True)


def test_level_bands_are_parted_by_the_match_between_them() -> None:
    assert table_of(match(a=18, b=17), match(a=10, c=30), match(b=40, c=30)) == [
        # each won one and lost one; among themselves all have two: shared
        ("a", 1, True, 2),
        ("b", 1, True, 2),
        ("c", 1, True, 2),
    ]
    assert table_of(match(a=18, b=17), match(a=10, c=30), match(b=40, d=30)) == [
        # a, b and d have two points; among them b beat a and d beat b
        ("b", 1, True, 2),
        ("d", 1, True, 2),
        ("a", 3, False, 2),
        ("c", 4, False, 0),
    ]


def test_a_band_that_fired_out_loses_to_one_that_did_not() -> None:
    assert table_of(match(a=None, b=90)) == [("b", 1, False, 2), ("a", 2, False, 0)]
    assert table_of(match(a=None, b=None)) == [("a", 1, True, 0), ("b", 1, True, 0)]


@given(st.lists(st.dictionaries(st.sampled_from("abcd"), st.integers(0, 9), min_size=2), min_size=1, max_size=8))
def test_every_meeting_gives_two_points_and_the_order_of_matches_none(season: list[dict[str, int]]) -> None:
    matches = [match(**faults) for faults in season]

    lines = league_table(matches)

    meetings = sum(len(faults) * (len(faults) - 1) // 2 for faults in season)
    assert sum(line.points for line in lines) == 2 * meetings
    assert league_table(matches[::-1]) == lines
    assert [line.points for line in lines] == sorted((line.points for line in lines), reverse=True)


def test_the_command_reads_each_match_from_its_folder(tmp_path: Path) -> None:
    folders = []
    for number, (a, b) in enumerate([(18, 22), (20, 20)]):
        folder = tmp_path / str(number)
        rules = '[[judge]]\nid = "j"\nname = "J"\n[draw]\nseed = "s"\n[combining]\npolicy = "agreed mark"\n'
        files = {
            "rules.toml": f'rules = 1\ntitle = "A match"\n{rules}',
            "entries.toml": "".join(f'[[entry]]\nid = "{one}"\nband = "{one.upper()}"\npiece = "r"\n' for one in "ab"),
            "pieces/r.txt": "123456\n123456\n",
            "sheets/j.csv": f"entry,total\na,{a}\nb,{b}\n",
        }
        for name, text in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
        folders.append(str(folder))

    table = json.loads(CliRunner().invoke(app, ["league", *folders, "--json"]).stdout)["table"]

    assert [(line["band"], line["points"], line["won"], line["drawn"]) for line in table] == [
        ("A", 3, 1, 1),
        ("B", 1, 0, 1),
    ]
    assert "A: won 1, drawn 1, lost 0: 3 points" in CliRunner().invoke(app, ["league", *folders]).stdout
