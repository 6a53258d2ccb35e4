"""What every test shares: how the suite is run, the command as a person runs it, and the demo contest made once.

In CI the examples drawn are the same each time, so that a failure can be had again. No example has a time limit
anywhere: how long one takes says more of what else the machine does than of us.
"""

import fcntl
import json
import os
import random
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Generator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("here"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")

# Pages tell times by the computer's own clock; for the tests it stands in one zone, whoever runs them.
os.environ["TZ"] = "UTC"
time.tzset()

#: More workers than this want more memory, and make what is made once a worker more often, than they save.
MOST_WORKERS = 4


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """Run the whole suite on every core; what is named on the command line runs here, where it can be stopped at.

    ``-n`` says otherwise. One worker more than there are cores, since who drives a browser or a microphone mostly
    waits. Each begins with a stretch of its own and then takes over what others have left, so that what is made once
    for a file is hardly ever made twice. A worker comes by here too, and must not begin workers.
    """
    option = config.option
    everything = config.args_source is not pytest.Config.ArgsSource.ARGS and not hasattr(config, "workerinput")
    if everything and config.pluginmanager.hasplugin("xdist") and option.numprocesses is None and not option.usepdb:
        option.numprocesses = min((os.cpu_count() or 1) + 1, MOST_WORKERS)
        if option.dist == "no":
            option.dist = "worksteal"


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Let what plays in real time have the machine to itself: the other workers finish their test, then wait for it.

    A sound that is played cannot wait for a busy machine as everything else can. Who waits for the machine holds the
    gate, so that it is not kept out by those who would come after.
    """
    alone = item.get_closest_marker("in_real_time") is not None
    with Path(__file__).open() as gate, (item.config.rootpath / "pyproject.toml").open() as machine:
        fcntl.flock(gate, fcntl.LOCK_EX)
        fcntl.flock(machine, fcntl.LOCK_EX if alone else fcntl.LOCK_SH)
        fcntl.flock(gate, fcntl.LOCK_UN)
        return (yield)


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str


def evenblow(*words: str | Path, cwd: Path | None = None) -> Ran:
    """Run the installed command."""
    command = [str(Path(sys.executable).parent / "evenblow"), *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=cwd, timeout=1800, check=False)
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
def empty_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with nothing in it, to be copied: to make one takes every migration there ever was."""
    from judging.store import Settings, Store  # noqa: PLC0415 rooms without a store do not wait for its libraries

    data = tmp_path_factory.mktemp("empty") / "data"
    Store.open(data, Settings(data=data, min_free_bytes=0)).close()
    return data


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    """The finished demo contest and what making it printed: made by one worker, read by all."""
    mine = tmp_path_factory.getbasetemp()
    folder = mine.parent if "PYTEST_XDIST_WORKER" in os.environ else mine
    out, said = folder / "demo", folder / "demo.json"
    with (folder / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not said.exists():
            said.write_text(json.dumps(asdict(evenblow("demo", "--out", out))), encoding="utf-8")
    return out, Ran(**json.loads(said.read_text(encoding="utf-8")))
