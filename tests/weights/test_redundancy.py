"""How parts go together: each figure against a second way of working it out, and what has none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import spearmanr

from analysis.importance.redundancy import alpha_of, redundancy

Array = NDArray[np.float64]


def sample(seed: int, n: int = 40, parts: int = 4) -> Array:
    """Correlated invented parts, shape (n, parts)."""
    rng = np.random.default_rng(seed)
    found: Array = rng.normal(size=(n, parts)) @ rng.normal(size=(parts, parts)) + 5
    return found


@given(st.integers(0, 10_000))
def test_variance_inflation_is_the_diagonal_of_the_inverse(seed: int) -> None:
    """The regression on the other parts and the inverse of the correlations agree, where there is one."""
    values = sample(seed)
    inverse = np.linalg.inv(np.corrcoef(values.T))
    assert redundancy(values).inflation == pytest.approx(np.diag(inverse), rel=1e-4)


def test_a_part_that_follows_from_the_others_is_inflated_without_bound() -> None:
    """The sum of two parts follows from them, and each from the sum and the other; the fourth stands by itself."""
    values = sample(1)
    values[:, 2] = values[:, 0] + 2 * values[:, 1]
    found = redundancy(values).inflation
    assert np.isinf(found[:3]).all()
    assert np.isfinite(found[3])


def test_rank_correlation_is_scipys_ties_included() -> None:
    """Whole numbers, so that there are ties."""
    values = np.round(sample(2))
    assert redundancy(values).spearman == pytest.approx(spearmanr(values).statistic)


def test_rank_correlation_is_the_same_under_any_rising_curve() -> None:
    """Only order counts."""
    values = sample(3)
    assert redundancy(np.exp(values / 3)).spearman == pytest.approx(redundancy(values).spearman)


@given(st.integers(0, 10_000))
def test_components_rebuild_the_correlations(seed: int) -> None:
    """Loadings times themselves are the correlations; eigenvalues fall, and add to the number of parts."""
    values = sample(seed)
    found = redundancy(values)
    assert found.loadings @ found.loadings.T == pytest.approx(np.corrcoef(values.T), abs=1e-9)
    assert found.eigenvalues.sum() == pytest.approx(4)
    assert np.all(np.diff(found.eigenvalues) <= 1e-12)
    assert np.all(found.loadings.max(axis=0) >= -found.loadings.min(axis=0) - 1e-9)


def test_cronbachs_alpha_by_hand() -> None:
    """Variances 5/3, 11/12, 5/3; totals 13, 10, 15, 7 of variance 12.25: 3/2 (1 - 4.25 / 12.25) = 48/49; worked out here."""
    found = redundancy([[4, 5, 4], [3, 4, 3], [5, 5, 5], [2, 3, 2]])
    assert found.alpha_raw == pytest.approx(48 / 49)


@given(st.integers(0, 10_000))
def test_standardised_alpha_is_the_formula_of_the_mean_correlation(seed: int) -> None:
    """k r / (1 + (k - 1) r), r being the mean correlation of two parts, with the part left out as without it."""
    values = sample(seed)
    correlations = np.corrcoef(values.T)
    r = correlations[np.triu_indices(4, 1)].mean()
    found = redundancy(values)
    if 1 + 3 * r > 0.05:
        assert found.alpha == pytest.approx(4 * r / (1 + 3 * r), rel=1e-6, abs=1e-9)
    assert found.alpha_without[0] == pytest.approx(redundancy(values[:, 1:]).alpha, nan_ok=True)


def test_correlation_with_the_rest_is_that_with_the_other_standardised_parts() -> None:
    """Worked out from the products themselves."""
    values = sample(4)
    standard = (values - values.mean(axis=0)) / values.std(axis=0)
    plain = [np.corrcoef(standard[:, i], np.delete(standard, i, 1).sum(axis=1))[0, 1] for i in range(4)]
    assert redundancy(values).rest_correlation == pytest.approx(plain)


def test_a_part_that_does_not_vary_has_no_figures_and_spoils_none() -> None:
    """The others come out as without it."""
    values = sample(5)
    values[:, 1] = 7.3
    found, without = redundancy(values), redundancy(np.delete(values, 1, axis=1))
    assert np.isnan([found.spearman[1, 0], found.inflation[1], found.loadings[1, 0], found.alpha_without[1]]).all()
    assert found.inflation[[0, 2, 3]] == pytest.approx(without.inflation)
    assert found.eigenvalues == pytest.approx(without.eigenvalues)
    assert found.alpha == pytest.approx(without.alpha)


def test_one_part_has_no_alpha() -> None:
    """It has nothing to agree with."""
    assert np.isnan(alpha_of(np.eye(1)))


@pytest.mark.parametrize("values", [[[1, 2, 3]], [[1], [2]]], ids=["one product", "one part"])
def test_what_cannot_go_together_is_refused(values: list[list[float]]) -> None:
    """Two products and two parts are the least."""
    with pytest.raises(ValueError, match="the least that go together"):
        redundancy(values)
