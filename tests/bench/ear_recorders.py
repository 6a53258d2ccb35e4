"""What recorders make of a sound: telephones, codecs, overload, sampling rates, two channels."""

from pathlib import Path

import av
import numpy as np
import soundfile
import soxr
from scipy.signal import butter, sosfilt

RATE = 44_100


def record(samples: np.ndarray, kind: str, stem: Path) -> Path:
    """Write samples, of shape (samples,) or (samples, channels), as a recorder of that kind would."""
    if kind.startswith("mp3"):
        return _encode(samples, stem.with_suffix(".mp3"), "libmp3lame", int(kind[3:] or 64) * 1000)
    if kind in ("m4a", "opus"):
        codec = {"m4a": "aac", "opus": "libopus"}[kind]
        return _encode(samples, stem.with_suffix({"m4a": ".m4a", "opus": ".webm"}[kind]), codec, 64_000)
    rate = RATE
    if kind == "phone":
        samples, rate = _telephone(samples), 16_000
    elif kind == "clipped":
        samples = np.clip(samples * 4 / np.abs(samples).max(), -1, 1)
    elif kind == "8k":
        rate = 8_000
    elif kind == "96k":
        rate = 96_000
    if rate != RATE:
        samples = soxr.resample(samples, RATE, rate)
    path = stem.with_suffix(".wav")
    soundfile.write(path, np.clip(samples, -1, 1), rate, subtype="PCM_16")
    return path


def _telephone(samples: np.ndarray) -> np.ndarray:
    """A narrow band, and a level that is turned up and down all the time."""
    samples = sosfilt(butter(2, [300, 7000], "bandpass", fs=RATE, output="sos"), samples)
    level = np.sqrt(sosfilt(butter(1, 0.8, fs=RATE, output="sos"), samples**2).clip(1e-9))
    return samples / (level + 0.05 * level.max()) * 0.15


def _encode(samples: np.ndarray, path: Path, codec: str, bit_rate: int) -> Path:
    rate = 48_000 if codec == "libopus" else RATE
    samples = soxr.resample(samples, RATE, rate) if rate != RATE else samples
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate, layout="mono")
        stream.bit_rate = bit_rate
        size = 960 if codec == "libopus" else 1152
        for begin in range(0, len(samples), size):
            block = samples[None, begin : begin + size].astype(np.float32)
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block), format="fltp", layout="mono")
            frame.sample_rate, frame.pts = rate, begin
            for plain in av.AudioResampler(format=stream.format.name, layout="mono", rate=rate).resample(frame):
                container.mux(stream.encode(plain))
        container.mux(stream.encode(None))
    return path
