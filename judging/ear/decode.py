"""A recording of any common kind → mono samples at the ear's own rate, in bounded blocks.

Headers are not believed: frames are counted as they are read, and reading stops at the longest recording allowed.
Native decoders can crash, so callers run this in a worker process.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import SpooledTemporaryFile

import av
import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from judging.ear.channels import FULL_SCALE, Excerpts, Taken
from judging.ear.features import RATE_HZ
from judging.ear.tables import IN_MEMORY
from judging.errors import InputError

LONGEST_S = 4 * 3600.0
#: Two rows of three bells at the fastest pace rung take longer than this.
SHORTEST_S = 2.0
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000
MOST_CHANNELS = 8
_TOO_LONG = f"longer than {LONGEST_S / 3600:.0f} hours, the most that is read; cut it first"
_BLOCK = 65_536
#: Floats may pass full scale, and some programs write whole numbers of 32 bits as floats; more is no sound.
_LOUDEST = 2.0**32
#: A length in the header beyond this is a recorder's way of saying that it did not know.
_BELIEVABLE_S = 1e6
#: First bytes of the kinds that libsndfile does not read, and the one demuxer each may be given to.
_CONTAINERS = (
    (4, b"ftyp", "mov"),
    (0, b"\x1a\x45\xdf\xa3", "matroska"),
    (0, b"\xff\xf1", "aac"),
    (0, b"\xff\xf9", "aac"),
    (28, b"\x7fFLAC", "ogg"),  # some writers' FLAC in Ogg, libsndfile cannot open
)
_HEAD = 64

#: libsndfile cannot read to the end of a file whose length it does not know; these can.
_DEMUXERS = {"FLAC": "flac", "OGG": "ogg", "WAV": "wav", "WAVEX": "wav", "MPEG": "mp3"}
#: Sizes from here on stand in a WAV header for "unknown".
_NOT_TOLD = 0xFFFF_0000

Block = NDArray[np.float32]
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Sound:
    """A decoded recording.

    Parameters
    ----------
    samples : ndarray of float32, shape (samples,)
        Mono, at ``RATE_HZ``, read-only.
    name : str
        The file's name, for messages.
    rate_hz, channels : int
        As the recording had them.
    peak : float
        Largest absolute sample, where full scale is 1.
    clipped : float
        Share of the samples at full scale.
    broken : float
        Share of the samples that were not numbers, and were taken as silence.
    note : str
        Which of several channels were taken, and why, where not all were; and where the file ends before its end.
    """

    samples: NDArray[np.float32]
    name: str
    rate_hz: int
    channels: int
    peak: float
    clipped: float
    broken: float
    note: str = ""

    def __post_init__(self) -> None:
        """Make the samples read-only."""
        self.samples.setflags(write=False)

    @property
    def seconds(self) -> float:
        """How long the recording is."""
        return len(self.samples) / RATE_HZ


@dataclass(slots=True)
class _Stream:
    """An open recording: its rate and channels, what its header claims, and its blocks of shape (frames, channels).

    Where its decoder cannot go on, blocks end, and ``damage`` says why.
    """

    rate_hz: int
    channels: int
    claimed_s: float | None
    blocks: Iterator[Block]
    damage: str = ""

    def until_damaged(self) -> Iterator[Block]:
        """Give its blocks as far as they can be decoded."""
        try:
            yield from self.blocks
        except soundfile.LibsndfileError as error:
            self.damage = str(error.error_string)
        except av.FFmpegError as error:
            self.damage = error.strerror or "damaged"


def decode(path: Path, *, progress: Progress | None = None) -> Sound:
    """Read a recording as mono samples at the ear's rate.

    Parameters
    ----------
    path : Path
        WAV, FLAC, MP3, Ogg (Vorbis, Opus), M4A/AAC or WebM.
    progress : callable, optional
        Told the share read so far, from 0 to 1.

    Returns
    -------
    Sound
        The mean of the channels, unless bells come through some of them much more plainly: those, in a second reading.

    Raises
    ------
    InputError
        The file is missing, empty, silent, not audio, cut short, too long or too short, or of an impossible rate.
    """
    sound, best = _mono(path, None, progress)
    return sound if len(best.channels) == sound.channels else _mono(path, best, progress)[0]


def _mono(path: Path, taken: Taken | None, progress: Progress | None) -> tuple[Sound, Taken]:
    """Decode the mean of some channels, or of all; also say which are best taken."""
    name = path.name
    with _open(path) as stream, SpooledTemporaryFile(IN_MEMORY) as store:
        _check_shape(name, stream)
        resampler = soxr.ResampleStream(stream.rate_hz, RATE_HZ, 1, dtype="float32")
        frames, peak, clipped, broken = 0, 0.0, 0, 0
        excerpts = Excerpts(stream.rate_hz)
        chosen = list(range(stream.channels) if taken is None else taken.channels)
        for raw in stream.until_damaged():
            frames += len(raw)
            if frames > LONGEST_S * stream.rate_hz:
                raise InputError(name, _TOO_LONG)
            wrong = is_no_sound(raw)
            broken += int(wrong.sum())
            block = np.where(wrong, np.float32(0), raw)
            if taken is None and stream.channels > 1:
                excerpts.note(block)
            block = block[:, chosen]
            level = np.abs(block)
            peak = max(peak, float(level.max(initial=0.0)))
            clipped += int((level >= FULL_SCALE).sum())
            store.write(resampler.resample_chunk(block.mean(axis=1)).tobytes())
            if progress and stream.claimed_s:
                progress(min(1.0, frames / (stream.claimed_s * stream.rate_hz)))
        store.write(resampler.resample_chunk(np.zeros(0, np.float32), last=True).tobytes())
        samples = _samples(store)
    values = max(1, frames * stream.channels)
    if broken > values / 10:
        raise InputError(name, f"{100 * broken / values:.0f} % of its samples are not numbers; the file is damaged")
    _check_length(name, stream, frames, peak)
    best = excerpts.choose() if taken is None and stream.channels > 1 else Taken(tuple(chosen))
    clipped_share = clipped / max(1, frames * len(chosen))
    notes = [taken.note] if taken is not None and taken.note else []
    if stream.damage:
        notes.append(f"the file is damaged or was cut off after {frames / stream.rate_hz:.1f} s, and was heard as far")
    note = "; ".join(notes)
    return Sound(samples, name, stream.rate_hz, stream.channels, peak, clipped_share, broken / values, note), best


def is_no_sound(samples: Block) -> NDArray[np.bool_]:
    """Which samples are not numbers, or none that a microphone gives; shape as given."""
    wrong: NDArray[np.bool_] = ~(np.abs(samples) <= _LOUDEST)
    return wrong


def _samples(store: SpooledTemporaryFile[bytes]) -> NDArray[np.float32]:
    """Samples that were stored: in memory, or where there are many, mapped from the disk."""
    count = store.tell() // 4
    store.seek(0)
    if count * 4 <= IN_MEMORY:
        return np.frombuffer(store.read(), np.float32)
    store.rollover()
    return np.memmap(store, np.float32, "r", shape=(count,))


def _check_shape(name: str, stream: _Stream) -> None:
    if not LOWEST_RATE_HZ <= stream.rate_hz <= HIGHEST_RATE_HZ:
        raise InputError(
            name,
            f"sampled at {stream.rate_hz:,} Hz; from {LOWEST_RATE_HZ:,} to {HIGHEST_RATE_HZ:,} Hz can be read",
        )
    if stream.claimed_s is not None and stream.claimed_s > LONGEST_S:
        raise InputError(name, _TOO_LONG)
    if not 1 <= stream.channels <= MOST_CHANNELS:
        raise InputError(name, f"has {stream.channels} channels; up to {MOST_CHANNELS} can be read")


def _check_length(name: str, stream: _Stream, frames: int, peak: float) -> None:
    seconds = frames / stream.rate_hz
    claimed = stream.claimed_s
    if not frames and stream.damage:
        raise InputError(name, _unreadable(stream.damage))
    if claimed is not None and seconds < 0.98 * claimed - 0.5:
        raise InputError(
            name,
            f"says it lasts {claimed:.1f} s but ends after {seconds:.1f} s; it was probably cut off while being copied",
        )
    if seconds < SHORTEST_S:
        raise InputError(name, f"lasts {seconds:.1f} s; a recording of ringing lasts at least {SHORTEST_S:.0f} s")
    if peak < 1e-4:
        raise InputError(name, "is silent from beginning to end; was the microphone connected and switched on?")


@contextmanager
def _open(path: Path) -> Iterator[_Stream]:
    """Open a recording with the one decoder its first bytes name."""
    name = path.name
    head, size = _beginning(path)
    demuxer = next((kind for at, magic, kind in _CONTAINERS if head[at:].startswith(magic)), None)
    missing = _missing_share(head, size)
    try:
        if demuxer is None:
            with soundfile.SoundFile(path) as file:
                if 0 < file.frames < _BELIEVABLE_S * file.samplerate:
                    claimed_s = file.frames / file.samplerate / (1 - missing)
                    yield _Stream(file.samplerate, file.channels, claimed_s, _read_blocks(file))
                    return
                demuxer = _DEMUXERS.get(file.format)
        with av.open(str(path), format=demuxer) as container:
            if not container.streams.audio:
                raise InputError(name, "holds no sound, only pictures or text")
            track = container.streams.audio[0]
            claimed = None if track.duration is None else float(track.duration * (track.time_base or 0)) or None
            codec = track.codec_context
            if codec is None or not codec.sample_rate:
                raise InputError(name, _unreadable("its sound is of no known kind"))
            yield _Stream(codec.sample_rate, codec.channels, claimed, _read_frames(container, track))
    except soundfile.LibsndfileError as error:
        # of an MP3 without a frame that can be decoded it says that there is no such file
        why = "" if "does not exist" in error.error_string else error.error_string
        raise InputError(name, _unreadable(why)) from error
    except av.FFmpegError as error:
        why = "it has no index: cut off while being copied, or stopped before it was whole" if demuxer == "mov" else ""
        raise InputError(name, _unreadable(why or error.strerror or "")) from error
    except UnicodeDecodeError as error:
        raise InputError(name, _unreadable("its labels are not text")) from error


def _beginning(path: Path) -> tuple[bytes, int]:
    """Return a file's first bytes and its size; refuse what is no file, or holds nothing."""
    name = path.name or str(path)
    try:
        if not path.exists():
            raise InputError(name, "there is no such recording")
        if not path.is_file():
            raise InputError(name, "is a folder, or something else that is no file; give the recording itself")
        with path.open("rb") as file:
            head = file.read(_HEAD)
        size = path.stat().st_size
    except OSError as error:
        raise InputError(name, f"cannot be read ({error.strerror}); is it yours to read?") from None
    if not size:
        raise InputError(name, "the file is empty; the recorder was probably stopped before it saved anything")
    return head, size


def _missing_share(head: bytes, size: int) -> float:
    """Share of a WAV file that its header counts and the file does not hold; 0 where the header did not know."""
    if not (head.startswith(b"RIFF") and head[8:12] == b"WAVE"):
        return 0.0
    told = int.from_bytes(head[4:8], "little") + 8
    return 0.0 if told >= _NOT_TOLD else max(0.0, 1 - size / told)


def _unreadable(why: str) -> str:
    reason = why.strip().rstrip(".") or "of no known kind, or damaged"
    return f"cannot be read as a recording ({reason}); WAV, FLAC, MP3, Ogg, Opus, M4A and WebM can"


def _read_blocks(file: soundfile.SoundFile) -> Iterator[Block]:
    buffer = np.empty((_BLOCK, file.channels), np.float32)
    while (count := file.buffer_read_into(buffer, dtype="float32")) > 0:
        yield buffer[:count]


def _read_frames(container: "av.container.InputContainer", track: "av.audio.stream.AudioStream") -> Iterator[Block]:
    planar = av.AudioResampler(format="fltp")
    for frame in container.decode(track):
        for plain in planar.resample(frame):
            yield plain.to_ndarray().T.astype(np.float32, copy=False)
