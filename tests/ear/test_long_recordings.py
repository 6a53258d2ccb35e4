"""What a long recording needs is on the disk and let go block by block: the answer is the same, the memory small."""

import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest

from judging.ear import listen, tables

from .conftest import Demo

ENTRY = "netherwick"


def test_a_touch_is_heard_the_same_with_everything_on_the_disk(
    demo: Callable[[str], Demo], monkeypatch: pytest.MonkeyPatch
) -> None:
    rung = demo(ENTRY)
    for module in ("tables", "decode"):
        monkeypatch.setattr(f"judging.ear.{module}.IN_MEMORY", 1000)
    again = listen(rung.path, rung.piece)
    np.testing.assert_array_equal(again.log.times_s, rung.heard.log.times_s)
    np.testing.assert_array_equal(again.log.bells, rung.heard.log.bells)


def test_a_table_on_the_disk_keeps_its_values_when_it_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "IN_MEMORY", 1000)
    table = tables.table(500, 7)
    table[:] = np.arange(3500).reshape(500, 7)
    tables.let_go(table[10:20])
    np.testing.assert_array_equal(table, np.arange(3500).reshape(500, 7))


@pytest.mark.skipif(sys.platform != "linux", reason="what a process takes is told by Linux alone in this way")
def test_reading_a_large_table_takes_little_memory() -> None:
    """Two hundred megabytes read in blocks of two, in a process of its own, whose high water is its own too."""
    read = """
import re
from pathlib import Path
from judging.ear.tables import let_go, table
def most():
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1e3
before = most()
large = table(500_000, 100)
for block in range(0, 500_000, 5_000):
    large[block : block + 5_000] = block
    let_go(large)
print(most() - before)
"""
    told = subprocess.run([sys.executable, "-c", read], capture_output=True, text=True, check=True).stdout
    assert float(told) < 30


@pytest.mark.skipif(sys.platform != "linux", reason="only there can a task's memory be limited")
def test_a_table_on_the_disk_is_not_counted_as_memory_that_a_task_takes() -> None:
    """Half a gigabyte on the disk within a limit of a tenth of it in memory, in a process of its own."""
    task = """
from judging.ear.tables import table
from judging.jobs.limits import Limits, limited
with limited(Limits(memory_bytes=50_000_000, seconds=60)):
    on_the_disk = table(1_000_000, 130)
    on_the_disk[::10_000] = 1
    try:
        bytearray(100_000_000)
    except MemoryError:
        print("limited")
"""
    assert (
        subprocess.run([sys.executable, "-c", task], capture_output=True, text=True, check=True).stdout == "limited\n"
    )
