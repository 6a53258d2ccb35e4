"""Tables that a long recording makes too large for memory: on the disk then, read in blocks, and let go block by block.

What is read of a file mapped into memory counts as a process's own until somebody else needs the room; here it is given
back at once, so that four hours take no more than a few minutes do.
"""

import mmap
from tempfile import TemporaryFile

import numpy as np
from numpy.typing import NDArray

#: Tables up to so many bytes stay in memory: ten minutes of the picture, twelve of the samples.
IN_MEMORY = 64_000_000


def table(rows: int, columns: int) -> NDArray[np.float32]:
    """Room for a table, its values not set.

    Parameters
    ----------
    rows, columns : int
        Its shape.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        In memory, or mapped from a file without a name, which is gone when the table is.
    """
    if 4 * rows * columns <= IN_MEMORY:
        return np.empty((rows, columns), np.float32)
    with TemporaryFile() as file:
        return np.memmap(file, np.float32, "w+", shape=(rows, columns))


def let_go(values: NDArray[np.float32]) -> None:
    """Give the memory back that reading a table on the disk has taken; its values stay, and can be read again.

    Parameters
    ----------
    values : ndarray
        A table or a part of one; nothing is done where it is in memory.
    """
    mapped = getattr(values, "_mmap", None)
    if mapped is not None and hasattr(mapped, "madvise"):
        mapped.madvise(mmap.MADV_DONTNEED)
