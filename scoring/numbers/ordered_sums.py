"""Matrix products whose sums are taken in one order, whatever the processor and its threads.

`@`, `np.dot`, `np.cov` and their kin hand the work to a library (BLAS) that cuts it up by the number of threads: the last
digits of its sums, and with them the bytes of a result, differ from one setting and one machine to the next.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array


def matrix_product(one: ArrayLike, other: ArrayLike) -> Array:
    """one @ other, the last axis of `one` summed against the first of `other`.

    Parameters
    ----------
    one : array, shape (..., n)
    other : array, shape (n,) or (n, columns)

    Returns
    -------
    ndarray, shape (...) or (..., columns)

    Examples
    --------
    >>> matrix_product([[1.0, 2.0], [3.0, 4.0]], [10.0, 1.0])
    array([12., 34.])
    """
    left, right = np.asarray(one, float), np.asarray(other, float)
    subscripts = "...j,jk->...k" if right.ndim == 2 else "...j,j->..."
    return np.asarray(np.einsum(subscripts, left, right, optimize=False))


def sparse_product(one: Any, other: Any) -> Any:
    """one @ other for scipy's sparse matrices, shape (n, m) and (m, k), or one with an array: their sums have one order."""
    return one @ other


def covariance_of(values: Array) -> Array:
    """The covariances of columns, on n - 1.

    Parameters
    ----------
    values : array, shape (n, columns), n of 2 or more

    Returns
    -------
    ndarray, shape (columns, columns)
    """
    centred = values - values.mean(axis=0)
    return matrix_product(centred.T, centred) / (len(values) - 1)


def correlation_of(one: Array, other: Array) -> float:
    """The Pearson correlation of two series that both vary, shape (n,), from -1 to 1."""
    first, second = one - one.mean(), other - other.mean()
    size = np.sqrt(np.sum(first**2)) * np.sqrt(np.sum(second**2))
    return float(np.clip(np.sum(first * second) / size, -1, 1))
