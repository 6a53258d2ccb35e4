"""A strike log written as notes is read back to a tenth of a millisecond, by us and by mido itself."""

import io

import mido
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from judging.striking import StrikeLog, midi_from_log, read_log


@given(st.integers(3, 16), st.lists(st.floats(0, 600), min_size=20, max_size=60, unique=True))
def test_what_is_written_is_read_back(bells: int, times: list[float]) -> None:
    rung = np.resize(np.arange(1, bells + 1, dtype=np.int8), len(times))
    log = StrikeLog(np.sort(np.array(times)), rung, np.ones(len(times)))

    again = read_log(midi_from_log(log, bells), name="log.mid", bells=bells)

    assert np.abs(np.sort(again.times_s) - log.times_s).max() <= 0.0001
    assert sorted(again.bells.tolist()) == sorted(rung.tolist())


def test_the_treble_is_the_highest_note_and_the_clock_is_the_logs() -> None:
    log = StrikeLog(np.array([2.5, 2.75, 3.0]), np.array([1, 0, 6], np.int8), np.ones(3))

    struck = [
        (round(at, 4), message.note)
        for at, message in timed(midi_from_log(log, 6))
        if message.type == "note_on" and message.velocity
    ]

    assert struck == [(2.5, 69), (3.0, 60)]  # a major sixth apart, as the outer bells of six are


def timed(data: bytes) -> list[tuple[float, mido.Message]]:
    now, found = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        found.append((now, message))
    return found
