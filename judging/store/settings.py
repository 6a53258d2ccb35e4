"""What an operator may set, by environment or by hand: where the data is, and how much is allowed.

Every setting is read from ``EVENBLOW_<NAME>`` in the environment, once, at start.
"""

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

_MIB = 1024 * 1024


class Settings(BaseSettings):
    """The service's settings, frozen once read.

    Attributes
    ----------
    data : Path
        The data folder: database, recordings, backups.
    max_recording_bytes : int
        Largest recording taken (default 4 GiB: a whole day from a recorder, uncompressed).
    max_log_bytes : int
        Largest strike log taken (a 5,040-row peal on twelve bells is about 2 MB).
    min_free_bytes : int
        Space that must stay free on the disk, so that marks can still be written when recordings are refused.
    workers : int
        Worker processes for long jobs on this machine.
    worker_memory_bytes : int
        Memory that one job may take.
    job_seconds : float
        Longest a job may run before its worker is ended and the job is tried again.
    job_attempts : int
        How often a job is tried before it is given up with a reason.
    job_lease_s : float
        How long a claimed job stays its worker's without a sign of life.
    scheduler : str
        Address of a Dask scheduler (``tcp://...``) for many machines; empty for workers on this one.
    link_days : int
        How long a personal link may wait to be used.
    session_idle_minutes : int
        A session unused for so long is over (default 12 hours: a contest day with its breaks).
    session_hours : int
        A session is over after so long, used or not.
    """

    model_config = SettingsConfigDict(env_prefix="EVENBLOW_", frozen=True, extra="ignore")

    data: Path = Path("evenblow-data")
    max_recording_bytes: int = Field(default=4096 * _MIB, gt=0)
    max_log_bytes: int = Field(default=8 * _MIB, gt=0)
    min_free_bytes: int = Field(default=200 * _MIB, ge=0)
    workers: int = Field(default=1, ge=1, le=64)
    worker_memory_bytes: int = Field(default=2048 * _MIB, gt=0)
    job_seconds: float = Field(default=1800.0, gt=0)
    job_attempts: int = Field(default=3, ge=1)
    job_lease_s: float = Field(default=60.0, gt=0)
    scheduler: str = ""
    link_days: int = Field(default=30, ge=1)
    session_idle_minutes: int = Field(default=720, ge=1)
    session_hours: int = Field(default=72, ge=1)
