"""Standard deviations of products that scatter differently: each one's own, drawn towards what all of them say.

The variances of products are taken to be scaled inverse chi-squared, d0 s0^2 / chi-squared_d0, so that s_i^2 / s0^2 follows
F(nu_i, d0): the hierarchical model of G. K. Smyth, Linear models and empirical Bayes methods for assessing differential
expression in microarray experiments, Statistical Applications in Genetics and Molecular Biology 3 (1), 2004, article 3
(from memory). d0 and s0 go by the marginal likelihood, not by the moments of log s^2 as there, which a variance of 0 (equal
readings of a coarse instrument) would carry off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array
from scoring.numbers.chi_squared import chance_above

#: Products are taken to be alike unless chance gives as much difference less often than this. It is large, because taking
#: unlike products for alike costs more than the other mistake.
LEVEL = 0.4
#: d0 is taken as low as the log likelihood allows, this far below its greatest: the one-sided 98.5 % bound. The law of the
#: variances is a guess, and where they are of two kinds the likeliest d0 draws the wide ones too far. Set by the joint coverage
#: of all pairs of products, 93 to 97 % with it and 87 to 91 % with the likeliest.
DROP = 2.35
#: The prior degrees of freedom that are looked at.
TRIED = np.geomspace(1.0, 1000.0, 91)
HALVINGS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Moderated:
    """Standard deviations by product, after each has borrowed from the others.

    Attributes
    ----------
    sd, freedom : shape (n_products,); where the products are alike, the pooled value and its degrees of freedom for all of
        them, the same estimate; else each an estimate of its own, independent but for s0
    prior_sd, prior_freedom : s0 and d0, what a product without repeats has; d0 is infinite where the products are alike
    p_value : the chance of so much difference in scatter where the products are alike
    """

    sd: Array
    freedom: Array
    prior_sd: float
    prior_freedom: float
    p_value: float

    def __post_init__(self) -> None:
        self.sd.setflags(write=False)
        self.freedom.setflags(write=False)

    @property
    def is_common(self) -> bool:
        """Whether one standard deviation stands for all products."""
        return math.isinf(self.prior_freedom)


def moderated_sds(sds: ArrayLike, freedom: ArrayLike) -> Moderated:
    """Pool standard deviations as far as the products are alike.

    Parameters
    ----------
    sds, freedom : shape (n_products,), a standard deviation (NaN, or any with a freedom of 0, is not known) and its
        degrees of freedom

    Returns
    -------
    Moderated; NaN on 0 degrees of freedom where nothing is known

    Notes
    -----
    sd_i^2 = (d0 s0^2 + nu_i s_i^2) / (d0 + nu_i) on d0 + nu_i degrees of freedom. Whether the products are alike is asked by
    the likelihood ratio against an infinite d0, which is half the time 0 and else chi-squared of one degree where they
    are. The joint coverage of all comparisons of products with these figures is measured in the tests.
    """
    spread, own = np.asarray(sds, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    known = np.isfinite(spread) & (own > 0)
    squares, total = float((own[known] * spread[known] ** 2).sum()), float(own[known].sum())
    pooled = math.sqrt(squares / total) if total else math.nan
    common = Moderated(np.full(len(own), pooled), np.full(len(own), total), pooled, math.inf, 1.0)
    if known.sum() < 2 or not squares:
        return common
    likelihoods, priors = _profile(spread[known] ** 2, own[known])
    ratio = 2 * (float(likelihoods.max()) - _common_likelihood(spread[known] ** 2, own[known]))
    p_value = float(chance_above(ratio, 1)) / 2 if ratio > 0 else 1.0
    if p_value >= LEVEL:
        return Moderated(common.sd, common.freedom, pooled, math.inf, p_value)
    place = int((likelihoods >= likelihoods.max() - DROP).argmax())
    d0, prior = float(TRIED[place]), float(priors[place])
    held = np.where(known, own, 0.0)
    variances = (d0 * prior + held * np.where(known, spread, 0.0) ** 2) / (d0 + held)
    return Moderated(np.sqrt(variances), d0 + held, math.sqrt(prior), d0, p_value)


def _profile(variances: Array, freedom: Array) -> tuple[Array, Array]:
    """For each d0 tried, the greatest log likelihood and the s0^2 that gives it; terms in s_i^2 alone are left out.

    variances, freedom : shape (n_known,), s_i^2 and nu_i; both results have the shape (n_tried,) of `TRIED`

    Notes
    -----
    With c = d0 s0^2 the derivative by log c is sum ((nu_i + d0) q_i / (c + q_i) - nu_i) / 2, q_i = nu_i s_i^2, and falls as c
    rises: the root is found by halving.
    """
    squares, prior = freedom * variances, TRIED[:, np.newaxis]
    least = np.full(len(TRIED), math.log(float(squares[squares > 0].min())) - 50.0)
    most = np.log(squares.sum() * (TRIED + freedom.max()))
    for _ in range(HALVINGS):
        middle = (least + most) / 2
        rising = ((freedom + prior) * squares / (np.exp(middle)[:, np.newaxis] + squares)).sum(axis=1) > freedom.sum()
        least, most = np.where(rising, middle, least), np.where(rising, most, middle)
    scale = np.exp((least + most) / 2)[:, np.newaxis]
    terms = freedom / 2 * np.log(freedom / scale) - (freedom + prior) / 2 * np.log1p(squares / scale)
    likelihoods = (terms - scipy.special.betaln(freedom / 2, prior / 2)).sum(axis=1)
    return np.asarray(likelihoods), scale[:, 0] / TRIED


def _common_likelihood(variances: Array, freedom: Array) -> float:
    """The log likelihood of the pooled variance for all, less the same terms; shapes as in `_profile`."""
    pooled = float((freedom * variances).sum() / freedom.sum())
    terms = freedom / 2 * np.log(freedom / (2 * pooled)) - freedom * variances / (2 * pooled)
    return float((terms - scipy.special.gammaln(freedom / 2)).sum())
