"""The truncated normal law: against many digits, against draws, and where a difference of probabilities has no digit left."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from analysis.rankings.truncated_normal import log_mass_beyond, log_odds, mean_at

WIDTHS = [1e-9, 9.9e-5, 1.01e-4, 0.01, 0.7, 3.0, 50.0, np.inf]
PLACES = [-1e6, -300.0, -9.0, -1.0, -1e-7, 0.0, 1e-7, 0.4, 5.0, 60.0, 1e6]


def exact_log_mass(t: float, width: float) -> float:
    """The same integral by complementary error functions with as many digits as their difference needs."""
    with mpmath.workdps(60):
        a, b = mpmath.mpf(t), mpmath.mpf(t) + (mpmath.inf if np.isinf(width) else mpmath.mpf(width))
        root = mpmath.sqrt(2)
        # erfc(a) - erfc(b) keeps its digits only in the upper tail
        low, high = (a, b) if a >= 0 else (-b, -a)
        if low < 0 < high:
            mass = (mpmath.erf(high / root) - mpmath.erf(low / root)) / 2
        else:
            upper = mpmath.mpf(0) if mpmath.isinf(high) else mpmath.erfc(high / root)
            mass = (mpmath.erfc(low / root) - upper) / 2
        return float(mpmath.log(mass) + mpmath.mpf(t) ** 2 / 2 + mpmath.log(mpmath.sqrt(2 * mpmath.pi)))


@pytest.mark.parametrize("t", PLACES)
@pytest.mark.parametrize("width", WIDTHS)
def test_the_mass_beside_a_value_has_its_digits_wherever_the_value_lies(t: float, width: float) -> None:
    """Against 60 digits, from a million standard deviations below the mean to as many above it."""
    expected = exact_log_mass(t, width)
    assert float(log_mass_beyond(t, width)) == pytest.approx(expected, rel=1e-9, abs=3e-8)


def test_nothing_lies_in_a_width_of_nothing() -> None:
    """log 0, for every place."""
    assert np.isneginf(log_mass_beyond(np.array(PLACES), 0.0)).all()


def test_without_truncation_the_mean_is_the_plain_quantile() -> None:
    """F is the normal law then."""
    shares = np.array([0.025, 0.3, 0.5, 0.975])
    np.testing.assert_allclose(mean_at(shares, np.inf, np.inf), ndtri(shares), atol=1e-12)


@given(
    share=st.floats(0.01, 0.99),
    below=st.floats(1e-6, 20),
    above=st.one_of(st.floats(1e-6, 20), st.just(np.inf)),
)
def test_half_of_the_law_lies_below_the_value_under_the_mean_that_is_found(
    share: float, below: float, above: float
) -> None:
    """The root is put back: its share is the one asked for, however far away the mean lies."""
    t = mean_at(share, below, above)
    odds = float(log_odds(t, below, above))
    assert 1 / (1 + np.exp(-odds)) == pytest.approx(share, abs=1e-6)


def test_a_value_close_to_its_truncation_point_needs_a_mean_far_beyond_it() -> None:
    """By hand: near the bound the law falls as exp(-t s), so that half lies below `below` where t is log 2 / below."""
    assert float(mean_at(0.5, 1e-6, np.inf)) == pytest.approx(np.log(2) / 1e-6, rel=1e-5)
    assert float(mean_at(0.5, 0.0, 3.0)) == np.inf
    assert float(mean_at(0.5, 3.0, 0.0)) == -np.inf


def test_what_is_cut_about_the_mean_keeps_the_answer_within_reach() -> None:
    """Also where the value lies on a truncation point; and far from all cuts it changes nothing."""
    held = mean_at(np.array([0.025, 0.5, 0.975]), 0.0, 1.0, 3.5)
    np.testing.assert_allclose(held, 3.5, atol=1e-9)
    np.testing.assert_allclose(mean_at(0.5, 2.0, 3.0, 40.0), mean_at(0.5, 2.0, 3.0), atol=1e-9)


def test_the_truncated_share_is_that_of_probabilities_where_these_have_digits() -> None:
    """The second method: differences of the normal distribution function."""
    t, below, above = 0.6, 1.1, 0.8
    plain = (ndtr(t) - ndtr(t - below)) / (ndtr(t + above) - ndtr(t - below))
    assert 1 / (1 + np.exp(-float(log_odds(t, below, above)))) == pytest.approx(plain, abs=1e-12)


def test_a_share_of_none_or_all_is_refused() -> None:
    """No mean gives them."""
    with pytest.raises(ValueError, match="share: found 1 to 1, must be above 0 and below 1"):
        mean_at(1, 1.0, 1.0)
