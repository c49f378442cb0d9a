"""Confidence sets for ranks: the places that a product may truly have, given how well its score is known.

Two products are told apart where their difference is large against its own standard error, judged at a critical value that
holds for a whole family of comparisons at once. A product's set runs from one place below those told to be better than it to
one place above those told to be worse. Such a set states a level of confidence; the spread of simulated ranks does not.
Source: M. Mogstad, J. P. Romano, A. M. Shaikh and D. Wilhelm, Inference for Ranks with Applications to Mobility across
Neighbourhoods and Academic Achievement across Countries, Rev. Econ. Stud. 91(1), 2024, 476-518 (algorithm read in the
authors' implementation, and reproduced on their published results).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.rankings.rank_critical import Comparisons, band_positions, critical_values, simulated_errors
from scoring.numbers.array_types import Array, Flags, Integers
from scoring.numbers.ordered_sums import matrix_product
from scoring.numbers.ranks import significant

RESAMPLES = 20_000
#: An eigenvalue of the correlations below minus this is no rounding error.
INDEFINITE = 1e-8
#: A difference whose variance is this small against those of its two estimates is free of error.
DEGENERATE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class RankSets:
    """The places that each product may truly have, from `low` to `high`.

    coverage : the level that was asked for
    family : "joint", all sets hold at once with that level; or "marginal", each holds alone
    low, high : int arrays, shape (products,), 1 for the best place
    beats : bool array, shape (products, products); [i, j] where i is told to be better than j. In the marginal family,
        where the comparisons of i and those of j both say so; no level holds for that matrix as a whole.
    critical : the value that a difference in standard errors must exceed; one per product in the marginal family.
        0 where there was no error to reckon with.
    low_unsure, high_unsure : bool arrays, shape (products,); the bound moves within the error of the simulation, and more
        resamples may settle it
    """

    coverage: float
    family: str
    low: Integers
    high: Integers
    beats: Flags
    critical: float | Array
    low_unsure: Flags
    high_unsure: Flags


@dataclass(frozen=True, slots=True, eq=False)
class TopSet:
    """The products that could truly be among the first `places`.

    members : bool array, shape (products,)
    unsure : bool array, shape (products,); whether one is a member depends on the error of the simulation
    critical : as in `RankSets`
    """

    places: int
    coverage: float
    members: Flags
    unsure: Flags
    critical: float


@dataclass(frozen=True, slots=True, eq=False)
class _Comparison:
    """gaps, leads : shape (products, products), i minus j, and its size in standard errors; criticals : shape (3,
    products), the critical value between the ends of its band."""

    gaps: Array
    leads: Array
    criticals: Array

    def bounds(self, end: int) -> tuple[Integers, Integers]:
        """Lowest and highest place of each product, by its own critical value; end 0, 1 or 2 as in `criticals`."""
        told = self.leads > self.criticals[end][:, None]
        return 1 + (told & (self.gaps < 0)).sum(axis=1), len(told) - (told & (self.gaps > 0)).sum(axis=1)


def rank_sets(
    estimates: ArrayLike,
    covariance: ArrayLike,
    *,
    rng: np.random.Generator,
    coverage: float = 0.95,
    best: str = "highest",
    family: str = "joint",
    resamples: int = RESAMPLES,
    stepwise: bool = True,
    errors: Array | None = None,
    undecided: Flags | None = None,
) -> RankSets:
    """The set of places that each product may truly have, with a stated coverage.

    Parameters
    ----------
    estimates : array, shape (products,), finite; those that agree in 12 significant digits are equal
    covariance : array, shape (products, products): covariance of the estimates' errors, singular or not;
        or shape (products,): standard deviations of independent errors
    rng : the source of the simulated errors
    coverage : above 0.5 and below 1
    best : "highest" or "lowest"
    family : "joint": the sets of all products hold at once; "marginal": each holds by itself
    resamples : how many sets of errors are simulated
    stepwise : take the rejected hypotheses out of the family and judge the others again
    errors : draws of the estimates' errors, shape (products, resamples), in place of normal ones with the covariance; so
        their sizes may be estimates, and the covariance what they are estimated at
    undecided : bool array, shape (products, products); pairs that are not told apart whatever their difference

    Raises
    ------
    ValueError
        Where an estimate or an error is not finite, the shapes do not fit, the covariance is not symmetric or not positive
        semidefinite, a word is not known, or the resamples are too few for the coverage.

    Notes
    -----
    t_jk = |theta_j - theta_k| / se_jk, se_jk^2 = s_jj + s_kk - 2 s_jk. The hypotheses are one-sided, "j is no better than k",
    for both orders of each pair (joint), or of each pair that product j is in (marginal). Their critical value is the coverage
    quantile of the largest (Z_j - Z_k) / se_jk over the family, Z normal with the given covariance: the order statistic
    ceil(coverage (resamples + 1)). Stepwise, a rejected hypothesis leaves the family and its reverse stays, so that errors of
    direction are covered too. The errors are taken as normal, their covariance as known, unless `errors` are given.

    A pair whose difference has no error is told apart by any difference at all; equal estimates never are.

    `low_unsure` and `high_unsure` repeat the steps at both ends of a 99 % band for each simulated quantile, from binomial
    order statistics.

    Examples
    --------
    A tenth of a point is within the noise of 0.1 on each score; three points are not.

    >>> sets = rank_sets([8.0, 7.9, 5.0], [0.1, 0.1, 0.1], rng=np.random.default_rng(1))
    >>> sets.low, sets.high
    (array([1, 1, 3]), array([2, 2, 3]))
    """
    if family not in ("joint", "marginal"):
        raise ValueError(f"family: found {family!r}, must be joint or marginal")
    found = _compare(
        estimates,
        covariance,
        rng=rng,
        coverage=coverage,
        best=best,
        family=family,
        resamples=resamples,
        stepwise=stepwise,
        errors=errors,
        undecided=undecided,
    )
    low, high = found.bounds(1)
    ends = [found.bounds(end) for end in (0, 2)]
    critical = found.criticals[1]
    return RankSets(
        coverage=coverage,
        family=family,
        low=low,
        high=high,
        beats=(found.gaps > 0) & (found.leads > np.maximum(critical[:, None], critical)),
        critical=float(critical[0]) if family == "joint" else critical,
        low_unsure=(ends[0][0] != low) | (ends[1][0] != low),
        high_unsure=(ends[0][1] != high) | (ends[1][1] != high),
    )


def tau_best(
    estimates: ArrayLike,
    covariance: ArrayLike,
    places: int,
    *,
    rng: np.random.Generator,
    coverage: float = 0.95,
    best: str = "highest",
    resamples: int = RESAMPLES,
    stepwise: bool = True,
    errors: Array | None = None,
    undecided: Flags | None = None,
) -> TopSet:
    """The products that could truly be among the first `places`: with the stated coverage, all that are, are in it.

    Parameters
    ----------
    places : 1 or more
    others : as for `rank_sets`

    Raises
    ------
    ValueError
        As `rank_sets` does, and where `places` is below 1.

    Notes
    -----
    The members are those whose simultaneous lower bound is at most `places`. Only lower bounds are asked for, hence the
    one-sided hypotheses "k is no better than j"; but as j and k run over all products these are both orders of each pair,
    so that the family is that of the joint sets.
    """
    if places < 1:
        raise ValueError(f"places: found {places}, must be 1 or more")
    found = _compare(
        estimates,
        covariance,
        rng=rng,
        coverage=coverage,
        best=best,
        family="joint",
        resamples=resamples,
        stepwise=stepwise,
        errors=errors,
        undecided=undecided,
    )
    few, members, many = (found.bounds(end)[0] <= places for end in (0, 1, 2))
    return TopSet(places, coverage, members, few != many, float(found.criticals[1, 0]))


def _compare(
    estimates: ArrayLike,
    covariance: ArrayLike,
    *,
    rng: np.random.Generator,
    coverage: float,
    best: str,
    family: str,
    resamples: int,
    stepwise: bool,
    errors: Array | None,
    undecided: Flags | None,
) -> _Comparison:
    values = _estimates(estimates, best)
    positions = band_positions(coverage, resamples if errors is None else errors.shape[1])
    factor = _factor(_finite("covariance", np.asarray(covariance, float)), len(values))
    gaps = values[:, None] - values
    spreads = _standard_errors(factor)
    leads = np.divide(np.abs(gaps), spreads, out=np.where(gaps == 0, 0.0, np.inf), where=spreads > 0)
    if undecided is not None:
        leads = np.where(undecided, 0.0, leads)
    rows = [_comparisons(product, gaps, spreads, leads) for product in range(len(values))]
    if errors is None:
        errors = simulated_errors(factor, resamples, rng)
    elif best == "lowest":
        errors = -errors
    if family == "joint":
        once = [row.keep(row.others > row.product) for row in rows]
        criticals = np.repeat(critical_values(errors, once, positions, stepwise)[:, None], len(values), axis=1)
    else:
        criticals = np.array([critical_values(errors, [row], positions, stepwise) for row in rows]).T
    return _Comparison(gaps, leads, criticals)


def _comparisons(product: int, gaps: Array, spreads: Array, leads: Array) -> Comparisons:
    others = np.flatnonzero(spreads[product] > 0)
    signs = np.where(gaps[product, others] < 0, -1.0, 1.0)
    return Comparisons(product, others, signs / spreads[product, others], leads[product, others])


def _estimates(estimates: ArrayLike, best: str) -> Array:
    if best not in ("highest", "lowest"):
        raise ValueError(f"best: found {best!r}, must be highest or lowest")
    values = _finite("estimates", np.asarray(estimates, float))
    if values.ndim != 1 or len(values) == 0:
        raise ValueError(f"estimates: found shape {values.shape}, must be one value for each product")
    return significant(values) if best == "highest" else -significant(values)


def _finite(name: str, values: Array) -> Array:
    if not np.isfinite(values).all():
        index = tuple(int(i) for i in np.argwhere(~np.isfinite(values))[0])
        raise ValueError(f"{name}: found {values[index]} at {list(index)}, must be finite")
    return values


def _factor(covariance: Array, products: int) -> Array:
    """F with F F' = covariance, shape (products, up to products); its diagonal alone where errors are independent."""
    if covariance.shape == (products,):
        if (covariance < 0).any():
            raise ValueError(f"covariance: found a standard deviation of {covariance.min()}, must be 0 or more")
        return covariance
    if covariance.shape != (products, products):
        expected = f"({products},) or ({products}, {products})"
        raise ValueError(f"covariance: found shape {covariance.shape}, must be {expected} for {products} estimates")
    deviations = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    scale = np.where(deviations > 0, deviations, 1.0)
    correlations = covariance / scale / scale[:, None]
    if not np.allclose(correlations, correlations.T, rtol=0, atol=INDEFINITE):
        raise ValueError("covariance: must be symmetric")
    sizes, directions = np.linalg.eigh((correlations + correlations.T) / 2)
    if sizes[0] < -INDEFINITE:
        raise ValueError(
            f"covariance: must be positive semidefinite; its correlations have the eigenvalue {sizes[0]:.6g}"
        )
    kept = sizes > 0
    return np.asarray(scale[:, None] * directions[:, kept] * np.sqrt(sizes[kept]))


def _standard_errors(factor: Array) -> Array:
    """Standard error of each difference; exactly 0 where only rounding is left of it."""
    covariance = np.diag(factor**2) if factor.ndim == 1 else matrix_product(factor, factor.T)
    own = np.diag(covariance)
    both = own[:, None] + own
    variances = both - covariance - covariance.T
    return np.sqrt(np.where(variances > DEGENERATE * both, variances, 0.0))
