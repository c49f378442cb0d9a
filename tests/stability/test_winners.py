"""Whose lead is real: by hand, in its limits, by another way to the truncation, and by how often the intervals hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr
from winners_campaign import simulated, truths

from analysis.rankings.winners import Corrected, Lead, lead_of


def lead(estimates: object, covariance: object, **options: object) -> Lead:
    """The lead, where there is one."""
    found = lead_of(np.asarray(estimates, float), np.asarray(covariance, float), **options)  # type: ignore[arg-type]
    assert found is not None
    return found


def figures(one: Corrected) -> list[float]:
    """All of a corrected figure but its standard error."""
    return [one.published, one.estimate, one.conditional, one.low, one.high, one.plain_low, one.plain_high]


def test_two_products_by_hand() -> None:
    """The difference is seen only above 0: half of N(m, 2) above 0 lies below d where (P(d) - P(0)) / (1 - P(0)) is 1/2."""
    d, sd = 1.0, np.sqrt(2)
    found = lead([d, 0.0], [1.0, 1.0]).margin
    m = found.conditional
    below_0, below_d = ndtr((0 - m) / sd), ndtr((d - m) / sd)
    assert (below_d - below_0) / (1 - below_0) == pytest.approx(0.5, abs=1e-9)
    assert (found.published, found.sd) == (d, pytest.approx(sd))


def test_a_third_product_bounds_the_lead_from_above() -> None:
    """Equal errors: the mean of the two stays while their difference moves, so the third is passed at a lead of 2 (2 - 1) = 2."""
    found = lead([2.5, 1.5, 1.0], [1.0, 1.0, 1.0]).margin
    m, sd = found.conditional, np.sqrt(2)
    below = [ndtr((x - m) / sd) for x in (0.0, 1.0, 2.0)]
    assert (below[1] - below[0]) / (below[2] - below[0]) == pytest.approx(0.5, abs=1e-9)


def test_the_score_of_the_first_by_hand() -> None:
    """Independent errors: it is seen only above the second."""
    found = lead([3.0, 2.5, 0.0], [1.0, 0.2, 0.2]).score
    m = found.conditional
    assert (ndtr(3.0 - m) - ndtr(2.5 - m)) / (1 - ndtr(2.5 - m)) == pytest.approx(0.5, abs=1e-9)


def test_a_lead_far_beyond_the_noise_is_left_as_it_is() -> None:
    """Nobody else could have been picked: the plain interval, all but the part that the hybrid spends."""
    found = lead([9.0, 5.0, 4.0], [0.1, 0.1, 0.1])
    for one in (found.margin, found.score):
        assert one.estimate == pytest.approx(one.published, abs=1e-9)
        assert (one.low, one.high) == (pytest.approx(one.plain_low, abs=0.01), pytest.approx(one.plain_high, abs=0.01))
    assert found.stands


def test_a_dead_heat_has_no_bound_without_the_hybrid() -> None:
    """The conditional estimate is minus infinity; the hybrid keeps within its simultaneous interval, and no lead stands."""
    found = lead([5.0, 5.0, 1.0], [0.1, 0.1, 0.1])
    assert found.margin.conditional == -np.inf
    assert np.isfinite([found.margin.estimate, found.margin.low, found.margin.high]).all()
    assert not found.stands


def test_errors_shared_by_all_move_no_lead() -> None:
    """A shift of all scores is in the score of the first and in no difference."""
    own = np.diag([0.2, 0.3, 0.1, 0.2])
    values = [3.0, 2.8, 2.5, 1.0]
    apart, shared = lead(values, own), lead(values, own + 5.0)
    np.testing.assert_allclose(figures(shared.margin), figures(apart.margin), atol=1e-9)
    assert shared.score.sd > apart.score.sd


def test_the_truncation_is_where_somebody_else_is_picked() -> None:
    """A second way: the figure is moved, what is independent of it held, and the picks are watched."""
    rng = np.random.default_rng(5)
    root = rng.standard_normal((6, 6))
    covariance = root @ root.T
    values = np.sort(rng.standard_normal(6))[::-1] * 2
    along = covariance @ np.array([1.0, -1.0, 0, 0, 0, 0])
    variance = along[0] - along[1]
    steps = np.linspace(-40, 40, 400_001)
    moved = values + steps[:, np.newaxis] * along / variance
    same = (moved[:, 0] >= moved[:, 1]) & (moved[:, 1] >= moved[:, 2:].max(axis=1))
    seen = steps[same] + values[0] - values[1]
    found = lead(values, covariance).margin
    sd = np.sqrt(variance)
    ends = ndtr((np.array([seen.min(), found.published, seen.max()]) - found.conditional) / sd)
    assert (ends[1] - ends[0]) / (ends[2] - ends[0]) == pytest.approx(0.5, abs=1e-3)


@given(st.lists(st.floats(-3, 3), min_size=2, max_size=7, unique=True), st.floats(0.05, 3), st.integers(0, 2**20))
def test_what_always_holds(values: list[float], size: float, seed: int) -> None:
    """The estimate lies in its interval; units and signs turn with the figures; the order of products is nothing."""
    rng = np.random.default_rng(seed)
    sd = size * rng.uniform(0.5, 1.5, len(values))
    x = np.array(values)
    if np.diff(np.sort(x)).min() < 1e-6:
        return
    found = lead(x, sd)
    for one in (found.margin, found.score):
        assert one.low - 1e-9 <= one.estimate <= one.high + 1e-9
    other = rng.permutation(len(x))
    moved = lead(10 * x[other], 10 * sd[other])
    assert (other[moved.first], other[moved.second]) == (found.first, found.second)
    np.testing.assert_allclose(figures(moved.margin), 10 * np.array(figures(found.margin)), rtol=1e-5, atol=1e-6)
    lowest = lead(-x, sd, best="lowest")
    np.testing.assert_allclose(figures(lowest.margin), figures(found.margin), rtol=1e-9, atol=1e-9)
    assert (lowest.score.low, lowest.score.high) == (pytest.approx(-found.score.high), pytest.approx(-found.score.low))


def test_no_error_no_correction() -> None:
    """One product, or errors of 0: there is nothing to correct."""
    assert lead_of([1.0], [0.1]) is None
    assert lead_of([2.0, 1.0], [0.0, 0.0]) is None
    assert lead_of([2.0, 1.0], np.ones((2, 2))) is None


@pytest.mark.parametrize("name", ["ten equal", "one leader, 4 sd ahead", "errors of any correlation, near ties"])
def test_the_corrected_intervals_hold_and_plain_ones_do_not(name: str) -> None:
    """600 tables a truth: 95 % within three standard errors of a share, half of the estimates above the truth."""
    true, covariance = truths()[name]
    found = simulated(true, covariance, 600, np.random.default_rng(7))
    for one in found.values():
        assert 0.95 - 3 * np.sqrt(0.95 * 0.05 / 600) <= one.hybrid <= 0.98
        assert one.estimate_above == pytest.approx(0.5, abs=3 * np.sqrt(0.25 / 600))
        assert one.conditional_above == pytest.approx(0.5, abs=3 * np.sqrt(0.25 / 600))
    if name != "one leader, 4 sd ahead":
        assert found["score"].plain < 0.9
        assert found["score"].published_above > 0.95
        assert found["lead"].published_above > 0.7


def test_what_is_asked_for_wrongly_is_refused() -> None:
    """Words, levels and figures."""
    with pytest.raises(ValueError, match="best: found 'top', must be highest or lowest"):
        lead([2.0, 1.0], [0.1, 0.1], best="top")
    with pytest.raises(ValueError, match=r"coverage: found 0\.4"):
        lead([2.0, 1.0], [0.1, 0.1], coverage=0.4)
    with pytest.raises(ValueError, match="estimates: must be finite"):
        lead([2.0, np.nan], [0.1, 0.1])
