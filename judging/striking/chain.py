"""A chain of pairs, each tied to the next: solved, with its variances, in a number of array steps that grows as log R.

The rhythm of a band is one such chain: each row has a start and a gap, and is tied by the blows to the clock and by
steadiness to the next row. The weighted least squares of a chain is a symmetric positive definite system with 2 × 2
blocks on three diagonals::

    D0 U0
    U0ᵀ D1 U1
        U1ᵀ D2 ...

Every second pair is eliminated at a stroke (odd-even reduction), the half that remains is again such a chain, and the
eliminated pairs follow from their neighbours. The same steps in reverse give the blocks of the inverse beside the
diagonal, which are the variances. Nothing is approximated.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Blocks = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Solved:
    """Answer of a chain.

    Parameters
    ----------
    values : ndarray, shape (R, 2, m)
        Solution for each right-hand side.
    covariances : ndarray, shape (R, 2, 2)
        Diagonal blocks of the inverse; of length 0 where they were not asked for.
    cross_covariances : ndarray, shape (R - 1, 2, 2)
        Blocks of the inverse above the diagonal; of length 0 where they were not asked for.
    log_determinant : float
        Logarithm of the determinant of the whole matrix.
    """

    values: Blocks
    covariances: Blocks
    cross_covariances: Blocks
    log_determinant: float


def solve_chain(diagonal: Blocks, upper: Blocks, right: Blocks, *, variances: bool = True) -> Solved:
    """Solution, variances and determinant of a chain of pairs.

    Parameters
    ----------
    diagonal : ndarray, shape (R, 2, 2)
        Blocks of the diagonal; symmetric, and the whole matrix positive definite.
    upper : ndarray, shape (R - 1, 2, 2)
        Blocks above the diagonal; those below are their transposes.
    right : ndarray, shape (R, 2, m)
        Right-hand sides.
    variances : bool
        Whether the blocks of the inverse are wanted, which is half of the work.

    Returns
    -------
    Solved
        Values, blocks of the inverse, and the logarithm of the determinant.

    Examples
    --------
    >>> import numpy as np
    >>> one = solve_chain(2 * np.eye(2)[None], np.zeros((0, 2, 2)), np.ones((1, 2, 1)))
    >>> one.values[0, :, 0].tolist()
    [0.5, 0.5]
    """
    return Solved(*_reduce(diagonal, upper, right, variances=variances))


def _reduce(diagonal: Blocks, upper: Blocks, right: Blocks, *, variances: bool) -> tuple[Blocks, Blocks, Blocks, float]:
    """Solution, diagonal and upper blocks of the inverse, and log determinant."""
    length = len(diagonal)
    if length == 1:
        inverse, log_determinant = _inverse(diagonal)
        return inverse @ right, inverse if variances else inverse[:0], np.zeros((0, 2, 2)), log_determinant
    inverse, log_determinant = _inverse(diagonal[1::2])
    odds, evens = length // 2, length - length // 2
    before, after = upper[0::2], upper[1::2]  # from the even pair into the odd one; from the odd one into the next even
    rights = len(after)  # the last odd pair has no later neighbour when the length is even
    to_before, to_after = inverse @ _t(before), inverse[:rights] @ after
    odd_right = inverse @ right[1::2]

    reduced, reduced_right = diagonal[0::2].copy(), right[0::2].copy()
    reduced[:odds] -= before @ to_before
    reduced[1 : rights + 1] -= _t(after) @ to_after
    reduced_right[:odds] -= before @ odd_right
    reduced_right[1 : rights + 1] -= _t(after) @ odd_right[:rights]
    even, even_cov, even_upper, rest = _reduce(
        reduced, -before[: evens - 1] @ to_after[: evens - 1], reduced_right, variances=variances
    )

    odd = odd_right - to_before @ even[:odds]
    odd[:rights] -= to_after @ even[1:]
    values = np.empty_like(right)
    values[0::2], values[1::2] = even, odd
    if not variances:
        return values, even_cov, even_upper, log_determinant + rest
    with_before = -to_before @ even_cov[:odds]
    with_before[:rights] -= to_after @ _t(even_upper)
    with_after = -(to_before[:rights] @ even_upper + to_after @ even_cov[1:])
    odd_cov = inverse - with_before @ _t(to_before)
    odd_cov[:rights] -= with_after @ _t(to_after)

    covariances, uppers = np.empty_like(diagonal), np.empty_like(upper)
    covariances[0::2], covariances[1::2] = even_cov, odd_cov
    uppers[0::2], uppers[1::2] = _t(with_before), with_after
    return values, covariances, uppers, log_determinant + rest


def _t(blocks: Blocks) -> Blocks:
    """Transpose of each block."""
    return blocks.transpose(0, 2, 1)


def _inverse(blocks: Blocks) -> tuple[Blocks, float]:
    """Inverse of each 2 × 2 block, and the sum of the logarithms of their determinants."""
    (a, b), (c, d) = blocks.transpose(1, 2, 0)
    determinant = a * d - b * c
    inverse = np.empty_like(blocks)
    inverse[:, 0, 0], inverse[:, 0, 1] = d / determinant, -b / determinant
    inverse[:, 1, 0], inverse[:, 1, 1] = -c / determinant, a / determinant
    return inverse, float(np.log(determinant).sum())
