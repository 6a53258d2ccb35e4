"""Each command on good input, and on every kind of bad input: one message, exit code 2, nothing half-written."""

import csv
import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
import soundfile

from judging.store import Store

Runner = Callable[..., Any]
Demo = tuple[Path, Any]


def test_anyone_runs_a_draw_again(run: Runner, tmp_path: Path) -> None:
    """Against the arithmetic that the rules print: SHA-256 of seed, line feed, identifier; late ones last."""
    (tmp_path / "rules.toml").write_text('rules = 1\ntitle = "x"\n[draw]\nseed = "ball 17"\n', encoding="utf-8")
    entries = "".join(f'[[entry]]\nid = "{key}"\nband = "{key}"\n' for key in ("weir", "lock", "mill"))
    (tmp_path / "entries.toml").write_text(entries + "late = true\n", encoding="utf-8")
    lots = {key: hashlib.sha256(f"ball 17\n{key}".encode()).hexdigest() for key in ("weir", "lock", "mill")}
    expected = [*sorted(("weir", "lock"), key=lots.__getitem__), "mill"]

    assert [line.split()[1:] for line in run("draw", tmp_path).out.splitlines()] == [[k, lots[k]] for k in expected]
    document = json.loads(run("draw", tmp_path, "--json").out)
    assert [lot["entry"] for lot in document["order"]] == expected

    (tmp_path / "rules.toml").write_text('rules = 1\ntitle = "x"\n', encoding="utf-8")
    refused = run("draw", tmp_path)
    assert refused.code == 2
    assert "none is declared" in refused.err


def test_rows_are_printed_one_a_line(run: Runner, piece: Path) -> None:
    ran = run("rows", piece)
    lines = ran.out.split()
    assert ran.code == 0
    assert lines[-1] == "123456"
    assert "135264" in lines  # first lead head of Plain Bob Minor: Framework for Method Ringing, App. C


def test_what_a_command_made_is_one_document_on_standard_output(run: Runner, tmp_path: Path) -> None:
    """Whatever else is said goes to standard error, so that a program reads the answer as it stands."""
    (tmp_path / "pull.txt").write_text("123\n123\n", encoding="utf-8")
    rung = run("sound", tmp_path / "pull.txt", "-o", tmp_path / "pull.wav", "--room", "dry", "--json")
    assert json.loads(rung.out)["blows"] == 6, rung.err
    assert (tmp_path / "pull.wav").is_file()

    Store.open(tmp_path / "data").close()
    saved = json.loads(run("backup", tmp_path / "saved", "--data", tmp_path / "data", "--json").out)
    back = json.loads(run("restore", tmp_path / "saved", "--data", tmp_path / "back", "--json").out)
    assert saved | {"folder": ""} == back | {"folder": ""}
    assert (back["folder"], back["recordings"], back["missing"]) == (str(tmp_path / "back"), 0, [])


def test_a_piece_rung_ideally_counts_no_fault_at_the_pace_asked_for(run: Runner, piece: Path, tmp_path: Path) -> None:
    """Peal-speed arithmetic, closed form: six bells at 2h50 with a full open lead have a gap of 311 ms."""
    log = tmp_path / "ideal.csv"
    rows = run("rows", piece).out.split()
    gap = 2 * 170 * 60 / 5040 / 13
    times = [
        (pull * 13 * gap + half * 6 * gap + place * gap, int(bell))
        for index, row in enumerate(rows)
        for pull, half in [divmod(index, 2)]
        for place, bell in enumerate(row)
    ]
    log.write_text("time_s,bell\n" + "".join(f"{time:.6f},{bell}\n" for time, bell in times), encoding="utf-8")
    ran = run("count", log, "--piece", piece, "--json")
    document = json.loads(ran.out)
    assert ran.code == 0, ran.err
    assert document["total_faults"] == 0
    assert document["gap_ms"] == pytest.approx(311.4, abs=0.1)
    assert document["peal_minutes"] == pytest.approx(170, abs=0.05)
    assert document["handstroke_gap"] == pytest.approx(1, abs=0.01)
    assert {
        "id", "row", "change", "place", "bell", "stroke", "time_s", "deviation_ms", "own_ms", "spread_ms", "doubtful",
        "judged", "charge",
    } == set(document["blows"][0])  # fmt: skip


