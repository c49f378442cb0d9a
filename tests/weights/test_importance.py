"""What weights are worth: shares that add up, smoothers against a second method, and what the intervals cover."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

import analysis.importance.correlation_ratio as smoother
from analysis.importance.correlation_ratio import bandwidth_range, correlation_ratio, unrelated_ratio
from analysis.importance.importance import (
    FEWEST,
    KINDS,
    covariance_split,
    discrepancy,
    importance,
    linear_shapley,
    percentile_ends,
    weighted_covariances,
)
from analysis.indices.shapley_effects import linear_gaussian_effects

Array = NDArray[np.float64]
SIGMA = np.array([[1, 0.4, 0, -0.3], [0.4, 1, 0.2, 0], [0, 0.2, 2, 0], [-0.3, 0, 0, 1.0]])
SHARES = np.array([0.4, 0.3, 0.2, 0.1])


@st.composite
def weighted(draw: st.DrawFn) -> tuple[Array, Array]:
    """Weights from 0 up, and a covariance that may be singular: B B' for a small matrix B of whole numbers."""
    n, rank = draw(st.integers(1, 5)), draw(st.integers(1, 5))
    whole = st.integers(-3, 3)
    factor = np.array(draw(st.lists(st.lists(whole, min_size=rank, max_size=rank), min_size=n, max_size=n)), float)
    weights = np.array(draw(st.lists(st.integers(0, 4), min_size=n, max_size=n)), float)
    sigma = factor @ factor.T
    assume(float(weights @ sigma @ weights) > 0.5)
    return weights, sigma


def normal_sample(n: int, rng: np.random.Generator) -> Array:
    """Products with four jointly normal parts, shape (n, 4)."""
    found: Array = rng.normal(size=(n, 4)) @ np.linalg.cholesky(SIGMA).T
    return found


@given(weighted())
def test_effective_shares_add_to_one_and_split_in_two(case: tuple[Array, Array]) -> None:
    """Structural and correlative share add to the effective one, and effective shares to 1, whatever the covariance."""
    weights, sigma = case
    split = covariance_split(weights, sigma)
    assert split.effective.sum() == pytest.approx(1)
    assert split.structural + split.correlative == pytest.approx(split.effective)
    assert covariance_split(7 * weights, sigma).effective == pytest.approx(split.effective)


@given(weighted())
def test_shapley_shares_are_those_of_the_set_by_set_formula(case: tuple[Array, Array]) -> None:
    """Sweeping and pseudo-inverses of every set agree, singular covariances included; shares are from 0 up and add to 1."""
    weights, sigma = case
    found = linear_shapley(weights, np.stack([sigma, 4 * sigma]))
    assert found[0] == pytest.approx(linear_gaussian_effects(weights, sigma).effects, abs=1e-8)
    assert found[1] == pytest.approx(found[0], abs=1e-12)
    assert found[0].sum() == pytest.approx(1)
    assert found.min() > -1e-9


def test_shares_of_many_covariances_are_those_of_each() -> None:
    """More resamples than are held at a time change nothing."""
    rng = np.random.default_rng(1)
    counts = rng.multinomial(20, np.full(20, 0.05), 600).astype(float)
    sigma = weighted_covariances(normal_sample(20, rng), counts)
    found = linear_shapley(SHARES, sigma)
    assert found[[0, 299, 599]] == pytest.approx(
        np.concatenate([linear_shapley(SHARES, sigma[[k]]) for k in (0, 299, 599)])
    )


def test_more_than_twelve_parts_are_refused() -> None:
    """Their sets could not be gone through."""
    with pytest.raises(ValueError, match="13 parts have 8192 sets"):
        linear_shapley(np.ones(13), np.eye(13)[None])


def test_covariances_by_counts_are_those_of_rows_written_out() -> None:
    """A product that is in three times counts as three rows."""
    values, counts = normal_sample(5, np.random.default_rng(2)), np.array([3, 0, 1, 2, 1])
    plain = np.cov(np.repeat(values, counts, axis=0).T, ddof=0)
    assert weighted_covariances(values, counts[None].astype(float))[0] == pytest.approx(plain)


@pytest.mark.parametrize(
    ("shares", "effects", "expected"),
    [
        ([0.5, 0.3, 0.2], [0.25, 0.15, 0.1], 0.0),  # in the same proportions
        ([0.5, 0.25, 0.25], [0.4, 0.4, 0.1], 0.5),  # |0.5 - 1|
        ([1, 1], [0.2, 0.5], 1.5),  # |1 - 2.5|
        ([0.6, 0.4], [0.5, np.nan], 2 / 3),  # a part that does not vary has no effect
    ],
    ids=["none", "half", "equal weights", "an idle part"],
)
def test_discrepancy_by_hand(shares: list[float], effects: list[float], expected: float) -> None:
    """max |w_i / w_1 - S_i / S_1|; worked out here."""
    assert float(discrepancy(shares, effects)) == pytest.approx(expected)


