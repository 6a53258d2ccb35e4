"""Where the papers go is looked at before anything is heard."""

from pathlib import Path

import pytest

from judging.errors import InputError
from judging.files import check_can_be_written
from judging.jobs.judge_folder import judge_folder


def test_a_file_in_the_way_is_refused_before_the_folder_is_even_read(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(InputError, match=r"result\.json: cannot be written: .*taken is a file and not a folder"):
        judge_folder(tmp_path / "no such folder", out=tmp_path / "taken", progress=None)  # type: ignore[arg-type]  # never reached


def test_nothing_is_made_where_something_could_be_written(tmp_path: Path) -> None:
    check_can_be_written(tmp_path / "a" / "b" / "log.csv")
    assert list(tmp_path.iterdir()) == []
