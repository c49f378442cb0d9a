"""Shrunken scores and expected ranks: by hand, on a published case, by draws, and what always holds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from analysis.rankings.shrunken import prior_of, shrunken


def test_equal_errors_by_hand() -> None:
    """The variance between is that of the estimates less that of the errors, and each keeps its share of its distance."""
    found = shrunken([1.0, 3.0, 8.0], [1.0, 1.0, 1.0])
    assert found.prior.mean == pytest.approx(4.0)
    assert found.prior.variance == pytest.approx(13.0 - 1.0, rel=1e-6)
    np.testing.assert_allclose(found.scores, 4 + 12 / 13 * np.array([-3.0, -1.0, 4.0]), rtol=1e-6)


def test_no_spread_beyond_the_noise_is_a_variance_of_exactly_0() -> None:
    """The effects and standard errors of coaching in eight schools, whose likelihood is highest without any spread.

    Source: D. B. Rubin, Estimation in parallel randomized experiments, Journal of Educational Statistics 6(4), 1981: data and
    the estimate of 0 from memory.
    """
    effects, errors = [28, 8, -3, 7, -1, 1, 18, 12], np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
    found = shrunken(effects, errors)
    assert found.prior.variance == 0
    assert found.is_flat
    common = np.sum(effects / errors**2) / np.sum(1 / errors**2)
    np.testing.assert_allclose(found.scores, common, rtol=1e-12)
    np.testing.assert_allclose(found.expected_ranks, 4.5)


def test_the_spread_is_the_likeliest_one() -> None:
    """The restricted likelihood by determinants and inverses, on a fine grid, with correlated errors."""
    rng = np.random.default_rng(2)
    root = rng.standard_normal((7, 7)) * 0.5
    covariance = root @ root.T + 0.1 * np.eye(7)
    values = rng.standard_normal(7) * 2 + 5
    ones = np.ones(7)

    def likelihood(variance: float) -> float:
        total = variance * np.eye(7) + covariance
        inverse = np.linalg.inv(total)
        mean = ones @ inverse @ values / (ones @ inverse @ ones)
        restricted = np.log(ones @ inverse @ ones) / 2
        return float(multivariate_normal(mean * ones, total).logpdf(values) - restricted)

    tried = np.linspace(0, 12, 4001)
    best = tried[int(np.argmax([likelihood(one) for one in tried]))]
    assert prior_of(values, covariance).variance == pytest.approx(best, abs=0.004)


def test_scores_and_expected_ranks_are_those_of_drawn_truths() -> None:
    """Truths and estimates drawn from the model, and the truths of those estimates that came out nearly as these."""
    values, errors = np.array([1.2, 0.4, 0.0, -1.5]), np.array([1.0, 0.3, 0.6, 0.2])
    found = shrunken(values, errors)
    rng = np.random.default_rng(11)
    # posterior draws by another way: of the mean first, then of each truth about its own shrunken score
    total = found.prior.variance + errors**2
    mean = found.prior.mean + rng.standard_normal(200_000) / np.sqrt(np.sum(1 / total))
    kept = found.prior.variance / total
    truths = mean[:, None] * (1 - kept) + kept * values + rng.standard_normal((200_000, 4)) * np.sqrt(kept) * errors
    np.testing.assert_allclose(found.scores, truths.mean(axis=0), atol=0.01)
    np.testing.assert_allclose(found.covariance, np.cov(truths.T), atol=0.01)
    ranks = 1 + (truths[:, None, :] > truths[:, :, None]).sum(axis=2)
    np.testing.assert_allclose(found.expected_ranks, ranks.mean(axis=0), atol=0.01)


def test_independent_errors_may_come_as_deviations_or_as_a_covariance() -> None:
    """The same figures both ways."""
    values, errors = [3.0, 2.9, 1.0, 0.2], np.array([0.5, 0.1, 0.4, 0.2])
    one, other = shrunken(values, errors), shrunken(values, np.diag(errors**2))
    assert one.prior.variance == pytest.approx(other.prior.variance, rel=1e-6)
    np.testing.assert_allclose(one.expected_ranks, other.expected_ranks, atol=1e-6)


def test_without_noise_scores_and_places_are_the_published_ones() -> None:
    """All of it is spread; ties share the mean of their places."""
    found = shrunken([5.0, 7.0, 5.0, 1.0], [0.0, 0.0, 0.0, 0.0])
    np.testing.assert_allclose(found.scores, [5, 7, 5, 1])
    np.testing.assert_allclose(found.expected_ranks, [2.5, 1, 2.5, 4])
    assert shrunken([5.0, 5.0, 5.0], [0.0, 0.0, 0.0]).is_flat


@given(st.lists(st.floats(-5, 5), min_size=2, max_size=8), st.integers(0, 2**20))
def test_what_always_holds(values: list[float], seed: int) -> None:
    """Ranks add up to those of a table, scores are drawn in and not beyond, and the lowest best turns all round."""
    rng = np.random.default_rng(seed)
    errors = rng.uniform(0.05, 2.0, len(values))
    n = len(values)
    found = shrunken(values, errors)
    assert found.expected_ranks.sum() == pytest.approx(n * (n + 1) / 2)
    low, high = (np.sort([x, found.prior.mean]) for x in (min(values), max(values)))
    assert (found.scores >= low[0] - 1e-9).all()
    assert (found.scores <= high[1] + 1e-9).all()
    turned = shrunken(values, errors, best="lowest")
    np.testing.assert_allclose(found.expected_ranks + turned.expected_ranks, n + 1, atol=1e-9)


def test_what_is_no_table_is_refused() -> None:
    """One estimate, and errors of another number."""
    with pytest.raises(ValueError, match="two or more finite values"):
        prior_of([1.0], [0.1])
    with pytest.raises(ValueError, match=r"covariance: found shape \(3,\), must fit 2 estimates"):
        prior_of([1.0, 2.0], [0.1, 0.1, 0.1])
