"""Every kind of recording that phones and recorders make comes out the same; cut or false ones end in one sentence."""

from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from judging.ear.decode import RATE_HZ, Sound, decode
from judging.errors import InputError

RATE = 48_000
SECONDS = 6


def melody() -> np.ndarray:
    """Six seconds with a knock every half second, so that time is seen to be right."""
    time = np.arange(RATE // 2) / RATE
    knock = np.exp(-30 * time) * np.sin(2 * np.pi * 900 * time)
    return np.tile(0.5 * knock, 2 * SECONDS).astype(np.float32)


def encode(path: Path, codec: str, container: str | None = None) -> Path:
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(codec, rate=RATE, layout="mono")
        stream.bit_rate = 96_000
        size = 960
        for begin in range(0, len(melody()), size):
            block = np.ascontiguousarray(melody()[None, begin : begin + size])
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
            frame.sample_rate, frame.pts = RATE, begin
            for plain in av.AudioResampler(format=stream.format.name, layout="mono", rate=RATE).resample(frame):
                out.mux(stream.encode(plain))
        out.mux(stream.encode(None))
    return path


def recording(folder: Path, kind: str) -> Path:
    path = folder / f"touch.{kind}"
    if kind in ("wav", "flac", "aiff"):
        soundfile.write(path, melody(), RATE)
        return path
    if kind == "ogg":
        with soundfile.SoundFile(path, "w", RATE, 1, format="OGG") as file:  # libsndfile crashes on large blocks
            for begin in range(0, len(melody()), 4096):
                file.write(melody()[begin : begin + 4096])
        return path
    codec, container = {
        "mp3": ("libmp3lame", "mp3"),
        "opus": ("libopus", "ogg"),
        "m4a": ("aac", "mp4"),
        "webm": ("libopus", "webm"),
        "aac": ("aac", "adts"),
        "oga": ("flac", "ogg"),
    }[kind]
    return encode(path, codec, container)


def read_or_refused(path: Path) -> Sound | None:
    """Decode; None where it is refused, which must be in one line that begins with the file's name."""
    try:
        return decode(path)
    except InputError as error:
        told = str(error)
    assert told.startswith(f"{path.name}: ")
    assert "\n" not in told
    return None


KINDS = ("wav", "flac", "aiff", "mp3", "ogg", "opus", "m4a", "webm", "aac", "oga")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_recording_is_read_at_its_length_and_time(tmp_path: Path, kind: str) -> None:
    sound = decode(recording(tmp_path, kind))
    assert sound.seconds == pytest.approx(SECONDS, abs=0.1)
    window = RATE_HZ // 90
    loudest = np.abs(sound.samples[: len(sound.samples) // window * window]).reshape(-1, window).max(axis=1)
    begun_s = np.flatnonzero((loudest[1:] > 0.25) & (loudest[:-1] <= 0.25)) / 90
    assert len(begun_s) >= 2 * SECONDS - 2
    assert np.diff(begun_s) == pytest.approx(0.5, abs=0.023)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("kept", [0.02, 0.5, 0.9])
def test_a_recording_cut_anywhere_is_read_as_far_as_it_goes_or_refused_in_words(
    tmp_path: Path, kind: str, kept: float
) -> None:
    """Formats that tell their length are refused; streams without one are what is left of them. Never anything else."""
    path = recording(tmp_path, kind)
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data))])
    sound = read_or_refused(path)
    assert sound is None or 0 < sound.seconds < SECONDS


def test_one_whose_length_is_told_says_that_it_was_cut_off(tmp_path: Path) -> None:
    path = recording(tmp_path, "flac")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(InputError, match=r"says it lasts 6\.0 s but ends after [123]\.\d s; it was probably cut off"):
        decode(path)


def test_one_that_breaks_off_within_a_frame_is_heard_as_far_as_it_goes_and_says_so(tmp_path: Path) -> None:
    """As a phone leaves it whose battery dies: AAC frames one after another, the last of them cut."""
    path = recording(tmp_path, "aac")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    sound = decode(path)
    assert 2 < sound.seconds < 4
    assert sound.note.startswith(f"the file is damaged or was cut off after {sound.seconds:.1f} s")


@pytest.mark.parametrize("kind", KINDS)
def test_a_recording_with_holes_is_read_or_refused_in_words(tmp_path: Path, kind: str) -> None:
    path = recording(tmp_path, kind)
    rng = np.random.default_rng(6)
    for _ in range(10):
        data = bytearray(path.read_bytes())
        for at in rng.integers(0, len(data), 40):
            data[at] = rng.integers(0, 256)
        damaged = path.with_name(f"damaged.{kind}")
        damaged.write_bytes(data)
        sound = read_or_refused(damaged)
        assert sound is None or np.isfinite(sound.samples).all()
