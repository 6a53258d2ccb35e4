"""What every test shares: the command as a person runs it, and the demo contest made once for everybody.

In CI the examples drawn are the same each time, so that a failure can be had again.
"""

import os
import random
import socket
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("ci")


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


@pytest.fixture
def steady_port() -> int:
    """A port that a server can be killed on and started again: below those that outgoing connections are given."""
    chance = random.Random()  # noqa: S311 any will do
    while True:
        port = chance.randrange(20_000, 32_000)
        with socket.socket() as free, suppress(OSError):
            free.bind(("127.0.0.1", port))
            return port


@pytest.fixture(scope="session")
def run() -> Callable[..., Ran]:
    return evenblow


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    """The finished demo contest and what making it printed."""
    out = tmp_path_factory.mktemp("demo") / "out"
    return out, evenblow("demo", "--out", out)