def test_every_blow_is_written_for_a_spreadsheet(run: Runner, piece: Path, tmp_path: Path) -> None:
    rows = run("rows", piece).out.split()
    log, table = tmp_path / "ideal.csv", tmp_path / "blows.csv"
    blows = [
        (index // 2 * 13 + index % 2 * 6 + place, bell)
        for index, row in enumerate(rows)
        for place, bell in enumerate(row)
    ]
    log.write_text("time_s,bell\n" + "".join(f"{0.3 * at:.3f},{bell}\n" for at, bell in blows), encoding="utf-8")
    ran = run("count", log, "--piece", piece, "--csv", table)
    lines = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert ran.code == 0, ran.err
    assert [(int(line["bell"]), float(line["time_s"])) for line in lines] == [
        (int(bell), pytest.approx(0.3 * at)) for at, bell in blows
    ]
    assert lines[0]["id"] == "blow-0-1"


def test_a_midi_file_by_a_general_library_counts_like_the_log_it_was_made_from(
    run: Runner, piece: Path, tmp_path: Path
) -> None:
    rows = run("rows", piece).out.split()
    file, track = mido.MidiFile(ticks_per_beat=1000), mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    lines, now = ["time_s,bell"], 0
    for index, row in enumerate(rows):
        for place, bell in enumerate(row):
            tick = (index // 2 * 13 + index % 2 * 6 + place) * 300
            if (index, place) == (9, 3):
                tick += 130
            track.append(mido.Message("note_on", note=90 - int(bell), velocity=80, time=tick - now))
            now = tick
            lines.append(f"{tick / 1000},{bell}")
    file.save(tmp_path / "touch.mid")
    (tmp_path / "touch.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    counts = [
        json.loads(run("count", tmp_path / name, "--piece", piece, "--json").out) for name in ("touch.mid", "touch.csv")
    ]
    assert counts[0]["blows"] == counts[1]["blows"]
    assert counts[0]["total_faults"] == 1


def test_a_made_recording_is_heard_and_counted(run: Runner, piece: Path, tmp_path: Path) -> None:
    assert run("sound", piece, "-o", tmp_path / "ideal.wav", "--room", "dry").code == 0
    ran = run("listen", tmp_path / "ideal.wav", "--piece", piece, "-o", tmp_path / "heard.csv")
    assert ran.code == 0, ran.err
    assert "no faults in 60 rows" in run("count", tmp_path / "heard.csv", "--piece", piece).out
    counted = json.loads(run("count", tmp_path / "heard.csv", "--piece", piece, "--json").out)
    assert counted["total_faults"] == 0
    assert max(abs(blow["deviation_ms"]) for blow in counted["blows"]) < 5


def test_one_touch_of_a_log_is_counted_by_when_it_was_rung(run: Runner, piece: Path, tmp_path: Path) -> None:
    rows = run("rows", piece).out.split()
    blows = [
        (at_s + (index // 2 * 13 + index % 2 * 6 + place) * 0.3, bell)
        for at_s in (2.0, 400.0)
        for index, row in enumerate(rows)
        for place, bell in enumerate(row)
    ]
    log = tmp_path / "evening.csv"
    log.write_text("time_s,bell\n" + "".join(f"{time:.3f},{bell}\n" for time, bell in blows), encoding="utf-8")
    counted = json.loads(run("count", log, "--piece", piece, "--from", "390", "--json").out)
    assert counted["total_faults"] == 0
    assert min(blow["time_s"] for blow in counted["blows"]) == pytest.approx(400.0)
    assert len(counted["blows"]) == len(blows) / 2


@pytest.mark.parametrize("command", ["listen", "count"])
def test_a_part_that_ends_before_it_begins_is_refused(run: Runner, piece: Path, tmp_path: Path, command: str) -> None:
    file = tmp_path / "log.csv"
    file.write_text("time_s,bell\n1.0,1\n", encoding="utf-8")
    ran = run(command, file, "--piece", piece, "--from", "90", "--to", "30")
    assert ran.code == 2
    assert "--from: 90 s is not before --to, 30 s" in ran.err


def test_a_touch_is_rung_on_the_bells_of_a_recording(run: Runner, piece: Path, tmp_path: Path) -> None:
    """Rung again on its own bells, a recording is heard by an ear that knows those bells, and by no other."""
    made = run("sound", piece, "-o", tmp_path / "band.wav", "--room", "dry", "--seed", 7)
    assert made.code == 0
    voices = tmp_path / "tower.npz"
    log = tmp_path / "band.csv"
    assert run("listen", tmp_path / "band.wav", "--piece", piece, "--keep-voices", voices, "-o", log).code == 0
    again = run(
        "sound",
        piece,
        "-o",
        tmp_path / "own.wav",
        "--log",
        log,
        "--bells-of",
        tmp_path / "band.wav",
        "--bells-log",
        log,
    )
    assert again.code == 0, again.err
    ran = run("listen", tmp_path / "own.wav", "--piece", piece, "--voices", voices)
    assert ran.code == 0, ran.err
    assert "the voices given were not used" not in ran.err
    bells = [[line.split(",")[1] for line in text.split()[1:]] for text in (ran.out, log.read_text())]
    assert bells[0] == bells[1]

    few = tmp_path / "few.csv"
    few.write_text("\n".join(log.read_text().splitlines()[:30]) + "\n")
    refused = run("sound", piece, "-o", tmp_path / "x.wav", "--bells-of", tmp_path / "band.wav", "--bells-log", few)
    assert refused.code == 2
    assert "bell 1 was struck" in refused.err
    assert not (tmp_path / "x.wav").exists()
    refused = run("sound", piece, "-o", tmp_path / "x.wav", "--bells-log", log)
    assert refused.code == 2
    assert "says nothing without --bells-of" in refused.err


def test_voices_kept_from_one_recording_serve_the_next(run: Runner, piece: Path, tmp_path: Path) -> None:
    """One whole pull on the same bells, rung after them: nothing but the file tells which bell is which."""
    pull = tmp_path / "pull.txt"
    pull.write_text("123456\n123456\n", encoding="utf-8")
    for what, name in ((piece, "long.wav"), (pull, "pull.wav")):
        assert run("sound", what, "-o", tmp_path / name, "--room", "dry").code == 0
    voices = tmp_path / "tower.npz"
    ran = run("listen", tmp_path / "long.wav", "--piece", piece, "--keep-voices", voices, "-o", tmp_path / "long.csv")
    assert ran.code == 0, ran.err
    assert "The voices of 6 bells are kept" in ran.err
    ran = run("listen", tmp_path / "pull.wav", "--piece", pull, "--voices", voices)
    assert ran.code == 0, ran.err
    assert [line.split(",")[1] for line in ran.out.split()[1:]] == list("123456123456")
    ran = run("listen", tmp_path / "pull.wav", "--piece", pull, "--voices", tmp_path / "long.csv")
    assert ran.code == 2
    assert "is not a file of kept voices" in ran.err


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda _path: None, "there is no such recording"),
        (lambda path: path.write_bytes(b""), "empty"),
        (
            lambda path: path.write_bytes(b"Dear organiser, here are the recordings." * 50),
            "cannot be read as a recording",
        ),
        (lambda path: soundfile.write(path, np.zeros(44_100 * 20), 44_100), "silen"),
    ],
    ids=["missing", "empty", "a letter", "silent"],
)
def test_an_unusable_recording_is_refused_and_no_log_is_left(
    run: Runner, piece: Path, tmp_path: Path, make: Callable[[Path], object], says: str
) -> None:
    recording, log = tmp_path / "touch.wav", tmp_path / "log.csv"
    make(recording)
    ran = run("listen", recording, "--piece", piece, "-o", log)
    assert ran.code == 2, ran.err
    assert says in ran.err
    assert "touch.wav" in ran.err
    assert "Traceback" not in ran.err
    assert not log.exists()


def test_a_recording_of_something_else_is_said_to_be_so(run: Runner, piece: Path, tmp_path: Path) -> None:
    noise = np.random.default_rng(3).normal(0, 0.1, 44_100 * 20)
    soundfile.write(tmp_path / "wind.wav", noise, 44_100)
    ran = run("listen", tmp_path / "wind.wav", "--piece", piece, "-o", tmp_path / "log.csv")
    assert ran.code == 1
    assert "wind.wav" in ran.err
    assert not (tmp_path / "log.csv").exists()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time_s,bell\n0.0,1\n0.3,7\n", "line 3"),
        ("time_s,bell\n0.3,1\n0.1,2\n", "line 3"),
        ("time_s,bell\nnan,1\n", "line 2"),
        ("when,who\n0.3,1\n", "time_s"),
        ("", "empty"),
    ],
    ids=["unknown bell", "out of order", "not a number", "no header", "empty"],
)
def test_a_bad_log_is_refused_by_file_and_line(run: Runner, piece: Path, tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "touch.csv").write_text(text, encoding="utf-8")
    ran = run("count", tmp_path / "touch.csv", "--piece", piece)
    assert ran.code == 2, ran.err
    assert "touch.csv" in ran.err
    assert says in ran.err


