"""A contest folder is read whole or refused by the place of what is wrong; nothing of it is passed over in silence."""

import io
from collections.abc import Callable
from pathlib import Path

import mido
import pytest

from judging.contest import judge_contest
from judging.errors import InputError
from judging.store import Store, import_folder, strike_logs_of
from judging.store.contest_folder import read_folder

RULES = """
rules = 1
title = "Deanery Contest"
[[section]]
name = "Four bells"
piece = "hunt"
[[judge]]
id = "a"
name = "Judge A"
[draw]
seed = "larch"
"""
ENTRIES = "".join(f'[[entry]]\nid = "{key}"\nband = "{key}"\n' for key in ("ash", "birch", "cedar"))
ROWS = "1234\n2143\n2413\n4231\n4321\n3412\n3142\n1324\n1234\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three bands, one judge, no log."""
    inside = {
        "rules.toml": RULES,
        "entries.toml": ENTRIES,
        "pieces/hunt.txt": ROWS,
        "sheets/a.csv": "entry,total\nash,3\nbirch,4\ncedar,5\n",
    }
    for name, text in inside.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


#: Four bells on keys that do not fall from treble to tenor.
KEYS = (40, 60, 41, 70)


def midi_of(rows: str, keys: tuple[int, ...]) -> bytes:
    """A touch as a general library writes it: 0.25 s from blow to blow, and a full open handstroke lead."""
    track, late = mido.MidiTrack(), 0
    for number, row in enumerate(rows.split()):
        late += 120 if number and number % 2 == 0 else 0
        for bell in row:
            track.append(mido.Message("note_on", note=keys[int(bell) - 1], velocity=80, time=late))
            track.append(mido.Message("note_off", note=keys[int(bell) - 1], velocity=0, time=100))
            late = 20
    file = mido.MidiFile(ticks_per_beat=240)  # at the standard's 120 beats a minute, 480 ticks a second
    file.tracks.append(track)
    written = io.BytesIO()
    file.save(file=written)
    return written.getvalue()


def change(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text(encoding="utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new), encoding="utf-8")


def test_without_a_declared_draw_bands_are_taken_as_entered_and_it_is_said(folder: Path) -> None:
    assert read_folder(folder).day.order != ("ash", "birch", "cedar")  # the lots of "larch", SHA-256
    change(folder, "rules.toml", '[draw]\nseed = "larch"\n', "")

    found = read_folder(folder)

    assert found.day.order == ("ash", "birch", "cedar")
    assert found.remarks == ("No draw is declared: bands are taken to have rung in the order of entries.toml",)
    assert [place.entry for place in judge_contest(found.day).results[0].places] == ["ash", "birch", "cedar"]


def test_an_order_written_down_goes_before_the_draws(folder: Path) -> None:
    (folder / "order.txt").write_text("cedar\nash\nbirch\n")
    assert read_folder(folder).day.order == ("cedar", "ash", "birch")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda folder: (folder / "log").mkdir(), r"/log: is not read; is it meant to be logs/\?"),
        (lambda folder: (folder / "Recordings").mkdir(), r"/Recordings: is not read; is it meant to be recordings/\?"),
        (lambda folder: (folder / "logs").write_text(""), r"/logs: is a file where a folder is needed"),
        (lambda folder: (folder / "logs" / "ash.csv").mkdir(parents=True), r"/ash\.csv: is a folder where a file"),
        (
            lambda folder: change(folder, "rules.toml", 'title = "Deanery Contest"', f"title = {'9' * 5_000}"),
            r"rules\.toml: it is no TOML file that can be read: a number",
        ),
        (
            lambda folder: change(folder, "entries.toml", 'band = "ash"', 'band = "ash"\nrestart_changes = 20'),
            r"\[\[entry\]\] 1, restart_changes: .* but restarts is 0",
        ),
    ],
    ids=["log", "Recordings", "logs a file", "a log a folder", "a number without end", "a restart of nothing"],
)
def test_what_would_be_passed_over_is_refused(folder: Path, wrong: Callable[[Path], object], said: str) -> None:
    wrong(folder)
    with pytest.raises(InputError, match=said):
        read_folder(folder)


