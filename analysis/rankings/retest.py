"""A re-test: the whole catalogue read again, and the new table beside the published one; both of them err.

Noise drawn about the published readings says how far a published table may lie from the true one. A second table lies twice that
variance away: published and re-test err by themselves. A published table is moreover wider than the true one, for noise adds to
its spread, so that a re-test falls back towards the middle; how far is worked out from the spread and the noise themselves.
Reference: Efron and Morris, Stein's estimation rule and its competitors - an empirical Bayes approach, Journal of the American
Statistical Association 68(341), 1973 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.study.study import Setting, Study
from analysis.trials.trials import Trials
from scoring.measurement_error.components import SYSTEMATIC
from scoring.numbers.array_types import Array, Indices

#: A share of the size of a score below which its scatter is the dust of binary arithmetic, and none.
DUST = 1e-12


def two_doses(trials: Trials, n_draws: int, rng: np.random.Generator) -> Setting:
    """Readings with the errors of two draws of the bench's noise: those of the published readings and those of the re-test.

    Errors of a bench's noise lie evenly about nought, so that their sum is as good as their difference. What is systematic is
    the same in both tables, and in neither dose.
    """
    study = _without_systematic(trials.study)
    one, other = (study.setting(study.draws(n_draws, rng)) for _ in range(2))
    for measure, errors in other.noise.items():
        one.noise[measure] = one.noise[measure] + errors
    for measure, values in other.resampled.items():
        one.resampled[measure] = one.resampled[measure] + values - trials.inputs.values[measure]
    return one


def _without_systematic(study: Study) -> Study:
    moves = tuple(move.without_component(SYSTEMATIC) for move in study.moves)
    return replace(study, moves=moves)


@dataclass(frozen=True, slots=True, eq=False)
class FallBack:
    """How a re-test falls back towards the middle of the table; arrays over the products, NaN where one has no score.

    published: the scores; middle: their mean; kept: the share of a published score's distance from the middle that its true
    score is expected to have, 1 where there is no noise.
    """

    published: Array
    middle: float
    kept: Array

    def of(self, drawn: Array) -> Array:
        """Re-tested scores, shape (n, products), from scores under two doses of noise about the published readings.

        Notes
        -----
        The true score, given the published one y, is normal about m + k (y - m) with k times the variance of the noise, and
        the re-test adds the noise once more: 1 + k doses in place of 2.
        """
        errors = (drawn - self.published) * np.sqrt((1 + self.kept) / 2)
        return np.asarray(self.middle + self.kept * (self.published - self.middle) + errors)


def fall_back(published: Array, drawn: Array, products: Indices) -> FallBack:
    """What is kept of each published score, by draws of scores under two doses of noise.

    Parameters
    ----------
    published : array, shape (all products,)
    drawn : array, shape (n, all products)
    products : indices of those that are ranked

    Notes
    -----
    k_i = t^2 / (t^2 + s_i^2): s_i^2 is half the variance of the drawn scores, less what all products have in common in a draw,
    which moves no place; t^2, the variance of the true scores, is that of the published ones less the mean of s_i^2, and 0 at
    least.
    """
    own = drawn[:, products] - published[products]
    there = ~np.isnan(own)
    common = np.where(there, own, 0.0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
    apart = np.where(there, own - common[:, np.newaxis], 0.0)
    n_draws = np.maximum(there.sum(axis=0), 1)
    noise = ((apart**2).sum(axis=0) / n_draws - (apart.sum(axis=0) / n_draws) ** 2) / 2
    noise = np.where(noise > (DUST * published[products]) ** 2, noise, 0.0)
    spread = float(np.var(published[products], ddof=1)) if len(products) > 1 else 0.0
    true = max(0.0, spread - float(noise.mean()))
    kept = np.full(len(published), 1.0)
    kept[products] = np.divide(true, true + noise, out=np.ones(len(products)), where=noise > 0)
    return FallBack(published, float(published[products].mean()), kept)
