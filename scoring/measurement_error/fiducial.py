"""Fiducial distributions of variance components: what mean squares say of them, without taking a difference for chi-squared.

The within mean square gives sigma_r^2 = SS_r / U, U chi-squared. The reduction of a factor gives sigma^2 as the root of
sum_k squares_k / (sigma_r^2 + weights_k sigma^2) = V, V chi-squared on its rank. The root may lie below 0: an interval of
sigma^2 then ends at 0, and that of sigma_r^2 + sigma^2 counts it as it is. For balanced data this is the generalised
confidence interval of S. Weerahandi, J. Am. Stat. Assoc. 88 (1993); the left side is the pivot of A. Wald, Ann. Math.
Stat. 11 (1940) (both from memory). Its coverage is measured in the tests.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy

from scoring.measurement_error.reductions import Reduction
from scoring.numbers.array_types import Array
from scoring.numbers.chi_squared import chance_above, value_above

#: Into how many equally likely parts the distribution of sigma_r is cut.
N_PARTS = 400
HALVINGS = 60


def variance_interval(within: float, freedom: int, factor: Reduction, coverage: float) -> tuple[float, float]:
    """The interval of a factor's variance; its lower end is 0 where no more than chance shows.

    Parameters
    ----------
    within : the sum of squares within cells
    freedom : of `within`, 1 or more
    factor : of rank 1 or more
    """
    chances = _chances_below(within, freedom, factor)
    return _interval(lambda most: chances(np.zeros(N_PARTS), most), _scale(within, freedom, factor), coverage)


def total_interval(within: float, freedom: int, factor: Reduction, coverage: float) -> tuple[float, float]:
    """The interval of the variance within cells and that of the factor together; see `variance_interval`."""
    inside = _parts_of_within(within, freedom)
    chances = _chances_below(within, freedom, factor)
    return _interval(lambda most: chances(inside, most), _scale(within, freedom, factor), coverage)


def sampled_variances(
    within: float, freedom: int, factors: tuple[Reduction, ...], n: int, rng: np.random.Generator
) -> tuple[Array, ...]:
    """Draws of the variance within cells, then of each factor's, from what the mean squares leave open.

    Returns
    -------
    one array of shape (n,) for `within` and one a factor, in their order; some are 0

    Notes
    -----
    All factors share the draws of the variance within. Their reductions are taken to be independent, which they are in
    balanced data.
    """
    inside = within / rng.chisquare(freedom, n)
    return inside, *(_roots(factor, inside, rng.chisquare(factor.rank, n)) for factor in factors)


def _parts_of_within(within: float, freedom: int) -> Array:
    """The variance within cells at the middle of each of its equally likely parts, shape (N_PARTS,), falling."""
    return np.asarray(within / value_above((np.arange(N_PARTS) + 0.5) / N_PARTS, freedom))


def _chances_below(within: float, freedom: int, factor: Reduction) -> Callable[[Array, float], float]:
    """The chance that the factor's variance, with what `beside` holds for each part of sigma_r, is at most a value.

    The function takes `beside`, shape (N_PARTS,), and the value.
    """
    inside, grouped = _parts_of_within(within, freedom), factor.grouped()

    def chance(beside: Array, most: float) -> float:
        return float(chance_above(_pivots(grouped, inside, most - beside), factor.rank).mean())

    return chance


def _pivots(grouped: tuple[Array, Array], inside: Array, variances: Array) -> Array:
    """The sum of the factor's squares, each over its expectation, shape (n,); infinite where one is not above 0.

    grouped : squares and weights, shape (groups,) each; inside, variances : shape (n,)
    """
    squares, weights = grouped
    expected = inside + weights[:, np.newaxis] * variances
    shares = np.full(expected.shape, np.inf)
    np.divide(squares[:, np.newaxis], expected, out=shares, where=expected > 0)
    return np.asarray(shares.sum(axis=0))


def _scale(within: float, freedom: int, factor: Reduction) -> float:
    """A variance of the size of what is looked for; 0 where nothing scatters."""
    return max(within / freedom, factor.mean_square / factor.coefficient)


def _interval(below: Callable[[float], float], scale: float, coverage: float) -> tuple[float, float]:
    if not scale:
        return 0.0, 0.0
    tail = (1 - coverage) / 2
    return _quantile(below, scale, tail), _quantile(below, scale, 1 - tail)


def _quantile(below: Callable[[float], float], scale: float, share: float) -> float:
    """The value that lies above a share of the distribution; 0 where 0 does."""
    if below(0.0) >= share:
        return 0.0
    least, most = -8.0, 2.0  # decades about the scale
    while below(scale * 10**most) < share:
        most += 4.0
    if below(scale * 10**least) >= share:
        return 0.0
    return scale * 10 ** float(
        scipy.optimize.brentq(lambda decade: below(scale * 10**decade) - share, least, most, xtol=1e-10)
    )


def _roots(factor: Reduction, inside: Array, wanted: Array) -> Array:
    """The variances of the factor at which its squares add up to what is wanted, by halving; 0 where none does.

    inside, wanted : shape (n,), as the result
    """
    grouped = factor.grouped()
    squares, weights = grouped
    least = np.zeros_like(inside)
    most = (squares / weights).sum() / wanted  # the sum falls below `wanted` here, whatever is inside
    for _ in range(HALVINGS):
        middle = (least + most) / 2
        is_low = _pivots(grouped, inside, middle) > wanted
        least, most = np.where(is_low, middle, least), np.where(is_low, most, middle)
    return np.asarray(np.where(least > 0, (least + most) / 2, 0.0))