def test_other_folders_and_files_are_the_organisers_own(folder: Path) -> None:
    for name in ("photographs", "papers", "counts", "old results"):
        (folder / name).mkdir()
    (folder / "notes.txt").write_text("bring the trophy")
    assert [entry.id for entry in read_folder(folder).day.entries] == ["ash", "birch", "cedar"]


def test_a_file_where_a_folder_is_asked_for_is_said_to_be_one(folder: Path) -> None:
    with pytest.raises(InputError, match=r"rules\.toml: is a file; a contest is a folder"):
        read_folder(folder / "rules.toml")


def test_an_agreed_mark_of_two_judges_is_refused_with_how_a_panel_is_declared(folder: Path) -> None:
    change(
        folder, "rules.toml", "[draw]", '[[judge]]\nid = "b"\nname = "B"\n[combining]\npolicy = "agreed mark"\n[draw]'
    )
    with pytest.raises(InputError, match=r"one sheet from the panel, but 2 judges are declared: .* one \[\[judge\]\]"):
        judge_contest(read_folder(folder).day)


def test_a_panel_signs_one_agreed_sheet_and_revises_it_as_one_judge(folder: Path) -> None:
    change(folder, "rules.toml", 'name = "Judge A"', 'name = "Judges A, B and C"')
    change(folder, "rules.toml", "[draw]", '[combining]\npolicy = "agreed mark"\n[draw]')
    (folder / "sheets" / "a.csv").write_text(
        "entry,total,revision,reason\nash,3,1,\nbirch,4,1,\ncedar,5,1,\nash,6,2,two clips missed\n"
    )

    day = read_folder(folder).day
    (result,) = judge_contest(day).results

    assert [(place.entry, place.mark) for place in result.places] == [("birch", 4), ("cedar", 5), ("ash", 6)]
    assert [(sheet.revision, sheet.total) for sheet in day.sheets if sheet.entry == "ash"] == [(1, 3), (2, 6)]


def test_a_section_says_which_note_of_a_midi_log_is_which_bell(folder: Path, store: Store) -> None:
    (folder / "logs").mkdir()
    (folder / "logs" / "ash.mid").write_bytes(midi_of(ROWS, KEYS))
    bells = [int(bell) for row in ROWS.split() for bell in row]
    assert read_folder(folder).day.logs["ash"].bells.tolist() != bells  # the highest key is not the treble

    change(folder, "rules.toml", 'piece = "hunt"', 'piece = "hunt"\nnotes = "40,60,41,70"')
    assert read_folder(folder).day.logs["ash"].bells.tolist() == bells
    contest_id = import_folder(store, folder, who="organiser")
    with store.read() as session:
        assert strike_logs_of(session, contest_id)["ash"].bells.tolist() == bells

    change(folder, "rules.toml", "40,60,41,70", "40,60,41")
    with pytest.raises(InputError, match='section "Four bells", notes: 3 notes for a piece on 4 bells'):
        read_folder(folder)
    change(folder, "rules.toml", "40,60,41", "40,60,40,70")
    with pytest.raises(InputError, match=r"rules\.toml, \[\[section\]\] 1, notes: .* two bells the same note"):
        read_folder(folder)


def test_notes_do_not_touch_a_log_that_names_its_bells(folder: Path) -> None:
    (folder / "logs").mkdir()
    times = "".join(f"{0.3 * at:.1f},{bell}\n" for at, bell in enumerate(ROWS.replace("\n", "")))
    (folder / "logs" / "ash.csv").write_text("time_s,bell\n" + times)
    change(folder, "rules.toml", 'piece = "hunt"', 'piece = "hunt"\nnotes = "40,60,41,70"')
    assert "".join(map(str, read_folder(folder).day.logs["ash"].bells)) == ROWS.replace("\n", "")
