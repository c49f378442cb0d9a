"""Critical values of the outlier tests, computed from their distributions: Grubbs, Mandel's h and k, Cochran."""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Flags, Integers


def grubbs_critical(n: ArrayLike, level: float | Array, sides: int = 2) -> Array:
    """The critical value of Grubbs' single test in n values, three or more.

    Notes
    -----
    G = (n - 1) / sqrt(n) * sqrt(t^2 / (n - 2 + t^2)), t the upper level / (sides n) quantile of Student's distribution
    with n - 2 degrees of freedom: F. E. Grubbs, Ann. Math. Stat. 21 (1950), with the bound of Pearson and Sekar,
    Biometrika 28 (1936) (formula from memory).
    """
    size = np.asarray(n, dtype=np.float64)
    squared = scipy.stats.t.isf(level / (sides * size), size - 2) ** 2
    return np.asarray((size - 1) / np.sqrt(size) * np.sqrt(squared / (size - 2 + squared)))


def mandel_h_critical(n: ArrayLike, level: float) -> Array:
    """The critical value of |h| for one mean out of n, three or more.

    Notes
    -----
    (1 + h sqrt(n) / (n - 1)) / 2 follows Beta((n - 2) / 2, (n - 2) / 2) for means of equal variance (documentation of
    R's package metRology, Mandel-h, read), which is Grubbs' relation to Student's t without the n-fold choice.
    """
    return grubbs_critical(n, level * np.asarray(n, dtype=np.float64))


def mandel_k_critical(freedom: ArrayLike, total: float, level: float) -> Array:
    """The critical value of k = s_i / s_r for a cell of `freedom` degrees of freedom out of `total` over all cells.

    Notes
    -----
    The cell's share of the sum of squares, k^2 freedom / total, follows Beta(freedom / 2, (total - freedom) / 2): for
    equal cells documented for R's package metRology, Mandel-k (read); for unequal ones worked out here.
    """
    own = np.asarray(freedom, dtype=np.float64)
    return np.asarray(np.sqrt(total / own * scipy.stats.beta.isf(level, own / 2, (total - own) / 2)))


def cochran_critical(freedom: ArrayLike, total: float, n_cells: int, level: float) -> Array:
    """The critical value of a cell's share of the sum of squares, the greatest share of `n_cells` being tested.

    Notes
    -----
    For equal cells the share is Cochran's C = s_max^2 / sum s^2, and the value is the upper bound
    C = 1 / (1 + (p - 1) / F), F the upper level / p quantile of F(n - 1, (p - 1)(n - 1)): W. G. Cochran, Ann. Eugenics 11
    (1941) (formula from memory). For unequal cells each share has its own Beta distribution, and the bound of level / p
    for each still holds: R. U. E. 't Lam, Anal. Chim. Acta 659 (2010) (from memory; worked out here again).
    """
    own = np.asarray(freedom, dtype=np.float64)
    return np.asarray(scipy.stats.beta.isf(level / n_cells, own / 2, (total - own) / 2))


def furthest(values: Array) -> tuple[Array, Integers, Flags]:
    """The greatest deviation of each row from its mean, |x - mean| / s, its column, and whether it can be tested.

    Parameters
    ----------
    values : shape (n_rows, n_columns); NaN where there is none

    Returns
    -------
    three of shape (n_rows,); a row can be tested where it has three values, and those other than the suspect differ

    Notes
    -----
    Where the others are all equal, as rounded readings often are, the statistic is (n - 1) / sqrt(n) however small the
    deviation; that is above every critical value, and says nothing. The statistic is NaN there.
    """
    here = np.isfinite(values)
    counts = here.sum(axis=1)
    means = np.where(here, values, 0.0).sum(axis=1) / np.maximum(counts, 1)
    deviations = np.where(here, np.abs(values - means[:, np.newaxis]), 0.0)
    columns = deviations.argmax(axis=1)
    rest = here & (np.arange(values.shape[1]) != columns[:, np.newaxis])
    differ = np.where(rest, values, -np.inf).max(axis=1) > np.where(rest, values, np.inf).min(axis=1)
    testable = (counts >= 3) & differ
    sds = np.sqrt((deviations**2).sum(axis=1) / np.maximum(counts - 1, 1))
    return np.where(testable, deviations.max(axis=1) / np.where(testable, sds, 1.0), np.nan), columns, testable
