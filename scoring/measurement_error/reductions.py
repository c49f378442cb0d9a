"""Sums of squares of one random factor after others, in the independent parts that unbalanced data leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from scoring.numbers.array_types import Array, Integers
from scoring.numbers.ordered_sums import matrix_product, sparse_product

#: An eigenvalue below this share of the greatest is binary dust: eigenvalues of counts are no smaller.
DUST = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Reduction:
    """What a random factor takes from the sum of squares that others leave.

    Attributes
    ----------
    squares : shape (rank,); each is (sigma_r^2 + weight sigma^2) times a chi-squared of one degree of its own, with sigma of
        the factor and sigma_r within cells
    weights : shape (rank,), above 0
    n_parts : the connected parts in which levels of the factor can be compared; none across two
    """

    squares: Array
    weights: Array
    n_parts: int

    def __post_init__(self) -> None:
        for array in (self.squares, self.weights):
            array.setflags(write=False)

    @property
    def rank(self) -> int:
        """The degrees of freedom of the mean square."""
        return len(self.weights)

    @property
    def mean_square(self) -> float:
        """The mean square, of expectation sigma_r^2 + coefficient sigma^2."""
        return float(self.squares.sum()) / self.rank

    @property
    def coefficient(self) -> float:
        """The trace coefficient over the rank: in balanced data the readings of each level."""
        return float(self.weights.mean())

    def grouped(self) -> tuple[Array, Array]:
        """Sums of the squares of (nearly) equal weight, and the weights, shape (groups,) each: balanced data have one group."""
        order = np.argsort(self.weights)
        weights, squares = self.weights[order], self.squares[order]
        starts = np.flatnonzero(np.concatenate([[True], np.diff(weights) > DUST * weights[-1:].sum()]))
        return np.add.reduceat(squares, starts), weights[starts]


def sessions_after(rows: Integers, sessions: Integers, values: Array) -> Reduction:
    """The reduction of sessions after the effects of rows (products, or specimens of products).

    Parameters
    ----------
    rows, sessions : shape (n_readings,), numbered from 0 without gaps
    values : shape (n_readings,)
    """
    counts = _counts(rows, sessions)
    each, means = _row_means(rows, values)
    left = np.bincount(sessions, values) - sparse_product(counts.T, means)
    matrix = scipy.sparse.diags_array(np.bincount(sessions).astype(np.float64)) - sparse_product(
        counts.T, counts / each[:, np.newaxis]
    )
    return _spectrum(scipy.sparse.csr_array(matrix), left)


def specimens_after(products: Integers, specimens: Integers, sessions: Integers | None, values: Array) -> Reduction:
    """The reduction of specimens, each of one product, after the effects of products and of sessions (where there are any).

    Parameters
    ----------
    products, specimens, sessions : shape (n_readings,), numbered from 0 without gaps
    values : shape (n_readings,)
    """
    each, means = _row_means(products, values)
    inside = _counts(products, specimens)
    matrix = scipy.sparse.diags_array(np.bincount(specimens).astype(np.float64)) - sparse_product(
        inside.T, inside / each[:, np.newaxis]
    )
    left = np.bincount(specimens, values) - sparse_product(inside.T, means)
    if sessions is None:
        return _spectrum(scipy.sparse.csr_array(matrix), left)
    counts = _counts(products, sessions)
    shared = (
        np.diag(np.bincount(sessions).astype(np.float64))
        - sparse_product(counts.T, counts / each[:, np.newaxis]).toarray()
    )
    both = (_counts(sessions, specimens) - sparse_product(counts.T, inside / each[:, np.newaxis])).toarray()
    solved = matrix_product(np.linalg.pinv(shared, rcond=DUST, hermitian=True), both)
    session_left = np.bincount(sessions, values) - sparse_product(counts.T, means)
    return _spectrum(
        scipy.sparse.csr_array(matrix.toarray() - matrix_product(both.T, solved)),
        left - matrix_product(solved.T, session_left),
    )


def _counts(rows: Integers, columns: Integers) -> scipy.sparse.csr_array:
    """How many readings stand in each row and column, shape (n_rows, n_columns); both are of shape (n_readings,), from 0."""
    return scipy.sparse.csr_array(scipy.sparse.coo_array((np.ones(len(rows)), (rows, columns))))


def _row_means(rows: Integers, values: Array) -> tuple[Array, Array]:
    """How many readings each row has, and their mean, shape (n_rows,) each; rows and values are of shape (n_readings,)."""
    each = np.bincount(rows).astype(np.float64)
    return each, np.bincount(rows, values) / each


def _spectrum(matrix: scipy.sparse.csr_array, left: Array) -> Reduction:
    """Independent squares of a random factor whose normal equations, the others absorbed, are `matrix` effects = `left`.

    matrix : shape (n_levels, n_levels), symmetric; left : shape (n_levels,)

    Notes
    -----
    With e_k the eigenvectors of the matrix and w_k its eigenvalues, e_k' left is normal of variance
    w_k^2 sigma^2 + w_k sigma_r^2, and uncorrelated from k to k. The matrix is taken apart into its connected blocks.
    """
    size = float(matrix.diagonal().max(initial=0.0))
    links = scipy.sparse.csr_array(abs(matrix) > DUST * max(size, 1.0))
    n_blocks, block = scipy.sparse.csgraph.connected_components(links, directed=False)
    members = np.split(np.argsort(block, kind="stable"), np.cumsum(np.bincount(block, minlength=n_blocks))[:-1])
    squares, weights, n_parts = [], [], 0
    for levels in members:
        if len(levels) < 2:
            continue
        values, vectors = np.linalg.eigh(matrix[levels][:, levels].toarray())
        kept = values > DUST * size
        squares.append(matrix_product(vectors.T, left[levels])[kept] ** 2 / values[kept])
        weights.append(values[kept])
        n_parts += int(kept.any())
    nothing = np.zeros(0)
    return Reduction(np.concatenate([nothing, *squares]), np.concatenate([nothing, *weights]), n_parts)
