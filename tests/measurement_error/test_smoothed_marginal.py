"""How a measure is distributed over the products: by hand, there and back, and against what a new product would read."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from scoring.measurement_error.smoothed_marginal import marginal_of

NOTHING = np.array([])


def test_the_ordered_readings_stand_at_van_der_waerdens_scores() -> None:
    """The i-th of four at the normal quantile of i / 5, ties at their mean place, and a line between them."""
    marginal, scores = marginal_of(np.array([7.0, 1.0, 3.0, 4.0]), NOTHING, -5.0)
    np.testing.assert_allclose(scores, stats.norm.ppf([0.8, 0.2, 0.4, 0.6]), rtol=1e-12)
    assert marginal.readings(np.array([0.0])) == pytest.approx(3.5)
    tied = marginal_of(np.array([1.0, 3.0, 3.0, 4.0]), NOTHING, -math.inf)[1]
    np.testing.assert_allclose(tied, stats.norm.ppf([0.2, 0.5, 0.5, 0.8]), atol=1e-12)


@pytest.mark.parametrize("censored", [NOTHING, np.array([0.9, 0.9])], ids=["all read", "two below 0.9"])
@given(readings=st.lists(st.floats(1, 1e4), min_size=4, max_size=30, unique=True), share=st.floats(1e-6, 1 - 1e-6))
def test_a_score_and_its_reading_lead_to_each_other(censored: np.ndarray, readings: list[float], share: float) -> None:
    """Within the readings and in both tails, and the line rises."""
    held = np.sort(np.array(readings))
    if (np.diff(held) < 1e-3 * held[1:]).any():
        return
    marginal, _ = marginal_of(held, censored, 0.0)
    score = stats.norm.ppf(share)
    there = marginal.readings(np.array([score, score + 0.01]))
    if np.isfinite(there).all() and (there > 0).all() and there[1] > there[0] * (1 + 1e-9):
        assert marginal.scores_of(there[:1])[0] == pytest.approx(score, abs=1e-5)
        assert there[1] > there[0]


def test_skewed_readings_are_taken_by_their_logarithms_and_even_ones_as_they_are() -> None:
    """So that no tail of the former goes below 0; a measure that may read below 0 is never taken so."""
    even = stats.norm.ppf(np.arange(1, 30) / 30)
    assert marginal_of(np.exp(even), NOTHING, 0.0)[0].logarithmic
    assert not marginal_of(10 + even, NOTHING, 0.0)[0].logarithmic
    assert not marginal_of(np.exp(even), NOTHING, -5.0)[0].logarithmic
    assert marginal_of(np.exp(even), NOTHING, 0.0)[0].readings(np.array([-8.0]))[0] > 0


def test_a_tail_is_that_of_the_prediction_of_one_more_normal_reading() -> None:
    """Mean of 400 samples of 9: the 0.5 % point lies where t with 7 degrees of freedom, times sqrt(1 + 1/9), puts it."""
    rng = np.random.default_rng(5)
    found = [
        float(marginal_of(rng.standard_normal(9), NOTHING, -math.inf)[0].readings(stats.norm.ppf([0.005]))[0])
        for _ in range(400)
    ]
    assert np.mean(found) == pytest.approx(stats.t.ppf(0.005, 7) * math.sqrt(1 + 1 / 9), abs=0.15)


def test_as_many_draws_lie_below_a_limit_as_readings_did() -> None:
    """6 of 20 lie below 22: a new product does with a chance of 6.5 / 21, and they are drawn down to no set depth."""
    read = 22 + np.arange(1, 15) * 1.5
    marginal, _ = marginal_of(read, np.full(6, 22.0), 0.0)
    assert stats.norm.cdf(marginal.scores_of(np.array([22.0])))[0] == pytest.approx(6.5 / 21)
    depths = marginal.readings(stats.norm.ppf(np.array([6.4, 3.0, 1.0]) / 21))
    assert (np.diff([22.0, *depths]) < 0).all()
