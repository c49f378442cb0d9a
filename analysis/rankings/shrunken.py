"""Scores drawn in towards the catalogue's mean, and the places expected of them, by how well each score is known.

The true scores are taken for draws of one normal law, whose mean and spread the catalogue itself tells; what is badly known
is drawn in furthest. A place is then expected, not counted: half of one where a coin would decide it.
Sources: N. M. Laird and T. A. Louis, Empirical Bayes ranking methods, Journal of Educational Statistics 14(1), 1989, 29-46
(abstract read, method from memory). The spread by restricted maximum likelihood: H. D. Patterson and R. Thompson, Recovery
of inter-block information when block sizes are unequal, Biometrika 58(3), 1971 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike
from scipy.special import ndtr

from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: Variances tried between none and `MOST` times that of the estimates before the best of them is narrowed down.
GRID, MOST = 201, 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """The law that the true scores are taken from: its mean, and its variance, 0 where no spread shows beyond the noise."""

    mean: float
    variance: float


@dataclass(frozen=True, slots=True, eq=False)
class Shrunken:
    """prior; scores, expected_ranks : shape (products,); covariance : of the true scores about `scores`, of that shape twice.

    The prior's variance is taken as known; that of its mean is in the covariance.
    """

    prior: Prior
    scores: Array
    covariance: Array
    expected_ranks: Array

    @property
    def is_flat(self) -> bool:
        """Whether the estimates show no spread beyond the noise, so that one place is expected of all."""
        return self.prior.variance == 0


def prior_of(estimates: ArrayLike, covariance: ArrayLike) -> Prior:
    """The mean and variance of the true scores, by restricted maximum likelihood; the variance is 0 where that is likeliest.

    Parameters
    ----------
    estimates : array, shape (products,), two or more, finite
    covariance : of their errors, normal and known, shape (products, products); or their standard deviations, shape (products,)

    Examples
    --------
    Equal errors of 1: the variance of the estimates, less that of the errors.

    >>> prior_of([1.0, 3.0, 5.0], [1.0, 1.0, 1.0]).variance.__round__(6)
    3.0
    """
    values, spreads, ones, _ = _turned(estimates, covariance)
    return _prior(values, spreads, ones)


def shrunken(estimates: ArrayLike, covariance: ArrayLike, *, best: str = "highest") -> Shrunken:
    """The posterior of the true scores, and the expected ranks.

    Parameters
    ----------
    estimates, covariance : as for `prior_of`
    best : "highest" or "lowest"

    Notes
    -----
    x = theta + e, theta_i ~ N(mean, tau^2), e ~ N(0, V). The posterior mean is mean + tau^2 (tau^2 I + V)^-1 (x - mean), that
    of the mean is by generalised least squares. The expected rank of i is 1 + sum over j of P(theta_j is better than theta_i).

    Examples
    --------
    The badly known first gives way to the well known second.

    >>> found = shrunken([8.0, 7.5, 5.0, 4.0], [1.5, 0.1, 0.1, 0.1])
    >>> found.scores.round(2), found.expected_ranks.round(1)
    (array([7.14, 7.5 , 5.  , 4.01]), array([1.7, 1.4, 3. , 4. ]))
    """
    if best not in ("highest", "lowest"):
        raise ValueError(f"best: found {best!r}, must be highest or lowest")
    values, spreads, ones, turn = _turned(estimates, covariance)
    prior = _prior(values, spreads, ones)
    total = prior.variance + spreads
    kept = np.divide(prior.variance, total, out=np.ones_like(total), where=total > 0)
    scores = matrix_product(turn, prior.mean * ones + kept * (values - prior.mean * ones))
    # what is left of the mean's own error in each score
    left = matrix_product(turn, (1 - kept) * ones)
    precision = float(np.sum(np.divide(ones**2, total, out=np.zeros_like(total), where=total > 0)))
    mean_variance = 1 / precision if precision > 0 else 0.0
    posterior = matrix_product(turn * (kept * spreads), turn.T) + mean_variance * np.outer(left, left)
    return Shrunken(prior, scores, posterior, _expected_ranks(scores, posterior, best))


def _turned(estimates: ArrayLike, covariance: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """Estimates, variances and a column of ones in the directions in which the errors are independent, and these directions."""
    values, errors = np.asarray(estimates, float), np.asarray(covariance, float)
    if values.ndim != 1 or len(values) < 2 or not np.isfinite(values).all():
        raise ValueError(f"estimates: found shape {values.shape}, must be two or more finite values")
    if errors.shape not in ((len(values),), (len(values), len(values))):
        raise ValueError(f"covariance: found shape {errors.shape}, must fit {len(values)} estimates")
    spreads, turn = directions(np.diag(errors**2) if errors.ndim == 1 else errors)
    return matrix_product(turn.T, values), spreads, turn.sum(axis=0), turn


def directions(covariance: Array) -> tuple[Array, Array]:
    """Variances, shape (n,), and the directions in which they are independent, columns of shape (n, n), as they come where
    the covariance has them already."""
    own = np.diag(covariance)
    if not (covariance - np.diag(own)).any():
        return own, np.eye(len(own))
    sizes, turn = np.linalg.eigh(covariance)
    return np.maximum(sizes, 0.0), turn


def _prior(values: Array, spreads: Array, ones: Array) -> Prior:
    def mean_at(variance: float) -> float:
        weights = 1 / (variance + spreads)
        return float(np.sum(weights * ones * values) / np.sum(weights * ones**2))

    def loss(variance: float) -> float:
        """Minus twice the restricted log likelihood, but for a constant."""
        total = variance + spreads
        squares = np.sum((values - mean_at(variance) * ones) ** 2 / total)
        return float(np.sum(np.log(total)) + np.log(np.sum(ones**2 / total)) + squares)

    centre = float(np.sum(values * ones) / np.sum(ones**2))
    seen = float(np.sum((values - centre * ones) ** 2)) / (len(values) - 1)
    if seen == 0:
        return Prior(centre, 0.0)
    # an estimate without error is one draw of the prior: a variance of exactly 0 has no likelihood then
    tried = seen * MOST * np.linspace(0, 1, GRID) ** 2
    tried = tried if spreads.min() > 0 else tried[1:]
    losses = [loss(one) for one in tried.tolist()]
    at = int(np.argmin(losses))
    low, high = float(tried[max(at - 1, 0)]), float(tried[min(at + 1, len(tried) - 1)])
    found = scipy.optimize.minimize_scalar(loss, bounds=(low, high), method="bounded", options={"xatol": 1e-10 * seen})
    variance = float(found.x) if found.fun < losses[at] else float(tried[at])
    if tried[0] == 0 and losses[0] <= loss(variance):
        variance = 0.0
    return Prior(mean_at(variance), variance)


def _expected_ranks(scores: Array, posterior: Array, best: str) -> Array:
    gaps = scores - scores[:, np.newaxis]  # [i, j]: by how much j lies above i
    gaps = gaps if best == "highest" else -gaps
    own = np.diag(posterior)
    spread = np.sqrt(np.maximum(own[:, np.newaxis] + own - posterior - posterior.T, 0.0))
    certain = 0.5 * (1 + np.sign(gaps))
    standard = np.divide(gaps, spread, out=np.zeros_like(gaps), where=spread > 0)
    better = np.where(spread > 0, ndtr(standard), certain)
    np.fill_diagonal(better, 0.0)
    return np.asarray(1 + better.sum(axis=1))
