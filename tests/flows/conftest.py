"""The command as a person runs it, and the demo contest made once for everybody."""

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str


def evenblow(*words: str | Path, cwd: Path | None = None) -> Ran:
    """Run the installed command."""
    command = [str(Path(sys.executable).parent / "evenblow"), *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=cwd, timeout=600, check=False)
    return Ran(done.returncode, done.stdout, done.stderr)


@pytest.fixture(scope="session")
def run() -> Callable[..., Ran]:
    return evenblow


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    """The finished demo contest and what making it printed."""
    out = tmp_path_factory.mktemp("demo") / "out"
    return out, evenblow("demo", "--out", out)


@pytest.fixture
def piece(tmp_path: Path) -> Path:
    """Four whole pulls of rounds and a plain course of Plain Bob Minor."""
    path = tmp_path / "minor.toml"
    lines = ("piece = 1", 'title = "A course"', 'method = "Plain Bob Minor"', "opening_rows = 8", "closing_rows = 2")
    path.write_text("\n".join(lines), encoding="utf-8")
    return path
