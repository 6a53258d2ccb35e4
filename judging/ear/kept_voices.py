"""A ring's voices ⇄ a small open file (``.npz``), so that what was learnt from one recording serves the next.

The file holds plain arrays: ``weights`` (looks, bands, bells) and ``bias`` (bells,), the treble's first; and
``picture``, which says what picture of the sound they look at: rate, hop, window, lowest band's centre in Hz, and the
offsets of the looks in frames. Nothing in it is ever executed.
"""

import io
import zipfile
import zlib

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import HOP, LOWEST_HZ, OFFSETS, RATE_HZ, WINDOW, band_matrix
from judging.ear.voices import Voices
from judging.errors import InputError

#: Sixteen bells take a tenth of this.
_MOST_BYTES = 1_000_000
_MEMBERS = frozenset({"weights.npy", "bias.npy", "picture.npy"})


def _picture() -> NDArray[np.float64]:
    return np.array([RATE_HZ, HOP, WINDOW, LOWEST_HZ, *OFFSETS], np.float64)


def voices_to_bytes(voices: Voices) -> bytes:
    """Return the file's bytes; the same voices give the same bytes."""
    arrays = {"weights": voices.weights, "bias": voices.bias, "picture": _picture()}
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, array in arrays.items():
            plain = io.BytesIO()
            np.lib.format.write_array(plain, np.ascontiguousarray(array), allow_pickle=False)
            packed.writestr(zipfile.ZipInfo(f"{name}.npy"), plain.getvalue(), zipfile.ZIP_DEFLATED)
    return file.getvalue()


def voices_from_bytes(data: bytes, name: str) -> Voices:
    """Read what `voices_to_bytes` wrote.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages.

    Raises
    ------
    InputError
        It is no such file, is damaged or too large, or was written by an ear that looks at sound otherwise.
    """
    no_voices = "is not a file of kept voices; `evenblow listen --keep-voices` writes one"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            told = packed.infolist()
            if {member.filename for member in told} != _MEMBERS or sum(m.file_size for m in told) > _MOST_BYTES:
                raise InputError(name, no_voices)
            weights, bias, picture = (_array(packed, part) for part in ("weights", "bias", "picture"))
    except (zipfile.BadZipFile, zlib.error, ValueError, EOFError, NotImplementedError, RuntimeError) as error:
        raise InputError(name, no_voices) from error
    bands = band_matrix().shape[1]
    fits = weights.dtype == bias.dtype == np.float32 and weights.shape == (len(OFFSETS), bands, *bias.shape)
    if not (fits and bias.ndim == 1 and len(bias) and np.array_equal(picture, _picture())):
        raise InputError(
            name, "holds voices of another version of the ear; listen to a recording again to keep new ones"
        )
    if not (np.isfinite(weights).all() and np.isfinite(bias).all()):
        raise InputError(name, "holds values that are not numbers; the file is damaged")
    return Voices(weights, bias)


def _array(packed: zipfile.ZipFile, part: str) -> NDArray[np.float32]:
    """Read one array, having compared the size that its header claims with what is there."""
    data = packed.read(f"{part}.npy")
    file = io.BytesIO(data)
    np.lib.format.read_magic(file)
    shape, _, kind = np.lib.format.read_array_header_1_0(file)
    if kind.hasobject or int(np.prod(shape, dtype=object)) * kind.itemsize != len(data) - file.tell():
        raise ValueError(part)
    file.seek(0)
    return np.lib.format.read_array(file, allow_pickle=False)