def test_a_piece_with_a_wrong_number_of_bells_is_refused_by_line(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "rows.txt").write_text("123456\n21436\n", encoding="utf-8")
    ran = run("rows", tmp_path / "rows.txt")
    assert ran.code == 2
    assert "line 2" in ran.err


def test_an_unknown_key_of_the_rules_is_refused_with_what_was_meant(run: Runner, demo: Demo, tmp_path: Path) -> None:
    out, _ = demo
    folder = tmp_path / "contest"
    shutil.copytree(out, folder, ignore=shutil.ignore_patterns("recordings", "papers", "counts"))
    rules = folder / "rules.toml"
    rules.write_text(rules.read_text(encoding="utf-8").replace("percent = 15", "per_cent = 15"), encoding="utf-8")
    ran = run("rank", folder)
    assert ran.code == 2
    assert "rules.toml" in ran.err
    assert "per_cent" in ran.err
    assert "percent" in ran.err


def test_one_bad_recording_stops_a_contest_before_anything_is_written(run: Runner, demo: Demo, tmp_path: Path) -> None:
    out, _ = demo
    folder = tmp_path / "contest"
    shutil.copytree(out, folder, ignore=shutil.ignore_patterns("*.wav", "papers", "counts", "result.json"))
    (folder / "logs" / "tillingate.csv").unlink()
    (folder / "recordings" / "tillingate.wav").write_bytes(b"RIFF")
    ran = run("contest", folder, "--out", tmp_path / "judged")
    assert ran.code == 2, ran.err
    assert "tillingate.wav" in ran.err
    assert not (tmp_path / "judged").exists()


