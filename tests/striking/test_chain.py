import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.striking.chain import solve_chain


@given(length=st.integers(1, 12), seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_a_chain_is_solved_as_dense_linear_algebra_solves_it(length: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    dense = np.zeros((2 * length, 2 * length))
    for row in range(length):
        for column in range(max(0, row - 1), min(length, row + 2)):
            dense[2 * row : 2 * row + 2, 2 * column : 2 * column + 2] = random.normal(size=(2, 2))
    dense = dense + dense.T + 12 * np.eye(2 * length)
    right = random.normal(size=(length, 2, 3))
    blocks = dense.reshape(length, 2, length, 2).transpose(0, 2, 1, 3)
    index = np.arange(length)

    solved = solve_chain(blocks[index, index], blocks[index[:-1], index[1:]], right)

    inverse = np.linalg.inv(dense).reshape(length, 2, length, 2).transpose(0, 2, 1, 3)
    assert np.allclose(solved.values.reshape(-1, 3), np.linalg.solve(dense, right.reshape(-1, 3)))
    assert np.allclose(solved.covariances, inverse[index, index])
    assert np.allclose(solved.cross_covariances, inverse[index[:-1], index[1:]])
    assert solved.log_determinant == pytest.approx(np.linalg.slogdet(dense)[1])


def test_leaving_variances_out_changes_nothing_else() -> None:
    diagonal, upper = np.tile(5 * np.eye(2), (7, 1, 1)), np.tile(np.array([[1.0, 0.5], [0.2, 1.0]]), (6, 1, 1))
    right = np.arange(14.0).reshape(7, 2, 1)
    full, quick = solve_chain(diagonal, upper, right), solve_chain(diagonal, upper, right, variances=False)
    assert np.array_equal(full.values, quick.values)
    assert full.log_determinant == quick.log_determinant
    assert not len(quick.covariances)
