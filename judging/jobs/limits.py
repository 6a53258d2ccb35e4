"""How much one task may take of its worker process: memory and time.

Decoders are native code fed with strangers' files. What exceeds its memory gets a `MemoryError`; what runs too long,
even stuck inside native code, is ended by the system together with its worker, and costs that one job.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Limits:
    """What a task may take.

    Parameters
    ----------
    memory_bytes : int
        Beyond what its process holds already.
    seconds : float
        From its start, by the clock on the wall.
    """

    memory_bytes: int
    seconds: float


@contextmanager
def limited(limits: Limits | None) -> Iterator[None]:
    """Hold what runs inside to its limits, where the system can (Linux; elsewhere nothing is done).

    Parameters
    ----------
    limits : Limits or None
        None for no limits.

    Yields
    ------
    None
        The limits are lifted afterwards, since the worker goes on to other tasks.
    """
    if limits is None or sys.platform != "linux":
        yield
        return
    import resource  # noqa: PLC0415 not there on every system
    import signal  # noqa: PLC0415 the same

    # What is mapped from files is not counted: the ear keeps long tables on the disk, and lets them go as it reads.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    held_bytes = 1024 * int(status.split("VmData:", 1)[1].split(None, 1)[0])
    soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
    wanted = held_bytes + limits.memory_bytes
    resource.setrlimit(resource.RLIMIT_DATA, (wanted if hard == resource.RLIM_INFINITY else min(wanted, hard), hard))
    # The alarm's own action ends the process; no Python code needs to run for that.
    signal.setitimer(signal.ITIMER_REAL, limits.seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        resource.setrlimit(resource.RLIMIT_DATA, (soft, hard))