def test_a_log_that_is_not_the_piece_is_told_beside_the_result(run: Runner, demo: Demo, tmp_path: Path) -> None:
    out, _ = demo
    folder = tmp_path / "contest"
    shutil.copytree(out, folder, ignore=shutil.ignore_patterns("recordings", "papers", "counts", "*.json"))
    rounds = "".join(f"{0.3 * blow:.1f},{blow % 6 + 1}\n" for blow in range(780))
    (folder / "logs" / "tillingate.csv").write_text(f"time_s,bell\n{rounds}", encoding="utf-8")
    ran = run("rank", folder)
    assert ran.code == 0
    assert "Tillingate: no part for the machine: only rounds were heard" in ran.out
    assert ran.out.count("no part for the machine") == 1


def test_a_folder_with_logs_is_judged_into_an_archive_that_recounts(run: Runner, demo: Demo, tmp_path: Path) -> None:
    out, _ = demo
    folder = tmp_path / "contest"
    shutil.copytree(out, folder, ignore=shutil.ignore_patterns("recordings", "papers", "counts", "result.json"))
    ran = run("contest", folder, "--json")
    assert ran.code == 0, ran.err
    judged = tmp_path / "contest-judged"
    printed = json.loads(ran.out)
    (beside,) = printed.pop("cross_check")
    assert printed == json.loads((judged / "result.json").read_text(encoding="utf-8"))
    assert beside["lines"]["result"]["stands"]
    assert set(beside["judges"]["by_judge"]) == {"first-judge", "second-judge"}
    assert run("recount", judged).code == 0
