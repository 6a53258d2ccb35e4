"""A recording that is still being written: the samples of a WAV file, block by block, as they come.

Only uncompressed WAV says where its samples are before it is finished. Its header is believed for the format alone,
never for the length, which recorders fill in at the end.
"""

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from judging.ear.decode import MOST_CHANNELS
from judging.errors import InputError

#: Half a second at 48 kHz.
_BLOCK = 24_000
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
#: The part of a header that comes before the samples is never longer than this.
_LONGEST_HEADER = 1 << 20


class GrowingWav:
    """A WAV file that somebody else may still be writing.

    Parameters
    ----------
    path : Path
        The file; its header must be there.

    Raises
    ------
    InputError
        There is no such file, or it does not begin as an uncompressed WAV file.
    """

    def __init__(self, path: Path) -> None:
        self._name = path.name
        if not path.is_file():
            raise InputError(self._name, "there is no such recording; start the recorder first")
        self._file = path.open("rb")
        try:
            self.rate_hz, self.channels, self._code, self._bits = self._read_header(self._file)
        except BaseException:
            self._file.close()
            raise
        self._rest = b""

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def more(self) -> Iterator[NDArray[np.float32]]:
        """Yield what has been written since the last time, in blocks of half a second at most.

        Yields
        ------
        ndarray of float32, shape (samples, channels)
            Full scale 1.
        """
        frame = self.channels * self._bits // 8
        while data := self._file.read(_BLOCK * frame):
            self._rest += data
            whole = len(self._rest) // frame * frame
            taken, self._rest = self._rest[:whole], self._rest[whole:]
            if taken:
                yield self._samples(taken)

    def _samples(self, data: bytes) -> NDArray[np.float32]:
        if self._code == _FLOAT:
            values = np.frombuffer(data, f"<f{self._bits // 8}").astype(np.float32)
        elif self._bits == 24:
            padded = np.zeros((len(data) // 3, 4), np.uint8)
            padded[:, 1:] = np.frombuffer(data, np.uint8).reshape(-1, 3)
            values = padded.view("<i4")[:, 0].astype(np.float32) / np.float32(2**31)
        else:
            values = np.frombuffer(data, f"<i{self._bits // 8}").astype(np.float32) / np.float32(2 ** (self._bits - 1))
        return values.reshape(-1, self.channels)

    def _read_header(self, file: BinaryIO) -> tuple[int, int, int, int]:
        """Return rate, channels, kind of sample and bits of each, and leave the file at its first sample."""
        kind = file.read(12)
        if kind[:4] not in {b"RIFF", b"RF64"} or kind[8:] != b"WAVE":
            raise InputError(
                self._name,
                "does not begin as a WAV file, the only kind that can be heard while it is being written; set the "
                "recorder to WAV, or hear the file when it is finished",
            )
        told: tuple[int, int, int, int] | None = None
        while len(head := file.read(8)) == 8 and file.tell() < _LONGEST_HEADER:
            name, size = struct.unpack("<4sI", head)
            if name == b"data":
                if told is None:
                    break
                return told
            body = file.read(size + size % 2)
            if name == b"fmt " and len(body) >= 16:
                told = self._format(body)
        raise InputError(self._name, "has no complete WAV header yet; start the recorder first")

    def _format(self, body: bytes) -> tuple[int, int, int, int]:
        code, channels, rate_hz, _, _, bits = struct.unpack("<HHIIHH", body[:16])
        if code == _EXTENSIBLE and len(body) >= 26:
            (code,) = struct.unpack("<H", body[24:26])
        if (code, bits) not in {(_PCM, 16), (_PCM, 24), (_PCM, 32), (_FLOAT, 32), (_FLOAT, 64)}:
            raise InputError(
                self._name, f"holds samples of kind {code} with {bits} bits; 16, 24 and 32 bits can be read"
            )
        if not 1 <= channels <= MOST_CHANNELS:
            raise InputError(self._name, f"has {channels} channels; up to {MOST_CHANNELS} can be read")
        return rate_hz, channels, code, bits
