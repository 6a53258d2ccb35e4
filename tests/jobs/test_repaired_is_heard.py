"""A touch repaired and rung again is heard by the ear with the habit gone, and the rest as it was."""

from pathlib import Path

import numpy as np
import pytest

from judging.ear import listen
from judging.jobs.resounding import first_habit
from judging.jobs.sound_task import sound_task
from judging.jobs.task_frame import ProgressFile
from judging.piece import Piece
from judging.sounding import Character, Lateness, human_log
from judging.striking import CountingRules, StrikeLog, count_striking, write_log
from judging.striking.repairing import repaired


def hunting(changes: int = 60) -> Piece:
    """Rounds, then plain hunting on six: all pairs cross from the front, then all from second place."""
    rows = [np.arange(1, 7)] * 4
    for change in range(changes):
        row = rows[-1].copy()
        for place in range(change % 2, 5, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append(row)
    return Piece("plain hunting", np.array(rows, np.int8), opening=4)


@pytest.mark.slow
def test_the_habit_is_gone_and_every_other_blow_is_where_it_was(tmp_path: Path) -> None:
    piece, rules = hunting(), CountingRules()
    late = Character(spread_ms=15.0, pull_off_ms=10.0, late=(Lateness(bell=6, stroke="back", late_ms=95.0),))
    rung = human_log(piece, late, seed=2, peal_minutes=170.0).log
    log = StrikeLog(rung.times_s + 2.0, rung.bells.copy(), np.full(len(rung), 0.5))
    count = count_striking(log, piece, rules)
    habit = first_habit(count, "the band")
    assert habit.bells == (6,)

    made = sound_task(write_log(repaired(count, habit)), 6, str(tmp_path / "repaired.flac"), progress=ProgressFile(""))
    heard = listen(Path(made), piece).log
    again = count_striking(heard, piece, rules)

    at_fault = np.zeros(count.rung.bells.shape, bool)
    at_fault[list(habit.rows)] = True
    at_fault &= count.rung.bells == 6
    moved_ms = 1000 * (again.rung.times_s - count.rung.times_s)
    moved_ms -= np.nanmedian(moved_ms[~at_fault])
    assert np.nanmax(np.abs(moved_ms[~at_fault])) < 5.0
    assert np.nanmedian(moved_ms[at_fault]) == pytest.approx(-np.median(count.deviations.ms[at_fault]), abs=2.0)
    assert not any(one.bells == (6,) and one.rows == habit.rows for one in again.habits if not one.praise)
    assert again.total < count.total
