"""An archive is made whole in its folder: the same bytes again, nothing of an earlier run left, a broken one known."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from judging.jobs.judge_folder import judge_folder
from judging.jobs.recount import recount
from judging.jobs.workers import Step

from .conftest import LOG, ROWS, RULES


class Unseen:
    """Progress that nobody looks at."""

    def line(self, name: str) -> Step:
        del name
        return lambda _share, _doing: None


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three bands with logs, one judge."""
    folder = tmp_path / "contest"
    inside = {
        "rules.toml": RULES,
        "entries.toml": "".join(f'[[entry]]\nid = "{key}"\nband = "{key}"\n' for key in ("ash", "birch", "cedar")),
        "pieces/hunt.txt": ROWS,
        "sheets/a.csv": "entry,total\nash,3\nbirch,4\ncedar,5\n",
        **{f"logs/{key}.csv": LOG for key in ("ash", "birch", "cedar")},
    }
    for name, text in inside.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_an_archive_lists_all_it_holds_and_is_the_same_bytes_again(folder: Path, tmp_path: Path) -> None:
    for out in (tmp_path / "once", tmp_path / "again"):
        judge_folder(folder, out=out, progress=Unseen())
        assert recount(out) == ()
    made = digests(tmp_path / "once")
    assert made == digests(tmp_path / "again")
    listed = json.loads((tmp_path / "once" / "archive.json").read_text())["files"]
    assert listed == {name: digest for name, digest in made.items() if name != "archive.json"}


def test_a_band_gone_from_the_folder_is_gone_from_the_archive_made_again(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "judged"
    judge_folder(folder, out=out, progress=Unseen())
    (out / "photograph.png").write_bytes(b"the winners")
    (out / "logs" / "mine.txt").write_text("not the archive's")
    before = set(digests(out))
    entries = (folder / "entries.toml").read_text()
    (folder / "entries.toml").write_text(entries.replace('band = "cedar"\n', 'band = "cedar"\nwithdrawn = "ill"\n'))
    (folder / "sheets" / "a.csv").write_text("entry,total\nash,3\nbirch,4\n")
    (folder / "logs" / "cedar.csv").unlink()

    judge_folder(folder, out=out, progress=Unseen())

    gone = before - set(digests(out))
    assert {"logs/cedar.csv", "counts/cedar.csv", "counts/cedar.json"} < gone
    assert all("cedar" in name for name in gone)
    (out / "logs" / "mine.txt").unlink()
    assert recount(out) == ()


def test_an_archive_whose_writing_was_broken_off_is_known_by_its_list(folder: Path, tmp_path: Path) -> None:
    out, other = tmp_path / "judged", tmp_path / "other"
    judge_folder(folder, out=out, progress=Unseen())
    (folder / "sheets" / "a.csv").write_text("entry,total\nash,9\nbirch,4\ncedar,5\n")
    judge_folder(folder, out=other, progress=Unseen())
    shutil.copy(other / "sheets" / "a.csv", out / "sheets" / "a.csv")  # as far as a second run came

    assert recount(out)[0] == "sheets/a.csv: was changed after the archive was made"
