"""Everything left to chance, from one seed.

Each thing draws from a stream of its own, so that one more draw in one place moves nothing elsewhere.
"""

import numpy as np

from judging.errors import InputError


def chance(seed: int, *what: str | int) -> np.random.Generator:
    """Stream of random numbers that belongs to one thing alone.

    Parameters
    ----------
    seed : int
        0 or more.
    what : str or int
        What the numbers are for, such as ``"bell", 3``.

    Returns
    -------
    numpy.random.Generator
        The same for the same seed and thing, independent of every other.

    Raises
    ------
    InputError
        For a negative seed.
    """
    if seed < 0:
        raise InputError("seed", f"is {seed}; a seed is a whole number from 0")
    return np.random.default_rng([seed, *(int.from_bytes(str(word).encode()) for word in what)])
