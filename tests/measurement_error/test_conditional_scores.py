"""Scores that were not read: against the conditional normal law, against scipy's truncated one, and by how little is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from scoring.measurement_error.conditional_scores import conditional_scores, truncated_normal


def table(n: int, correlation: float, seed: int, measures: int = 3) -> np.ndarray:
    """Normal scores of n products, every pair of measures alike correlated."""
    matrix = np.full((measures, measures), correlation)
    np.fill_diagonal(matrix, 1.0)
    return np.random.default_rng(seed).standard_normal((n, measures)) @ np.linalg.cholesky(matrix).T


def unbounded(scores: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """No bounds."""
    return np.full(scores.shape, -np.inf), np.full(scores.shape, np.inf)


def test_many_products_lead_to_the_conditional_normal_law() -> None:
    """T. W. Anderson, 2003, section 2.5 (from memory): mean r (1 + r)^-1 (a + b), variance 1 - 2 r^2 / (1 + r), at r = 0.7."""
    scores = table(4000, 0.7, seed=1)
    scores[0] = [np.nan, 1.5, 0.5]
    law = conditional_scores(scores, *unbounded(scores), np.random.default_rng(2))
    drawn = law.draw(8000, np.random.default_rng(3))[:, 0, 0]
    assert drawn.mean() == pytest.approx(0.7 / 1.7 * 2.0, abs=0.05)
    assert drawn.var() == pytest.approx(1 - 2 * 0.49 / 1.7, abs=0.04)
    assert law.explained[0] == pytest.approx(2 * 0.49 / 1.7, abs=0.04)


def test_two_scores_of_one_product_are_drawn_together() -> None:
    """Both missing: their correlation given the third is that of the law, (r - r^2) / (1 - r^2)."""
    scores = table(4000, 0.7, seed=4)
    scores[0, :2] = np.nan
    law = conditional_scores(scores, *unbounded(scores), np.random.default_rng(5))
    drawn = law.draw(8000, np.random.default_rng(6))[:, 0, :2]
    assert np.corrcoef(drawn.T)[0, 1] == pytest.approx((0.7 - 0.49) / (1 - 0.49), abs=0.04)


def test_uncorrelated_scores_say_nothing_of_each_other() -> None:
    """Of 40 products, five others explain next to nothing, and the law is the whole one."""
    shares = []
    for seed in range(20):
        scores = table(40, 0.0, seed=seed, measures=6)
        scores[0, 0] = np.nan
        law = conditional_scores(scores, *unbounded(scores), np.random.default_rng(seed))
        shares.append(law.explained[0])
    assert np.mean(shares) < 0.12


def test_what_is_bounded_is_drawn_within_its_bounds() -> None:
    """In every draw, as the truncated law has it; and what was read stays as it is."""
    scores = table(3000, 0.6, seed=7)
    low, high = unbounded(scores)
    scores[5, 1], high[5, 1], low[5, 1] = np.nan, -1.0, -2.0
    drawn = conditional_scores(scores, low, high, np.random.default_rng(8)).draw(6000, np.random.default_rng(9))
    assert drawn[:, 0, 1].min() >= -2
    assert drawn[:, 0, 1].max() <= -1
    mean, sd = 0.6 / 1.6 * (scores[5, 0] + scores[5, 2]), np.sqrt(1 - 2 * 0.36 / 1.6)
    expected = stats.truncnorm.mean((-2 - mean) / sd, (-1 - mean) / sd, mean, sd)
    assert drawn[:, 0, 1].mean() == pytest.approx(expected, abs=0.03)
    assert (drawn[:, 0, [0, 2]] == scores[5, [0, 2]]).all()


@pytest.mark.parametrize(
    "bounds", [(-1.0, 0.5), (6.0, 7.0), (-np.inf, -9.0), (2.0, np.inf), (-np.inf, np.inf)], ids=str
)
def test_truncated_draws_are_those_of_scipys_law(bounds: tuple[float, float]) -> None:
    """Also far out in a tail, by the law of Kolmogorov and Smirnov."""
    low, high = bounds
    mean = np.full(20_000, 0.3)
    drawn = truncated_normal(mean, np.array(1.2), np.array(low), np.array(high), np.random.default_rng(1))
    law = stats.truncnorm((low - 0.3) / 1.2, (high - 0.3) / 1.2, 0.3, 1.2)
    assert stats.kstest(drawn, law.cdf).pvalue > 0.001
