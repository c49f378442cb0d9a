"""How the errors of measures that are read in one run go together, from the residuals of their repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scoring.numbers.array_types import Array, Integers, Texts
from scoring.numbers.ordered_sums import matrix_product

#: A matrix whose least eigenvalue is above this is a covariance, but for the dust of binary sums.
DUST = -1e-12
#: Between product, cell and number in a run's key; no text of a catalogue holds it.
BREAK = "\x1f"


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """The readings of one measure and the runs that they were read in.

    Attributes
    ----------
    values : shape (n_products, n_repeats), NaN where there is no reading
    cells : the same shape, a text for the session and specimen of each reading; None where a product is one cell
    repeats : the same shape, the number of the run within its cell; None where that is the column
    relative : whether the scatter is a share of the product's mean
    """

    values: Array
    cells: Texts | None = None
    repeats: Integers | None = None
    relative: bool = False


class Correlation(NamedTuple):
    """A correlation coefficient and the degrees of freedom of the residuals behind it; NaN where nothing can be told."""

    coefficient: float
    freedom: int


@dataclass(frozen=True, slots=True, eq=False)
class CorrelationMatrix:
    """Correlations of several measures' errors.

    Attributes
    ----------
    coefficients : shape (n_measures, n_measures), positive semidefinite with a diagonal of 1; 0 where a pair tells nothing
    freedom : the same shape, of each pair; 0 where it tells nothing, and on the diagonal
    moved : how far the coefficient moved that had to move furthest for a covariance to exist
    """

    coefficients: Array
    freedom: Integers
    moved: float

    def __post_init__(self) -> None:
        self.coefficients.setflags(write=False)
        self.freedom.setflags(write=False)


def pooled_correlation(first: Runs, second: Runs) -> Correlation:
    """The correlation within cells of two measures' readings, pooled over the cells.

    Runs are matched by product, cell and number of the run; what only one measure has is left out.

    Returns
    -------
    coefficient : sum (x - mean)(y - mean) / sqrt(sum (x - mean)^2 sum (y - mean)^2), with the means of the matched runs of
        each cell; NaN where no cell has two, or the repeats of one measure are all alike
    freedom : matched runs less their cells

    Raises
    ------
    ValueError : the measures have different products, or two readings of a measure stand in one run

    Notes
    -----
    The correlation within classes of an analysis of covariance; R. A. Fisher, Statistical Methods for Research Workers,
    1925 (from memory).
    """
    if len(first.values) != len(second.values):
        raise ValueError("correlations need the same products under both measures")
    one, other, cells = _matched(first, second)
    freedom = len(cells) - len(np.unique(cells))
    left, right = _residuals(one, cells), _residuals(other, cells)
    size = math.sqrt(float(np.sum(left**2))) * math.sqrt(float(np.sum(right**2)))
    if not freedom or not size:
        return Correlation(math.nan, freedom)
    return Correlation(min(1.0, max(-1.0, float(np.sum(left * right)) / size)), freedom)


def correlation_matrix(measures: Sequence[Runs]) -> CorrelationMatrix:
    """The correlations of several measures' errors, made a covariance where pairs with different gaps make none.

    Raises
    ------
    ValueError : see `pooled_correlation`
    """
    n_measures = len(measures)
    coefficients, freedom = np.eye(n_measures), np.zeros((n_measures, n_measures), dtype=np.int64)
    for place, first in enumerate(measures):
        for before, second in enumerate(measures[:place]):
            found = pooled_correlation(first, second)
            if not math.isnan(found.coefficient):
                coefficients[place, before] = coefficients[before, place] = found.coefficient
                freedom[place, before] = freedom[before, place] = found.freedom
    made = semidefinite(coefficients)
    return CorrelationMatrix(made, freedom, float(np.abs(made - coefficients).max(initial=0.0)))


def semidefinite(coefficients: Array) -> Array:
    """The matrix as it is where it is positive semidefinite; else near it, negative eigenvalues at 0 and the diagonal at 1.

    Both of shape (n_measures, n_measures).

    Notes
    -----
    The spectral method of R. Rebonato and P. Jaeckel, Journal of Risk 2 (1999) (from memory).
    """
    values, vectors = np.linalg.eigh(coefficients)
    if values.min(initial=0.0) >= DUST:
        return coefficients
    made = matrix_product(vectors * np.maximum(values, 0.0), vectors.T)
    sizes = np.sqrt(np.diag(made))
    scaled = made / np.outer(sizes, sizes)
    np.fill_diagonal(scaled, 1.0)
    return np.asarray((scaled + scaled.T) / 2)


def _matched(first: Runs, second: Runs) -> tuple[Array, Array, Integers]:
    """The values that both measures have of a run, in one order, and a number for the cell of each; all of shape (n_matched,)."""
    (one, one_runs), (other, other_runs) = _by_run(first), _by_run(second)
    both, in_one, in_other = np.intersect1d(one_runs, other_runs, return_indices=True)
    cells = [key.rpartition(BREAK)[0] for key in both.tolist()]
    return one[in_one], other[in_other], np.unique(cells, return_inverse=True)[1].reshape(-1)


def _by_run(runs: Runs) -> tuple[Array, NDArray[np.str_]]:
    """Each reading, as a share where that is what scatters, and a text for its product, cell and run.

    Both of shape (n_readings,), without readings of products whose mean is 0 where they are shares.
    """
    held = np.isfinite(runs.values)
    rows, columns = np.nonzero(held)
    words = np.full(len(rows), "") if runs.cells is None else runs.cells[held].astype(str)
    numbers = columns if runs.repeats is None else runs.repeats[held]
    keys = np.array(
        [f"{row}{BREAK}{word}{BREAK}{number}" for row, word, number in zip(rows, words, numbers, strict=True)],
        dtype=str,
    )
    if len(np.unique(keys)) < len(keys):
        raise ValueError("two readings of one measure stand in one run")
    values = runs.values[held]
    if runs.relative and len(rows):
        means = np.bincount(rows, values) / np.maximum(np.bincount(rows), 1)
        sizes = means[rows]
        kept = sizes != 0
        return values[kept] / sizes[kept], keys[kept]
    return values, keys


def _residuals(values: Array, cells: Integers) -> Array:
    """Each value less the mean of its cell, shape (n_matched,); `cells` are numbered from 0, of the same shape."""
    if not len(values):
        return values
    return np.asarray(values - (np.bincount(cells, values) / np.bincount(cells))[cells])
