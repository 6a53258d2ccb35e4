"""Whatever stands in a line of a log, it is read or that line is named; from the shell in one message, exit code 2."""

import re
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_bands import human, plain_bob
from test_silent_notes import as_midi
from typer.testing import CliRunner

from judging.cli import app
from judging.errors import InputError, JudgingError, NothingHeard
from judging.striking import count_striking, read_log, write_log

PIECE = plain_bob(6, 2)
LINES = write_log(human(PIECE, 1, spread_ms=15)).encode().splitlines()
MIDI = as_midi(human(PIECE, 1, spread_ms=15))


def refusal(data: bytes, name: str) -> InputError | None:
    """Why some bytes are no log; None where they are one, which can then be counted or refused in words."""
    try:
        log = read_log(data, name=name, bells=6)
    except InputError as error:
        return error
    with suppress(NothingHeard):
        count_striking(log, PIECE)
    return None


@given(at=st.integers(1, len(LINES) - 1), written=st.binary(max_size=40))
@settings(max_examples=300, deadline=None)
def test_a_line_that_cannot_be_read_is_named(at: int, written: bytes) -> None:
    error = refusal(b"\n".join([*LINES[:at], written, *LINES[at + 1 :]]), "l.csv")
    if error is None:
        return
    named = re.match(r"l\.csv, line (\d+)$", error.where)
    assert named is not None, str(error)
    # A time out of order is told at the line after; what changes how the file is cut into lines, further on.
    assert int(named[1]) in {at + 1, at + 2} or set(written) & set(b'"\r\n')


@given(cut=st.integers(0, len(MIDI)), at=st.integers(0, len(MIDI) - 1), byte=st.integers(0, 255))
@settings(max_examples=200, deadline=None)
def test_midi_cut_short_or_damaged_anywhere_is_read_or_refused_by_name(cut: int, at: int, byte: int) -> None:
    for data in (MIDI[:cut], MIDI[:at] + bytes([byte]) + MIDI[at + 1 :]):
        error = refusal(data, "m.mid")
        assert error is None or error.where.startswith("m.mid")


@pytest.mark.parametrize("ending", ["csv", "mid"])
@given(data=st.binary(max_size=200))
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_any_bytes_are_told_in_one_message_that_names_the_file(tmp_path: Path, ending: str, data: bytes) -> None:
    """What the command's `main` turns into exit code 2, or 1 where the file holds no blow."""
    log, piece = tmp_path / f"log.{ending}", tmp_path / "rounds.txt"
    log.write_bytes(data if ending == "csv" else b"MThd" + data)
    piece.write_text("123456\n123456\n")
    told = CliRunner().invoke(app, ["count", str(log), "--piece", str(piece)]).exception
    assert isinstance(told, JudgingError)
    assert str(told).startswith(str(log))
    assert "\n" not in str(told)
