"""What is written is whole or not there at all."""

import resource
import signal
import sys
from pathlib import Path

import pytest

from judging.errors import InputError
from judging.files import write_file


@pytest.mark.skipif(sys.platform != "linux", reason="only there can a file's size be limited like a full disk's")
def test_a_disk_that_fills_up_leaves_the_old_file_and_no_half_of_the_new_one(tmp_path: Path) -> None:
    """The system's limit on a file's size fails a write as a full disk does: in the middle, and told late."""
    path = tmp_path / "log.csv"
    path.write_text("old", encoding="utf-8")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        with pytest.raises(InputError, match=r"log\.csv: cannot be written \(File too large\)"):
            write_file(path, b"x" * 5000)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)
    assert [one.name for one in tmp_path.iterdir()] == ["log.csv"]
    assert path.read_text(encoding="utf-8") == "old"
