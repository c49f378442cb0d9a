"""Normal scores that were not read, drawn from what a product's other scores say of them over the products.

Scores are taken as multivariate normal (a Gaussian copula). Its correlations are not known but drawn too: an inverse Wishart law
given the scores, whose prior draws towards no correlation, more or less so in proportion to how well that explains the scores.
Scores that are not read, or only known to lie between bounds, are drawn in turn with the correlations (data augmentation). Many
chains run side by side and each gives one set of correlations, so that how little few products say of them is in the draws.

Sources, from memory: P. D. Hoff, Extending the rank likelihood for semiparametric copula estimation, Ann. Appl. Stat. 1, 2007;
M. A. Tanner, W. H. Wong, The calculation of posterior distributions by data augmentation, JASA 82, 1987; J. L. Schafer,
Analysis of Incomplete Multivariate Data, 1997, ch. 5; W. B. Smith, R. R. Hocking, Wishart variate generator, Appl. Stat.
21, 1972. Readings are taken to be missing at random given what was read (D. B. Rubin, Inference and missing data, Biometrika 63,
1976).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import multigammaln, ndtr, ndtri

from scoring.numbers.array_types import Array, Flags, Indices

CHAINS, SWEEPS = 128, 25
#: Sweeps of a chain's products between one of its draws and the next, the correlations standing.
BETWEEN = 6
#: How strongly the prior draws towards no correlation: its degrees of freedom beyond the least that it can have.
STRENGTHS = (1, 2, 4, 8, 16, 32, 64, 128, 256, 1024)


@dataclass(frozen=True, slots=True, eq=False)
class ConditionalScores:
    """The law of the scores that were not read.

    rows : the products that lack any; unread : bool, shape (rows, measures); low, high : bounds of what they lack, the same
    shape; states : shape (chains, rows, measures), scores as each chain left them; precisions : shape (chains, measures,
    measures), the inverse of each chain's correlations; explained : the share of each measure's variance that the others
    explain, shape (measures,)
    """

    rows: Indices
    unread: Flags
    low: Array
    high: Array
    states: Array
    precisions: Array
    explained: Array

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        """Scores of the rows, shape (n, rows, measures); those that were read stand as they are."""
        chain = np.arange(n) % len(self.states)
        scores = self.states[chain]
        for _ in range(BETWEEN):
            _sweep(scores, self.precisions[chain], self.unread, self.low, self.high, rng)
        return scores


def conditional_scores(scores: Array, low: Array, high: Array, rng: np.random.Generator) -> ConditionalScores:
    """The law of what is NaN in a table of normal scores.

    Parameters
    ----------
    scores : ndarray, shape (products, measures), NaN where not read
    low, high : ndarray, the same shape: bounds of what was not read, -inf and inf where nothing bounds it
    """
    unread = np.isnan(scores)
    rows = np.flatnonzero(unread.any(axis=1))
    gaps, floor, ceiling = unread[rows], low[rows], high[rows]
    n_measures = scores.shape[1]
    spread = float(np.nanmean(scores**2))
    whole = scores[~unread.any(axis=1)]
    fixed = np.einsum("ij,ik->jk", whole, whole, optimize=False)
    counted = ~gaps.all(axis=1)  # a product without a reading says nothing
    states = np.repeat(np.where(gaps, 0.0, scores[rows])[np.newaxis], CHAINS, axis=0)
    precisions = np.repeat(np.eye(n_measures)[np.newaxis], CHAINS, axis=0)
    _sweep(states, precisions, gaps, floor, ceiling, rng)
    for _ in range(SWEEPS):
        said = states[:, counted]
        squares = fixed + np.einsum("kij,kil->kjl", said, said, optimize=False)
        precisions = _drawn_precisions(squares, len(whole) + int(counted.sum()), spread, rng)
        _sweep(states, precisions, gaps, floor, ceiling, rng)
    return ConditionalScores(rows, gaps, floor, ceiling, states, precisions, _explained(precisions))


def _explained(precisions: Array) -> Array:
    """The share of each measure's variance that the others explain, shape (measures,): what the chains differ by is not
    explained."""
    own = np.diagonal(precisions, axis1=1, axis2=2)
    slopes = -precisions / own[:, np.newaxis]  # column j: of measure j on the others, and -1 on itself
    off = slopes - slopes.mean(axis=0)
    typical = np.linalg.inv(precisions).mean(axis=0)
    unsure = np.einsum("kij,il,klj->j", off, typical, off, optimize=False) / len(off)
    return np.asarray(np.maximum(1 - (1 / own).mean(axis=0) - unsure, 0.0))


def _drawn_precisions(squares: Array, n: int, spread: float, rng: np.random.Generator) -> Array:
    """An inverse correlation matrix a chain, given its sums of squares and products, shape (chains, measures, measures)."""
    p = squares.shape[-1]
    chains = np.arange(len(squares))
    strengths = p + 1 + np.array(STRENGTHS, float)
    scales = spread * np.array(STRENGTHS, float)
    totals = squares[:, np.newaxis] + scales[:, np.newaxis, np.newaxis] * np.eye(p)
    evidence = (
        multigammaln((strengths + n) / 2, p)
        - multigammaln(strengths / 2, p)
        + strengths / 2 * p * np.log(scales)
        - (strengths + n) / 2 * np.linalg.slogdet(totals)[1]
    )
    picked = np.argmax(evidence + rng.gumbel(size=evidence.shape), axis=1)  # in proportion to the evidence
    freedom = strengths[picked] + n
    root = np.linalg.cholesky(np.linalg.inv(totals[chains, picked]))
    lower = np.tril(rng.standard_normal(squares.shape), -1)
    lower[:, np.arange(p), np.arange(p)] = np.sqrt(rng.chisquare(freedom[:, np.newaxis] - np.arange(p)))
    half = np.einsum("kij,kjl->kil", root, lower, optimize=False)
    covariance = np.linalg.inv(np.einsum("kij,klj->kil", half, half, optimize=False))
    sizes = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    return np.asarray(np.linalg.inv(covariance / (sizes[:, :, np.newaxis] * sizes[:, np.newaxis, :])))


def _sweep(scores: Array, precisions: Array, unread: Flags, low: Array, high: Array, rng: np.random.Generator) -> None:
    """Draw every unread score anew, measure by measure, given all others of its product, shape (n, rows, measures)."""
    for measure in np.flatnonzero(unread.any(axis=0)).tolist():
        rows = unread[:, measure]
        own = precisions[:, measure, measure][:, np.newaxis]
        pulls = np.einsum("nrp,np->nr", scores[:, rows], precisions[:, measure], optimize=False)
        means = scores[:, rows, measure] - pulls / own
        scores[:, rows, measure] = truncated_normal(
            means, 1 / np.sqrt(own), low[rows, measure], high[rows, measure], rng
        )


def truncated_normal(mean: Array, sd: Array, low: Array, high: Array, rng: np.random.Generator) -> Array:
    """Normal draws between bounds, by inversion on the side of the mean where the bounds lie; of the shape of `mean`."""
    start, stop = (low - mean) / sd, (high - mean) / sd
    flipped = start > 0  # the upper tail is worked out as a lower one, where doubles are fine
    start, stop = np.where(flipped, -stop, start), np.where(flipped, -start, stop)
    under, over = ndtr(start), ndtr(stop)
    drawn = ndtri(under + rng.random(mean.shape) * (over - under))
    drawn = np.clip(np.where(flipped, -drawn, drawn) * sd + mean, low, high)
    return np.asarray(drawn)