def test_a_straight_line_is_told_wholly_at_every_bandwidth() -> None:
    """A local line follows a line without bending it: the ratio is 1."""
    x = np.random.default_rng(3).normal(size=40)
    assert correlation_ratio(x, 3 - 2 * x, bandwidth_range(x)) == pytest.approx(np.ones((1, 3)))


def test_a_very_wide_bandwidth_gives_the_squared_correlation() -> None:
    """With equal weights everywhere the local line is the line of least squares."""
    rng = np.random.default_rng(4)
    x = rng.normal(size=50)
    y = x**2 + rng.normal(size=50)
    assert correlation_ratio(x, y, [1e5])[0, 0] == pytest.approx(np.corrcoef(x, y)[0, 1] ** 2, abs=1e-6)


def test_a_parabola_has_half_the_variance_and_no_linear_effect() -> None:
    """y = x^2 + e with Var x^2 = 2 and Var e = 2: E(y|x) = x^2, so S = 1/2 and R^2 = 0; worked out here."""
    rng = np.random.default_rng(5)
    x = rng.normal(size=20_000)
    y = x**2 + np.sqrt(2) * rng.normal(size=20_000)
    assert correlation_ratio(x, y, bandwidth_range(x)[:2])[0] == pytest.approx([0.5, 0.5], abs=0.03)
    assert np.corrcoef(x, y)[0, 1] ** 2 < 0.003


def test_the_smoother_is_weighted_least_squares_point_by_point() -> None:
    """A second method: at every product a line fitted by numpy under the same weights."""
    rng = np.random.default_rng(6)
    x, y = np.round(rng.normal(size=30), 1), rng.normal(size=30)
    fitted = []
    for at in x:
        weights = np.exp(-0.25 * ((x - at) / 0.4) ** 2)  # polyfit squares them
        fitted.append(np.polyval(np.polyfit(x - at, y, 1, w=weights), 0))
    assert correlation_ratio(x, y, [0.4])[0, 0] == pytest.approx(np.var(fitted) / np.var(y))


def test_counts_are_products_written_out() -> None:
    """Resampling by counts is smoothing the repeated rows."""
    rng = np.random.default_rng(7)
    x, y = rng.normal(size=12), rng.normal(size=12)
    counts = rng.multinomial(12, np.full(12, 1 / 12), 5)
    found = correlation_ratio(x, y, [0.5, 1.0], counts)
    for drawn, row in zip(counts, found, strict=True):
        assert row == pytest.approx(correlation_ratio(np.repeat(x, drawn), np.repeat(y, drawn), [0.5, 1.0])[0])


