"""Pull-offs of a growing recording on a terminal: each told in words as soon as the bells stand."""

import time
from pathlib import Path

import numpy as np
import typer
from numpy.typing import NDArray

from judging.ear.growing import GrowingWav
from judging.errors import NothingHeard
from judging.jobs.pull_offs_live import PullOffsLive, Told, pulled_off_in
from judging.striking import PullOff, pull_offs, series_in_words
from judging.striking.pull_off_since import since_before

#: How often the file is looked at.
_LOOK_S = 0.5


def follow_pull_offs(path: Path, row: NDArray[np.int8], *, to_end: bool) -> None:
    """Tell each pull-off, until the file ends or a person ends it; then all of them together.

    Parameters
    ----------
    path : Path
        A WAV file that may still be written.
    row : ndarray of int8, shape (bells,)
        What is pulled off in.
    to_end : bool
        Whether to stop at the end of the file, and not at Ctrl-C.

    Raises
    ------
    InputError
        It is no such file.
    NothingHeard
        At the end there was no pull-off in it.
    """
    growing = GrowingWav(path)
    live = PullOffsLive(row, growing.rate_hz, channels=growing.channels)
    series: list[PullOff] = []
    typer.echo(f"Listening to {path.name}; Ctrl-C ends it.", err=True)
    try:
        while True:
            for block in growing.more():
                _tell(live.feed(block), row, series)
            if to_end:
                _tell(live.end(), row, series)
                break
            time.sleep(_LOOK_S)
    except KeyboardInterrupt:
        typer.echo("", err=True)
    finally:
        growing.close()
    if not series:
        raise NothingHeard(path.name, "no pull-off was heard in it")
    if len(series) > 1:
        typer.echo(series_in_words(series))


def _tell(told: list[Told], row: NDArray[np.int8], series: list[PullOff]) -> None:
    for one in told:
        if one.log is None:
            typer.echo(one.problem)
            continue
        series.extend(pull_offs(one.log, pulled_off_in(row))[:1])
        typer.echo(f"{len(series)}. {series[-1].sentence}.")
        for sentence in since_before(series):
            typer.echo(f"   {sentence}")
        for note in one.notes:
            typer.echo(f"   {note}", err=True)
