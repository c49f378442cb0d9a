"""Whether parts say the same thing twice: rank correlation, variance inflation, principal components, Cronbach's alpha.

Sources: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, section 4 (principal components, Cronbach's alpha;
read). L. J. Cronbach, Coefficient alpha and the internal structure of tests, Psychometrika 16, 1951. Variance inflation:
D. W. Marquardt, Technometrics 12, 1970. The last two from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import covariance_of, matrix_product

#: A part whose remaining variance, given the others, is under this share of its own follows from them.
DUST = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Redundancy:
    """How parts go together; NaN throughout for a part that does not vary.

    spearman, pearson: shape (parts, parts). inflation: shape (parts,), inf where a part follows from the others.
    eigenvalues: of the Pearson correlation of the parts that vary, largest first; loadings: shape (parts, components), the
    correlation of each part with each component, the largest of a component positive. alpha: of standardised parts;
    alpha_raw: of parts as they stand; alpha_without, rest_correlation: shape (parts,), standardised alpha when a part is left
    out, and the part's correlation with the sum of the other standardised ones.
    """

    spearman: Array
    pearson: Array
    inflation: Array
    eigenvalues: Array
    loadings: Array
    alpha: float
    alpha_raw: float
    alpha_without: Array
    rest_correlation: Array


def redundancy(values: ArrayLike) -> Redundancy:
    """How the parts of a score go together over the products.

    Parameters
    ----------
    values : array, shape (products, parts)

    Raises
    ------
    ValueError : fewer than two products or two parts
    """
    x = np.asarray(values, float)
    if x.ndim != 2 or min(x.shape) < 2:
        raise ValueError(f"values of shape {x.shape}; two products and two parts are the least that go together")
    pearson = correlation(x)
    spearman = correlation(scipy.stats.rankdata(x, axis=0))
    varies = ~np.isnan(np.diag(pearson))
    inner = pearson[np.ix_(varies, varies)]
    eigenvalues, loadings = _components(inner)
    spread = np.full((x.shape[1], loadings.shape[1]), np.nan)
    spread[varies] = loadings
    inflation, without, rest = (np.full(x.shape[1], np.nan) for _ in range(3))
    inflation[varies] = variance_inflation(inner)
    without[varies], rest[varies] = _left_out_in_turn(inner)
    return Redundancy(
        spearman, pearson, inflation, eigenvalues, spread, alpha_of(inner), alpha_of(covariance_of(x)), without, rest
    )


def correlation(values: Array) -> Array:
    """The Pearson correlations of columns, shape (columns, columns); NaN where a column does not vary."""
    centred = values - values.mean(axis=0)
    size = np.sqrt(np.sum(centred**2, axis=0))
    there = size > DUST * np.maximum(np.abs(values).max(axis=0), 1e-300) * np.sqrt(len(values))
    scaled = centred / np.where(there, size, np.nan)
    found: Array = np.clip(matrix_product(scaled.T, scaled), -1, 1)
    return found


def variance_inflation(correlations: Array) -> Array:
    """1 / (1 - R^2) of each column on all the others, shape (columns,); inf where it follows from them.

    Notes
    -----
    R^2 = r' C^+ r, with C the correlations of the others and r those with the column: the regression itself, so that a
    singular matrix has figures too. Where it is regular they are the diagonal of its inverse.
    """
    found = np.empty(len(correlations))
    for column in range(len(correlations)):
        others = np.delete(np.arange(len(correlations)), column)
        r = correlations[others, column]
        inverse = np.linalg.pinv(correlations[np.ix_(others, others)], rcond=DUST, hermitian=True)
        left = 1 - float(matrix_product(matrix_product(r, inverse), r))
        found[column] = 1 / left if left > DUST else np.inf
    return found


def alpha_of(covariance: Array) -> float:
    """Cronbach's alpha, k / (k - 1) (1 - sum of variances / variance of the sum); NaN under two columns or no variance."""
    k, whole = len(covariance), float(covariance.sum()) if covariance.ndim else 0.0
    if k < 2 or whole <= DUST * float(np.trace(covariance)):
        return float("nan")
    return k / (k - 1) * (1 - float(np.trace(covariance)) / whole)


def _left_out_in_turn(correlations: Array) -> tuple[Array, Array]:
    """Alpha without each column, and each column's correlation with the sum of the others."""
    n = len(correlations)
    alphas, rest = np.full(n, np.nan), np.full(n, np.nan)
    for column in range(n if n > 1 else 0):
        others = np.delete(np.arange(n), column)
        inner = correlations[np.ix_(others, others)]
        alphas[column] = alpha_of(inner)
        whole = float(inner.sum())
        rest[column] = float(correlations[others, column].sum()) / np.sqrt(whole) if whole > DUST else np.nan
    return alphas, rest


def _components(correlations: Array) -> tuple[Array, Array]:
    """Eigenvalues, largest first, and loadings; the largest loading of each component is positive."""
    values, vectors = np.linalg.eigh(correlations)
    values, vectors = np.maximum(values[::-1], 0.0), vectors[:, ::-1]
    if len(values):
        signs = np.sign(vectors[np.argmax(np.abs(vectors), axis=0), np.arange(len(values))])
        vectors = vectors * signs
    return values, vectors * np.sqrt(values)
