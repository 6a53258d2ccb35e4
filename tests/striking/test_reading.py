import io
import tracemalloc
from contextlib import suppress

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, out, plain_bob

from judging.errors import InputError, NothingHeard
from judging.striking import StrikeLog, count_striking, read_log, write_log
from judging.striking.log_midi import log_from_midi

LOG = "time_s,bell\n0.0,1\n0.3,2\n0.6,3\n"


def read(text: str | bytes, *, bells: int = 6) -> StrikeLog:
    return read_log(text.encode() if isinstance(text, str) else text, name="log.csv", bells=bells)


def midi(notes: list[tuple[int, int]], *, tempo: int = 500_000, ticks: int = 480) -> bytes:
    """File of (ticks since the last note, note number)."""
    file, track = mido.MidiFile(ticks_per_beat=ticks), mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=tempo))
    for wait, note in notes:
        track.append(mido.Message("note_on", note=note, velocity=80, time=wait))
        track.append(mido.Message("note_off", note=note, time=0))
    file.tracks.append(track)
    out_bytes = io.BytesIO()
    file.save(file=out_bytes)
    return out_bytes.getvalue()


def test_a_csv_log_is_read() -> None:
    log = read(LOG)
    assert log.times_s.tolist() == [0.0, 0.3, 0.6]
    assert log.bells.tolist() == [1, 2, 3]
    assert log.spread_ms.tolist() == [0, 0, 0]
    assert log.source == "log.csv"


def test_further_columns_are_kept_and_a_spread_is_read() -> None:
    log = read("bell,time_s,spread_ms,who\n1,0.5,1.5,a\n0,0.9,,b\n")
    assert log.spread_ms.tolist() == [1.5, 0.0]
    assert log.bells.tolist() == [1, 0]
    assert dict(log.kept) == {"who": ("a", "b")}


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + LOG,
        LOG.replace("\n", "\r\n"),
        "# made by hand\n\n" + LOG,
        LOG.replace(",", " , "),
        '"time_s","bell"\n"0.0","1"\n"0.3","2"\n"0.6","3"\n',
    ],
)
def test_marks_of_other_programs_and_comments_do_no_harm(text: str) -> None:
    assert read(text).bells.tolist() == [1, 2, 3]


