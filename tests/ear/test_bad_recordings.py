"""Recordings that cannot be used are refused in one clear sentence, and nothing is ever invented."""

import errno
import os
import struct
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from judging.ear import listen
from judging.ear.decode import RATE_HZ, decode
from judging.errors import InputError, NothingHeard
from judging.piece import Piece

from .conftest import hunting

ROUNDS = Piece("rounds", np.tile(np.arange(1, 7, dtype=np.int8), (20, 1)), opening=0)


@pytest.fixture
def wav(tmp_path: Path) -> Callable[..., Path]:
    def write(samples: np.ndarray, rate: int = 44_100, name: str = "touch.wav", subtype: str | None = None) -> Path:
        path = tmp_path / name
        soundfile.write(path, samples, rate, subtype=subtype)
        return path

    return write


def noise(seconds: float, rate: int = 44_100) -> np.ndarray:
    return 0.1 * np.random.default_rng(3).standard_normal(int(seconds * rate))


def without_length(flac: bytes) -> bytes:
    """Return a FLAC file whose header does not know how many samples there are (0 in STREAMINFO, RFC 9639)."""
    data = bytearray(flac)
    streaminfo = data.index(b"fLaC") + 8
    high = struct.unpack(">Q", data[streaminfo + 10 : streaminfo + 18])[0]
    data[streaminfo + 10 : streaminfo + 18] = struct.pack(">Q", high & ~((1 << 36) - 1))
    return bytes(data)


def test_a_missing_recording_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"^gone\.wav: there is no such recording$"):
        listen(tmp_path / "gone.wav", ROUNDS)


def test_an_empty_file_is_said_to_be_empty(tmp_path: Path) -> None:
    (tmp_path / "empty.wav").touch()
    with pytest.raises(InputError, match=r"^empty\.wav: the file is empty"):
        listen(tmp_path / "empty.wav", ROUNDS)


