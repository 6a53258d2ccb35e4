"""From contests that judges and machine have counted to the lines of new rules, as the command does it."""

import json
import shutil
import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from judging.contest import judge_contest, read_rules
from judging.piece import read_rows
from judging.store.contest_folder import read_folder
from judging.striking import CountingRules, StrikeLog, ToleranceBands, count_striking, write_log

Runner = Callable[..., Any]

ROW = "123456"
PIECE = read_rows("\n".join([ROW] * 120), name="rounds.txt")
SPREADS_MS = (25, 30, 35, 40, 45, 50, 55, 60)

RULES = """rules = 1
title = "Last year"
[[section]]
name = "Rounds"
piece = "rounds"
[[judge]]
id = "one"
name = "One"
[sheets]
unit = "faults"
step = 0.5
[draw]
seed = "last year"
"""

#: The judges of last year draw every line at 1.4 times the width of the shipped ones.
THEIRS = ToleranceBands(blemish_gaps=0.21, half_gaps=0.35, whole_gaps=0.56, blemish_ms=42, half_ms=63, whole_ms=98)


def rung(seed: int, spread_ms: float) -> StrikeLog:
    pulls, places = np.divmod(np.arange(120), 2)
    due = 0.3 * (13 * pulls + 6 * places)[:, None] + 0.3 * np.arange(6)
    times = np.sort((due + np.random.default_rng(seed).normal(scale=spread_ms / 1000, size=due.shape)).ravel())
    return StrikeLog(times, np.tile(np.arange(1, 7, dtype=np.int8), 120), np.zeros(720))


@pytest.fixture
def last_year(tmp_path: Path) -> Path:
    """A contest of eight bands, in strike logs and one judge's sheet."""
    folder = tmp_path / "last-year"
    for name in ("pieces", "logs", "sheets"):
        (folder / name).mkdir(parents=True)
    (folder / "rules.toml").write_text(RULES, encoding="utf-8")
    (folder / "pieces" / "rounds.txt").write_text("\n".join([ROW] * 120), encoding="utf-8")
    entries, sheet = "", "entry,total,comment\n"
    for index, spread_ms in enumerate(SPREADS_MS):
        log = rung(index, spread_ms)
        entries += f'[[entry]]\nid = "band-{index}"\nband = "Band {index}"\n'
        sheet += f"band-{index},{count_striking(log, PIECE, CountingRules(bands=THEIRS)).total},\n"
        (folder / "logs" / f"band-{index}.csv").write_text(write_log(log), encoding="utf-8")
    (folder / "entries.toml").write_text(entries, encoding="utf-8")
    (folder / "sheets" / "one.csv").write_text(sheet, encoding="utf-8")
    return folder


def test_the_lines_of_last_years_judges_are_written_for_this_years_rules(run: Runner, last_year: Path) -> None:
    ran = run("calibrate", last_year, "--json")
    assert ran.code == 0, ran.err
    found = json.loads(ran.out)
    assert found["scale"] == pytest.approx(1.4, abs=0.051)
    assert len(found["pieces"]) == len(SPREADS_MS)
    assert found["off"]["after"] < found["off"]["before"]
    this_year = read_rules(RULES + found["rules_toml"], name="rules.toml")
    assert this_year.counting.bands == ToleranceBands(**found["tolerance"])
    assert float(this_year.marks.machine.lines_unsure_percent) == pytest.approx(
        100 * found["scale_se"] / found["scale"], abs=0.051
    )
    assert this_year.fingerprint != read_rules(RULES, name="rules.toml").fingerprint


def test_a_person_reads_how_well_they_agree_and_what_to_put_in_the_rules(run: Runner, last_year: Path) -> None:
    ran = run("calibrate", last_year)
    assert ran.code == 0, ran.err
    assert "From 8 pieces: lines 1.4" in ran.out
    assert "people write all they hear; totals were " in ran.out
    toml = tomllib.loads(ran.out[ran.out.index("[tolerance]") :])
    assert toml["tolerance"]["half_gaps"] == pytest.approx(0.35, abs=0.013)
    assert toml["machine"]["lines_unsure_percent"] > 0


def test_an_archive_serves_as_well_as_a_folder_and_several_contests_as_one(
    run: Runner, last_year: Path, tmp_path: Path
) -> None:
    packed = Path(shutil.make_archive(str(tmp_path / "packed"), "zip", last_year))
    alone, twice = (json.loads(run("calibrate", *given, "--json").out) for given in ([packed], [packed, last_year]))
    assert alone["scale"] == twice["scale"]
    assert len(twice["pieces"]) == 2 * len(alone["pieces"])


def test_a_band_without_a_sheet_is_left_out_and_said_to_be(run: Runner, last_year: Path) -> None:
    sheet = last_year / "sheets" / "one.csv"
    sheet.write_text("".join(sheet.read_text(encoding="utf-8").splitlines(keepends=True)[:-1]), encoding="utf-8")
    ran = run("calibrate", last_year, "--json")
    assert ran.code == 0
    assert json.loads(ran.out)["remarks"] == ["last-year, band-7: left out, no sheet"]


def test_what_a_judge_changed_after_seeing_the_count_does_not_teach(run: Runner, last_year: Path) -> None:
    sheet = last_year / "sheets" / "one.csv"
    first = sheet.read_text(encoding="utf-8").splitlines()[1:]
    lines = [f"{line}1," for line in first] + [f"{line.split(',')[0]},1,,2,seen again" for line in first]
    sheet.write_text("entry,total,comment,revision,reason\n" + "\n".join(lines) + "\n", encoding="utf-8")
    found = json.loads(run("calibrate", last_year, "--json").out)
    assert found["scale"] == pytest.approx(1.4, abs=0.051)


def test_too_little_to_go_by_is_refused(run: Runner, last_year: Path) -> None:
    for index in range(3, 8):
        (last_year / "logs" / f"band-{index}.csv").unlink()
    ran = run("calibrate", last_year)
    assert ran.code == 2
    assert "3 pieces were counted by both, at least 6 are needed" in ran.err


def test_a_declared_saturation_is_how_the_count_stands_beside_the_judges(last_year: Path) -> None:
    rules = (last_year / "rules.toml").read_text(encoding="utf-8")
    before = judge_contest(read_folder(last_year).day)
    (last_year / "rules.toml").write_text(rules + "[counting]\nsaturation = 0.5\n", encoding="utf-8")
    after = judge_contest(read_folder(last_year).day)
    for entry, count in after.counts.items():
        assert count.total == before.counts[entry].total
        closed_form = 60 * (1 - np.exp(-float(count.total) / 60))
        assert float(after.machine_counts[entry]) == pytest.approx(closed_form, abs=0.2501)
        assert before.machine_counts[entry] == count.total
    assert after.machine_counts["band-7"] < before.machine_counts["band-7"] - Decimal(5)