def test_thinned_points_give_nearly_the_same_ratio(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 1000 distinct values 100 are smoothed at; the ratio moves by less than 0.003."""
    rng = np.random.default_rng(8)
    x = rng.normal(size=1000)
    y = np.sin(2 * x) + rng.normal(size=1000)
    thinned = correlation_ratio(x, y, bandwidth_range(x))
    monkeypatch.setattr(smoother, "MOST_POINTS", 1000)
    assert correlation_ratio(x, y, bandwidth_range(x)) == pytest.approx(thinned, abs=3e-3)


def test_the_ratio_of_an_unrelated_part_is_as_foretold() -> None:
    """The mean over 800 shuffled scores meets the expected ratio of noise within four standard errors."""
    rng = np.random.default_rng(9)
    x = np.round(rng.normal(size=40), 1)
    widths = bandwidth_range(x)
    drawn = np.array([correlation_ratio(x, rng.permutation(x), widths)[0] for _ in range(800)])
    error = drawn.std(axis=0) / np.sqrt(len(drawn))
    assert np.all(np.abs(drawn.mean(axis=0) - unrelated_ratio(x, widths)) < 4 * error)


@pytest.mark.parametrize(
    ("x", "y"), [([2, 2, 2], [1, 2, 3]), ([1, 2, 3], [2, 2, 2])], ids=["the part is constant", "the score is constant"]
)
def test_no_ratio_where_nothing_varies(x: list[float], y: list[float]) -> None:
    """There is no variance to share out: no figure, and no zero in its place."""
    assert np.isnan(correlation_ratio(x, y, [1.0])).all()


@pytest.mark.parametrize(
    ("y", "widths", "match"),
    [([1, 2], [1.0], "do not fit"), ([1, 2, 3], [0.0], "not above 0")],
    ids=["shapes", "bandwidth"],
)
def test_the_smoother_refuses_what_it_cannot_smooth(y: list[float], widths: list[float], match: str) -> None:
    """Shapes that do not fit and bandwidths of 0 are faults of the caller."""
    with pytest.raises(ValueError, match=match):
        correlation_ratio([1, 2, 3], y, widths)


def test_main_effects_of_the_weighted_mean_itself_are_the_formula() -> None:
    """Where the published score is the weighted mean, the squared correlation is (Sigma w)^2 / (sigma V)."""
    values = normal_sample(30, np.random.default_rng(10))
    found = importance(values, values @ SHARES, SHARES, rng=np.random.default_rng(0), resamples=50)
    split = covariance_split(SHARES, np.cov(values.T))
    assert found.of("linear")[0] == pytest.approx(split.linear)
    assert found.of("effective")[0] == pytest.approx(split.effective)
    assert found.discrepancy[1] == pytest.approx(float(discrepancy(SHARES, split.linear)))


def test_the_same_seed_gives_the_same_intervals_and_another_does_not() -> None:
    """Draws come from the generator alone."""
    values = normal_sample(20, np.random.default_rng(11))

    def low(seed: int) -> Array:
        return importance(values, values @ SHARES, SHARES, rng=np.random.default_rng(seed), resamples=100).low

    assert np.array_equal(low(0), low(0), equal_nan=True)
    assert not np.array_equal(low(0), low(1), equal_nan=True)


def test_there_are_no_intervals_under_ten_products() -> None:
    """Estimates stand, their ends do not."""
    values = normal_sample(FEWEST - 1, np.random.default_rng(12))
    found = importance(values, values @ SHARES, SHARES, rng=np.random.default_rng(0))
    assert found.resamples == 0
    assert np.isfinite(found.value).all()
    assert np.isnan(found.low).all()
    assert np.isnan(found.discrepancy_high).all()


def test_a_part_that_does_not_vary_carries_nothing() -> None:
    """Its shares are 0, and it has no main effect."""
    values = normal_sample(25, np.random.default_rng(13))
    values[:, 2] = 5.0
    found = importance(values, values @ SHARES, SHARES, rng=np.random.default_rng(0), resamples=100)
    assert [found.of(kind)[0][2] for kind in ("effective", "shapley")] == pytest.approx([0, 0])
    assert np.isnan([found.of(kind)[0][2] for kind in ("linear", "ratio")]).all()


def test_ends_are_the_percentiles_and_none_where_figures_are_lost() -> None:
    """2.5 and 97.5 % of the resamples; no interval where one in ten has no figure."""
    drawn = np.column_stack([np.arange(1001.0), np.where(np.arange(1001) % 10 == 0, np.nan, 1.0)])
    low, high = percentile_ends(drawn)
    assert (low[0], high[0]) == pytest.approx((25, 975))
    assert np.isnan([low[1], high[1]]).all()


@pytest.mark.parametrize(
    ("n", "least", "most"), [(15, 0.87, 0.94), (30, 0.9, 0.96), (60, 0.91, 0.97)], ids=["15", "30", "60 products"]
)
def test_what_the_intervals_of_effective_shares_cover(n: int, least: float, most: float) -> None:
    """The mean over four parts, on 400 normal samples: intervals of 95 % fall short by 5 points with 15 products."""
    truth, rng, covered, runs = covariance_split(SHARES, SIGMA).effective, np.random.default_rng(14), 0.0, 400
    for _ in range(runs):
        counts = rng.multinomial(n, np.full(n, 1 / n), 500).astype(float)
        drawn = covariance_split(SHARES, weighted_covariances(normal_sample(n, rng), counts)).effective
        low, high = percentile_ends(drawn)
        covered += float(np.mean((low <= truth) & (truth <= high)))
    assert least <= covered / runs <= most


def test_a_ratio_near_nothing_is_hardly_ever_covered() -> None:
    """On record: the fourth part's ratio is 0.0006, and its estimate lies at what noise alone gives; the first's is covered."""
    truth, rng, covered, runs = covariance_split(SHARES, SIGMA).linear, np.random.default_rng(15), np.zeros(4), 60
    for _ in range(runs):
        values = normal_sample(15, rng)
        _, low, high = importance(values, values @ SHARES, SHARES, rng=rng, resamples=200).of("ratio")
        covered += (low <= truth) & (truth <= high)
    assert covered[3] / runs < 0.2
    assert covered[0] / runs > 0.75


def test_each_kind_has_a_row() -> None:
    """`of` finds every kind of figure."""
    values = normal_sample(12, np.random.default_rng(15))
    found = importance(values, values @ SHARES, SHARES, rng=np.random.default_rng(0), resamples=20)
    assert found.value.shape == (len(KINDS), 4)
    assert found.of("structural")[0] + found.of("correlative")[0] == pytest.approx(found.of("effective")[0])
