"""Inverses of stacks of matrices, against the library's one by one."""

import numpy as np
import pytest

from wearcast.wear.pooled.arrays import inverse_and_log_det


@pytest.mark.parametrize(("n", "count"), [(1, 300), (6, 2400), (8, 100), (8, 99), (12, 300)])
def test_inverse_and_determinant_are_those_of_the_library(n: int, count: int) -> None:
    """Many small ones are inverted all at once, others one by one; what is given stays as it was."""
    x = np.random.default_rng(n).normal(size=(count, n, n + 2))
    given = x @ np.swapaxes(x, -1, -2)
    before = given.copy()
    inverse, log_det = inverse_and_log_det(given)
    np.testing.assert_array_equal(given, before)
    np.testing.assert_allclose(inverse, np.linalg.inv(given), rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(log_det, np.linalg.slogdet(given)[1], rtol=1e-10, atol=1e-10)


@pytest.mark.parametrize("count", [3, 200])
def test_what_is_not_positive_definite_is_refused(count: int) -> None:
    given = np.tile(np.diag([1.0, 2.0]), (count, 1, 1))
    given[1, 1, 1] = -2.0
    with pytest.raises(np.linalg.LinAlgError):
        inverse_and_log_det(given)
