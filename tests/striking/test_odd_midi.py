"""MIDI files as other programs write them, byte for byte (Standard MIDI Files 1.0; value from memory)."""

import struct

import pytest

from judging.errors import InputError
from judging.striking import StrikeLog, read_log

NOTES = (72, 71, 69, 67, 65, 64)
END = b"\x00\xff\x2f\x00"


def number(value: int) -> bytes:
    """Seven bits a byte, the highest set in all but the last."""
    out = [value & 127]
    while value := value >> 7:
        out.insert(0, value & 127 | 128)
    return bytes(out)


def chunk(content: bytes, kind: bytes = b"MTrk") -> bytes:
    return kind + struct.pack(">I", len(content)) + content


def header(division: bytes, tracks: int = 1, kind: int = 0, more: bytes = b"") -> bytes:
    return chunk(struct.pack(">HH", kind, tracks) + division + more, b"MThd")


def rung(step: int, *, rows: int = 4, channel: int = 0, ends: str = "off", running: bool = False) -> bytes:
    """Rounds on six, a blow every so many ticks; a note ends by an event of its own or struck with no force."""
    events, status, wait = b"", b"", step
    for note in NOTES * rows:
        struck = bytes([0x90 | channel])
        events += number(wait) + (b"" if running and status == struck else struck) + bytes([note, 90])
        status, wait = struck, step
        if ends == "off":
            status, wait = bytes([0x80 | channel]), step - step // 2
            events += number(step // 2) + status + bytes([note, 64])
        elif ends == "no force":
            wait = step - step // 2
            events += number(step // 2) + (b"" if running else struck) + bytes([note, 0])
    return events


def read(data: bytes) -> StrikeLog:
    return read_log(data, name="log.mid", bells=6)


BEATS = struct.pack(">H", 480)  # at 120 beats a minute, when nothing is said, 240 ticks are a quarter of a second


@pytest.mark.parametrize(
    "data",
    [
        header(BEATS) + chunk(rung(240) + END),
        header(BEATS) + chunk(rung(240, ends="no force", running=True) + END),
        header(BEATS) + chunk(rung(240, ends="never") + END),
        header(BEATS) + chunk(rung(240, channel=9) + END),
        header(BEATS) + chunk(rung(240)),
        header(BEATS, more=b"??") + chunk(rung(240) + END),
        header(BEATS) + chunk(b"abcd", b"XFIH") + chunk(rung(240) + END) + chunk(b"", b"XFKM"),
        header(BEATS, tracks=7, kind=1) + chunk(END) + chunk(rung(240) + END),
        header(BEATS, tracks=1, kind=1) + chunk(END) + chunk(rung(240) + END),
        header(struct.pack(">bB", -25, 40)) + chunk(rung(250) + END),
        header(struct.pack(">bB", -24, 100)) + chunk(b"\x00\xff\x51\x03\x01\x00\x00" + rung(600) + END),
        header(struct.pack(">bB", -30, 80)) + chunk(rung(600) + END),
    ],
    ids=[
        "as most are",
        "running status, ends struck with no force",
        "notes that never end",
        "another channel",
        "no end of track",
        "a longer header",
        "chunks of other kinds",
        "fewer tracks than it says",
        "more tracks than it says",
        "25 frames a second",
        "24 frames a second, which no tempo changes",
        "30 frames a second",
    ],
)
def test_whatever_writes_a_touch_its_blows_are_the_same(data: bytes) -> None:
    log = read(data)
    assert log.bells.tolist() == [1, 2, 3, 4, 5, 6] * 4
    assert log.times_s == pytest.approx([0.25 * blow for blow in range(1, 25)])


def test_drop_frames_are_a_thousandth_slower_than_thirty() -> None:
    log = read(header(struct.pack(">bB", -29, 100)) + chunk(rung(750) + END))
    assert log.times_s[-1] == pytest.approx(24 * 0.25 * 1.001)


def test_a_bell_a_track_is_put_together_by_time() -> None:
    first = [number(240 * (bell + 1)) + bytes([0x90, note, 90]) for bell, note in enumerate(NOTES)]
    later = [number(240 * 6) + bytes([0x90, note, 90]) for note in NOTES]
    tracks = [chunk(one + other * 3 + END) for one, other in zip(first, later, strict=True)]
    log = read(header(BEATS, tracks=6, kind=1) + b"".join(tracks))
    assert log.bells.tolist() == [1, 2, 3, 4, 5, 6] * 4
    assert log.times_s == pytest.approx([0.25 * blow for blow in range(1, 25)])


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (header(BEATS, tracks=2, kind=2) + 2 * chunk(rung(240) + END), "type 2, whose tracks are pieces of their own"),
        (header(struct.pack(">H", 0)) + chunk(rung(240) + END), "its clock does not run"),
        (header(struct.pack(">bB", -25, 0)) + chunk(rung(240) + END), "its clock does not run"),
        (header(struct.pack(">bB", -99, 10)) + chunk(rung(240) + END), "its clock does not run"),
        (header(BEATS) + chunk(END), "holds no notes"),
        (header(BEATS) + chunk(b"\x00\x40\x40" + END), "damaged or cut short"),
        (header(BEATS) + chunk(rung(240) + number(240) + bytes([0x91, 40, 90]) + END), "7 different notes"),
    ],
)
def test_what_holds_no_touch_says_why(data: bytes, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read(data)