@given(
    times=st.lists(st.integers(0, 10**9), min_size=1, max_size=40),
    bells=st.lists(st.integers(0, 6), min_size=40, max_size=40),
    spreads=st.lists(st.integers(0, 10**5), min_size=40, max_size=40),
)
@settings(max_examples=50)
def test_reading_what_is_written_gives_the_same_log(times: list[int], bells: list[int], spreads: list[int]) -> None:
    count = len(times)
    log = StrikeLog(
        np.array(sorted(times)) / 1e6,
        np.array(bells[:count], dtype=np.int8),
        np.array(spreads[:count]) / 1000,
        kept={"by": tuple("x" for _ in range(count))},
    )
    again = read(write_log(log))
    assert np.allclose(again.times_s, log.times_s, atol=1e-9)
    assert again.bells.tolist() == log.bells.tolist()
    assert np.allclose(again.spread_ms, log.spread_ms)
    assert dict(again.kept) == dict(log.kept)
    assert write_log(again) == write_log(log)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "log.csv: the file is empty"),
        ("  \n\n", "log.csv: the file is empty"),
        ("# nothing\n", "log.csv: the file is empty"),
        ("0.1,1\n0.2,2\n", "line 1: the header '0.1,1' lacks time_s and bell.*the header seems to be missing"),
        ("time_s;bell\n0,1;1\n", "line 1: .*separated by semicolons"),
        ("time_s\tbell\n0.1\t1\n", "separated by tabs"),
        ("time,bell\n0.1,1\n", "lacks time_s"),
        ("time_s,bell,bell\n0,1,1\n", "the column 'bell' comes twice"),
        ("time_s,bell\n0,5,1\n", "line 2: 3 columns, but the header has 2; is there a decimal comma"),
        ('time_s,bell\n"0,5",1\n', "line 2: time_s = '0,5' is not a number of seconds; write it with a point"),
        ("time_s,bell\n0.5\n", "line 2: 1 columns, but the header has 2"),
        ("time_s,bell\nsoon,1\n", "line 2: time_s = 'soon' is not a number"),
        ("time_s,bell\nnan,1\n", "line 2: time_s = nan is not a time"),
        ("time_s,bell\ninf,1\n", "line 2: time_s = inf is not a time"),
        ("time_s,bell\n1700000000,1\n", "more than a week.*are these milliseconds or a date"),
        ("time_s,bell\n1.0,1\n\n0.5,2\n", "line 4: time_s = 0.5 is before 1 on line 2; a log is in order of time"),
        ("time_s,bell\n1.0,7\n", "line 2: bell = 7 in a piece on 6; .*log of more bells"),
        ("time_s,bell\n1.0,-1\n", "line 2: bell = '-1'; bells are whole numbers from 1"),
        ("time_s,bell\n1.0,2.5\n", "line 2: bell = '2.5'"),
        ("time_s,bell\n1.0,1.0\n", "line 2: bell = '1.0'"),
        ("time_s,bell\n1.0,E\n", "line 2: bell = 'E' is a symbol of a row"),
        ("time_s,bell\n1.0,\n", "line 2: bell = ''"),
        ("time_s,bell\n1.0,nan\n", "line 2: bell = 'nan'"),
        ("time_s,bell,spread_ms\n1.0,1,-2\n", "line 2: spread_ms = '-2'"),
        ("time_s,bell,spread_ms\n1.0,1,wide\n", "line 2: spread_ms = 'wide'"),
        ("time_s,bell,spread_ms\n1.0,1,1e308\n", "line 2: spread_ms = '1e308' must be .* from 0 to 10,000"),
        ("time_s,bell\n1e308,1\n", "line 2: time_s = 1e308 is more than a week"),
        ("time_s,bell\n1_0.5,1\n", "line 2: time_s = '1_0.5' is not a number"),
        ("time_s,bell\n\u0661.5,1\n", "line 2: time_s = '\u0661.5' is not a number"),
        ("time_s,bell\n1.0," + "9" * 5000 + "\n", "^.{0,200}$"),
        ('time_s,bell\n"1.0,1\n', "not a table of comma-separated values"),
        (b"time_s,bell\n\xff\xfe,1\n", "byte 13 is not UTF-8 text"),
        ("time_s,bell\n1.0,1\n".encode("utf-16"), "UTF-16"),
        (b"time_s,bell\n1.0\x00,1\n", "binary"),
        (b"RIFF\x00\x00\x00\x00WAVE", "a WAV recording, not a strike log; listen to it first"),
        (b"PK\x03\x04rest", "a spreadsheet or a zip file, not a strike log; save it as CSV"),
        (b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk", "damaged or cut short"),
        (b"MThd", "damaged or cut short"),
    ],
)
def test_a_file_that_cannot_be_read_says_where_and_why(text: str | bytes, says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        read(text)
    assert "Traceback" not in str(refused.value)


@given(data=st.binary(max_size=300))
@settings(max_examples=150, deadline=None)
def test_no_bytes_whatever_do_more_than_be_refused(data: bytes) -> None:
    for begun in (data, b"MThd" + data, b"time_s,bell\n" + data):
        with suppress(InputError):
            read(begun)


def test_a_log_with_a_header_alone_is_readable_but_holds_nothing() -> None:
    log = read("time_s,bell\n")
    assert len(log) == 0
    with pytest.raises(NothingHeard, match=r"log\.csv: the strike log holds no blow"):
        count_striking(log, plain_bob(6, 2), name="log.csv")


def test_two_blows_at_one_moment_are_allowed() -> None:
    assert len(read("time_s,bell\n1.0,1\n1.0,2\n")) == 2


def test_a_midi_file_is_read_with_its_highest_note_as_the_treble() -> None:
    """Half a beat at 120 beats a minute is a quarter of a second."""
    log = read_log(midi([(0, 72), (240, 71), (240, 69), (480, 72)]), name="ringing.mid", bells=3)
    assert log.times_s == pytest.approx([0.0, 0.25, 0.5, 1.0])
    assert log.bells.tolist() == [1, 2, 3, 1]


def test_a_map_of_notes_names_the_bells() -> None:
    log = read_log(midi([(0, 60), (240, 62)]), name="ringing.mid", bells=6, notes={60: 2, 62: 5})
    assert log.bells.tolist() == [2, 5]
    with pytest.raises(InputError, match="note 62 has no bell from 1 to 6"):
        read_log(midi([(0, 60), (240, 62)]), name="ringing.mid", bells=6, notes={60: 2})


def test_a_piece_rung_as_midi_counts_as_the_same_piece_rung_as_csv() -> None:
    piece = plain_bob(6, 2)
    log = out(piece, {(20, 3): 150})
    waits = np.diff(np.round(log.times_s * 1000), prepend=0).astype(int)
    file = midi(
        [(int(w), 80 - int(bell)) for w, bell in zip(waits, log.bells, strict=True)], tempo=1_000_000, ticks=1000
    )
    assert count_striking(read_log(file, name="m.mid", bells=6), piece).total == 1


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (midi([]), "holds no notes"),
        (midi([(0, 60 + note) for note in range(7)]), "7 different notes, but the piece is for 6 bells"),
        (midi([(2**27, 60)] * 4, tempo=16_000_000, ticks=1), "longer than a week"),
    ],
)
def test_midi_that_is_no_strike_log_says_why(data: bytes, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read_log(data, name="m.mid", bells=6)


def test_a_huge_midi_file_is_refused_before_it_is_read() -> None:
    with pytest.raises(InputError, match="at most"):
        log_from_midi(b"MThd" + bytes(2_000_001), name="m.mid", bells=6)


def test_times_to_the_microsecond_keep_the_count() -> None:
    piece = plain_bob(8, 3)
    log = human(piece, 4, spread_ms=50)
    assert (
        count_striking(read_log(write_log(log).encode(), name="l", bells=8), piece).total
        == count_striking(log, piece).total
    )


def test_a_log_of_millions_of_lines_is_read_no_further_than_what_can_be_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("judging.striking.log_text.MOST_BLOWS", 1000)
    data = b"time_s,bell\n" + b"1.0,1\n" * 1_000_000
    tracemalloc.start()
    with pytest.raises(InputError, match="more than 1,000 blows, the most that can be counted"):
        read_log(data, name="log.csv", bells=6)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40_000_000  # the text itself, and its decoding
