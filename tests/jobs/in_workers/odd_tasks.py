"""Tasks that behave in every way a task can, for workers to run: this folder is put on their path."""

import os
import signal
import time
from pathlib import Path

from judging.errors import InputError
from judging.jobs.limits import Limits, limited
from judging.jobs.workers import Step


def answer(text: str, *, progress: Step) -> str:
    """Tell progress, and answer."""
    progress(0.5, "halfway")
    return text.upper()


def refuse(_text: str, *, progress: Step) -> str:
    del progress
    raise InputError("the recording", "is silent from beginning to end")


def break_down(_text: str, *, progress: Step) -> str:
    del progress
    return str(1 // 0)


def wait_for(path: str, *, progress: Step) -> str:
    """Say that it has begun, and wait for a file to appear."""
    progress(0.25, "waiting")
    while not Path(path).exists():
        time.sleep(0.01)
    return "WAITED"


def die_once(path: str, *, progress: Step) -> str:
    """Kill its own worker the first time; the second time all is well."""
    if not Path(path).exists():
        Path(path).touch()
        die("", progress=progress)
    return "SURVIVED"


def die(_text: str, *, progress: Step) -> str:
    """Kill its own worker, as a crash in native code would."""
    progress(0.75, "about to crash")
    os.kill(os.getpid(), signal.SIGKILL)
    return "NEVER"


def never_end(_text: str, *, progress: Step) -> str:
    """Hang, within a limit of one fifth of a second."""
    del progress
    with limited(Limits(memory_bytes=2**30, seconds=0.2)):
        time.sleep(600)
    return "NEVER"


def devour(_text: str, *, progress: Step) -> str:
    """Ask for four times what it may have."""
    del progress
    with limited(Limits(memory_bytes=64 * 2**20, seconds=60)):
        return str(len(bytearray(256 * 2**20)))
