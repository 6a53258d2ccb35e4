"""The demo contest from recordings to certificates, as the command runs it."""

import csv
import hashlib
import json
import shutil
import subprocess
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

Runner = Callable[..., Any]
Demo = tuple[Path, Any]


def test_the_demo_prints_the_ranked_table_and_ends_well(demo: Demo) -> None:
    out, ran = demo
    assert ran.code == 0, ran.err
    order = [ran.out.index(f" {band} ") for band in ("Tillingate", "Netherwick", "Marrow Green", "Upper Fosslow")]
    assert sorted(order) == order
    assert "Scratch band: judged, not placed" in ran.out
    assert "above it by fewest whole faults: 4 against 6" in ran.out
    assert (out / "result.json").is_file()


def test_the_marks_are_the_sums_of_the_sheets_and_the_borrowed_ringer_costs_fifteen_per_cent(demo: Demo) -> None:
    out, _ = demo
    sums: dict[str, Decimal] = {}
    for name, column in (("first-judge", "faults"), ("second-judge", "total")):
        for line in csv.DictReader((out / "sheets" / f"{name}.csv").read_text(encoding="utf-8").splitlines()):
            sums[line["entry"]] = sums.get(line["entry"], Decimal(0)) + Decimal(line[column])
    sums["fosslow"] *= Decimal("1.15")
    document = json.loads((out / "result.json").read_text(encoding="utf-8"))
    assert {line["entry"]: Decimal(str(line["mark"])) for line in document["places"]} == sums
    assert document["lower_is_better"]
    assert [(line["entry"], line["place"], line["tied"]) for line in document["places"]] == [
        ("tillingate", 1, False),
        ("netherwick", 2, False),
        ("marrow-green", 3, False),
        ("fosslow", 4, False),
        ("odds-and-evens", None, False),
    ]


def test_each_band_is_told_what_its_ringing_was_made_to_show(demo: Demo) -> None:
    """The characters of `ringing.toml`, found again in the sound alone."""
    out, _ = demo

    def told(entry: str) -> str:
        document = json.loads((out / "counts" / f"{entry}.json").read_text(encoding="utf-8"))
        return json.dumps(document, ensure_ascii=False)

    assert "6 strikes late at backstroke" in told("netherwick")
    table = csv.DictReader((out / "counts" / "netherwick.csv").read_text(encoding="utf-8").splitlines())
    total = json.loads((out / "counts" / "netherwick.json").read_text(encoding="utf-8"))["total_faults"]
    assert sum(float(line["charge"]) for line in table) == total
    assert "leads early at handstroke" in told("fosslow")
    assert "right again at change 71" in told("marrow-green")
    assert "pull-off" in told("tillingate")
    totals = {
        path.stem: json.loads(path.read_text(encoding="utf-8"))["total_faults"]
        for path in (out / "counts").glob("*.json")
    }
    assert min(totals, key=totals.__getitem__) == "odds-and-evens"


def test_a_certificate_for_every_placed_band_and_sheets_for_all_are_printed(demo: Demo) -> None:
    out, _ = demo
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler's pdftotext is not installed")
    text = _text(out / "papers" / "certificates.pdf")
    assert [band for band in ("Tillingate", "Netherwick", "Marrow Green", "Upper Fosslow") if band in text]
    assert "Odds and Evens" not in text
    assert "32½" in _text(out / "papers" / "results.pdf")
    for entry in ("tillingate", "netherwick", "marrow-green", "fosslow", "odds-and-evens"):
        assert "rows" in _text(out / "papers" / f"fault-sheet-{entry}.pdf")
        assert (out / "papers" / f"fault-sheet-{entry}.html").is_file()


def test_the_demo_gives_the_same_bytes_twice(demo: Demo, run: Runner, tmp_path: Path) -> None:
    out, _ = demo
    ran = run("demo", "--out", tmp_path / "again")
    assert ran.code == 0, ran.err
    assert _hashes(tmp_path / "again") == _hashes(out)


def test_recounting_finds_no_difference_until_a_sheet_is_changed(demo: Demo, run: Runner, tmp_path: Path) -> None:
    out, _ = demo
    assert run("recount", out).code == 0
    changed = tmp_path / "changed"
    shutil.copytree(out, changed, ignore=shutil.ignore_patterns("recordings"))
    sheet = changed / "sheets" / "second-judge.csv"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("20.5", "21"), encoding="utf-8")
    packed = shutil.make_archive(str(tmp_path / "archive"), "zip", changed)
    ran = run("recount", packed)
    assert ran.code == 1
    assert "netherwick, place: was 2, is now 3" in ran.out


def test_ranking_the_demo_folder_agrees_with_the_demo(demo: Demo, run: Runner) -> None:
    out, _ = demo
    ran = run("rank", out, "--json")
    assert ran.code == 0, ran.err
    ranked, result = json.loads(ran.out), json.loads((out / "result.json").read_text(encoding="utf-8"))
    (beside,) = ranked.pop("cross_check")  # advice is printed beside the result, and is not part of what is kept
    assert ranked == result
    assert beside["section"] == result["sections"][0]["section"]
    assert beside["safety"]["resamples"] >= 1000
    assert all(0 <= line["safety"] <= 1 for line in ranked["places"] if line["place"])


def test_a_folder_with_something_else_in_it_is_not_written_into(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "diary.txt").write_text("private", encoding="utf-8")
    ran = run("demo", "--out", tmp_path)
    assert ran.code == 2
    assert "holds something that is not a demo contest" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["diary.txt"]


def _text(path: Path) -> str:
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, text=True)
    return done.stdout


def _hashes(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