def test_a_folder_and_a_pipe_are_no_recordings(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    for path in (tmp_path, tmp_path / "pipe.wav"):
        with pytest.raises(InputError, match="is a folder, or something else that is no file"):
            listen(path, ROUNDS)


@pytest.mark.parametrize("number", [errno.EACCES, errno.EIO])
def test_a_file_that_may_or_can_not_be_read_says_so(
    wav: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    path = wav(noise(3))

    def fails(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(Path, "open", fails)
    with pytest.raises(InputError, match=rf"^touch\.wav: cannot be read \({os.strerror(number)}\)"):
        listen(path, ROUNDS)


def test_a_name_longer_than_a_name_may_be_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="cannot be read"):
        listen(Path("x" * 5000), ROUNDS)


@pytest.mark.parametrize("name", ["sheet.csv", "letter.wav", "film.m4a", "film.webm"])
def test_a_file_that_is_no_recording_is_refused_with_what_can_be_read(tmp_path: Path, name: str) -> None:
    starts = {"film.m4a": b"\x00\x00\x00\x20ftypM4A ", "film.webm": b"\x1a\x45\xdf\xa3"}
    (tmp_path / name).write_bytes(starts.get(name, b"") + b"entry,total,comment\n1,18,steady\n" * 40)
    with pytest.raises(InputError, match=r"cannot be read as a recording .* WAV, FLAC, MP3, Ogg, Opus, M4A and WebM"):
        listen(tmp_path / name, ROUNDS)


def test_a_recording_cut_short_while_copied_says_so(wav: Callable[..., Path]) -> None:
    whole = wav(noise(20))
    whole.write_bytes(whole.read_bytes()[: whole.stat().st_size // 3])
    with pytest.raises(InputError, match=r"says it lasts 20\.0 s but ends after 6\.7 s; it was probably cut off"):
        listen(whole, ROUNDS)


def test_silence_is_bad_input_and_asks_about_the_microphone(wav: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match="silent from beginning to end; was the microphone connected"):
        listen(wav(np.zeros(44_100 * 20)), ROUNDS)


def test_a_moment_of_sound_is_too_short(wav: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match=r"lasts 1\.0 s; a recording of ringing lasts at least 2 s"):
        listen(wav(noise(1)), ROUNDS)


@pytest.mark.parametrize("piece", [hunting(6, 60), ROUNDS], ids=["hunting", "rounds"])
def test_noise_is_not_forced_onto_the_piece(wav: Callable[..., Path], piece: Piece) -> None:
    with pytest.raises(NothingHeard):
        listen(wav(noise(40)), piece)


def test_music_is_not_ringing(wav: Callable[..., Path]) -> None:
    """Notes of a keyboard at an even pace: onsets, partials, a tempo, but no order that comes again."""
    chance = np.random.default_rng(7)
    second = np.arange(44_100) / 44_100
    tune = np.zeros(44_100 * 42)
    for note in range(130):
        hz = 220 * 2 ** (chance.integers(0, 24) / 12)
        sound = sum(np.sin(2 * np.pi * hz * h * second) / h for h in range(1, 7)) * np.exp(-3 * second)
        begin = int(note * 0.3 * 44_100)
        tune[begin : begin + len(second)] += sound
    with pytest.raises(NothingHeard):
        listen(wav(0.5 * tune / np.abs(tune).max()), hunting(6, 60))


@pytest.mark.parametrize("piece", [hunting(6, 60), ROUNDS], ids=["hunting", "rounds"])
def test_talk_is_not_ringing(wav: Callable[..., Path], piece: Piece) -> None:
    """People talking, in the public domain; see the README beside it."""
    folder = Path(os.environ.get("EVENBLOW_BELLS", Path(__file__).parents[3] / "shared" / "bells"))
    if not (folder / "voices.ogg").is_file():
        pytest.skip("no recording of people talking here; EVENBLOW_BELLS may say where it is")
    talk, rate = soundfile.read(folder / "voices.ogg")
    with pytest.raises(NothingHeard):
        listen(wav(np.resize(talk.mean(axis=1), 40 * rate), rate), piece)


def test_ten_seconds_of_noise_are_not_a_short_piece(wav: Callable[..., Path]) -> None:
    with pytest.raises(NothingHeard):
        listen(wav(noise(10)), Piece("a whole pull", np.tile(np.arange(1, 7, dtype=np.int8), (2, 1))))


def test_a_small_file_that_says_it_unpacks_to_five_hours_is_refused_at_once(tmp_path: Path) -> None:
    """Five hours of one value are a few kilobytes of FLAC; nothing of it need be unpacked."""
    path = tmp_path / "bomb.flac"
    block = np.full(8_000 * 600, 0.1)
    with soundfile.SoundFile(path, "w", 8_000, 1, "PCM_16") as file:
        for _ in range(30):
            file.write(block)
    assert path.stat().st_size < 2_000_000
    begin_s = time.process_time()
    with pytest.raises(InputError, match="longer than 4 hours"):
        decode(path)
    assert time.process_time() - begin_s < 1


def test_one_that_does_not_say_so_is_read_no_further_than_the_longest_and_in_little_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Forty minutes whose header claims no length, where ten would be too many."""
    monkeypatch.setattr("judging.ear.decode.LONGEST_S", 600.0)
    path = tmp_path / "bomb.flac"
    with soundfile.SoundFile(path, "w", 8_000, 1, "PCM_16") as file:
        for _ in range(40):
            file.write(np.full(8_000 * 60, 0.1))
    path.write_bytes(without_length(path.read_bytes()))
    tracemalloc.start()
    with pytest.raises(InputError, match="longer than 4 hours"):
        decode(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 200_000_000


def test_a_steady_tone_is_not_ringing(wav: Callable[..., Path]) -> None:
    with pytest.raises(NothingHeard):
        listen(wav(0.3 * np.sin(2 * np.pi * 440 * np.arange(44_100 * 30) / 44_100)), ROUNDS)


def test_samples_that_are_not_numbers_are_taken_as_silence_and_told(wav: Callable[..., Path]) -> None:
    samples = noise(10).astype(np.float32)
    samples[2000:2100] = np.nan
    samples[3000] = np.inf
    sound = decode(wav(samples, subtype="FLOAT"))
    assert np.isfinite(sound.samples).all()
    assert sound.broken == pytest.approx(101 / len(samples))


def test_a_recording_mostly_of_broken_samples_is_damaged(wav: Callable[..., Path]) -> None:
    samples = noise(10).astype(np.float32)
    samples[::3] = np.nan
    with pytest.raises(InputError, match="33 % of its samples are not numbers; the file is damaged"):
        decode(wav(samples, subtype="FLOAT"))


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e30, -1e12])
def test_a_recording_of_nothing_that_a_microphone_gives_is_damaged_and_not_silent(
    wav: Callable[..., Path], value: float
) -> None:
    with pytest.raises(InputError, match="100 % of its samples are not numbers; the file is damaged"):
        decode(wav(np.full(44_100 * 3, value, np.float32), subtype="FLOAT"))


def test_floats_on_the_scale_of_whole_numbers_are_heard(wav: Callable[..., Path]) -> None:
    assert decode(wav((32_768 * noise(3)).astype(np.float32), subtype="FLOAT")).broken == 0


def test_an_mp3_without_a_frame_in_it_is_damaged_and_not_missing(tmp_path: Path) -> None:
    (tmp_path / "touch.mp3").write_bytes(b"ID3\x04\x00\x00\x00\x00\x00\x00" + np.random.default_rng(1).bytes(50_000))
    with pytest.raises(InputError, match=r"of no known kind, or damaged"):
        decode(tmp_path / "touch.mp3")


@pytest.mark.parametrize("rate", [4_000, 200_000])
def test_impossible_sampling_rates_are_refused(wav: Callable[..., Path], rate: int) -> None:
    with pytest.raises(InputError, match=rf"sampled at {rate:,} Hz; from 8,000 to 192,000 Hz can be read"):
        decode(wav(noise(3, rate), rate))


def test_more_than_eight_channels_are_refused(wav: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match="has 9 channels; up to 8 can be read"):
        decode(wav(np.tile(noise(3)[:, None], (1, 9))))


def test_a_length_that_the_header_does_not_know_is_counted_instead(wav: Callable[..., Path]) -> None:
    """Recorders that are switched off leave a FLAC header without a length (total samples 0 in STREAMINFO)."""
    path = wav(noise(5), name="touch.flac")
    path.write_bytes(without_length(path.read_bytes()))
    assert decode(path).seconds == pytest.approx(5, abs=0.01)


@pytest.mark.parametrize("rate", [8_000, 22_050, 48_000, 192_000])
def test_every_rate_comes_out_at_the_ears_own(wav: Callable[..., Path], rate: int) -> None:
    sound = decode(wav(noise(3, rate), rate))
    assert sound.rate_hz == rate
    assert len(sound.samples) == pytest.approx(3 * RATE_HZ, abs=2)


def test_channels_that_cancel_each_other_leave_the_stronger_one(wav: Callable[..., Path]) -> None:
    left = noise(3)
    sound = decode(wav(np.column_stack([left, -0.8 * left])))
    assert np.square(sound.samples).mean() > 0.3 * np.square(left).mean()
