"""Rules for whole weight vectors: sums, signs, moments in closed form, whole distributions, and intervals against rejection."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from analysis.study.weight_rules import ByFactor, Dirichlet, Intervals, PlusMinus, Simplex, WeightRule

Array = NDArray[np.float64]
STATED = (0.26, 0.2, 0.18, 0.14, 0.12, 0.1)
#: Far from 1 in sum, and with a part that counts nothing.
ODD = (3.0, 0.0, 1.0, 2.5)
N = 40_000
#: A test of a law fails below this; there are some sixty of them, each of a fixed seed.
LEAST = 0.001


def unit_of(rule: WeightRule, n: int = N, seed: int = 11) -> Array:
    """Independent uniform columns."""
    return np.random.default_rng(seed).random((n, rule.columns))


def drawn(rule: WeightRule, n: int = N, seed: int = 11) -> Array:
    """Weights from uniform columns, or from a generator."""
    if isinstance(rule, Intervals):
        return rule.draw(n, np.random.default_rng(seed))
    return rule.weights(unit_of(rule, n, seed))


RULES: dict[str, WeightRule] = {
    "factor": ByFactor(STATED, 0.7, 1.3),
    "factor, odd": ByFactor(ODD, 0.0, 2.0),
    "plus or minus": PlusMinus(STATED, 0.15),
    "plus or minus, odd": PlusMinus(ODD, 0.4),
    "dirichlet": Dirichlet(STATED, 20),
    "dirichlet, odd": Dirichlet(ODD, 3),
    "dirichlet, sparse": Dirichlet(ODD, 0.02),
    "simplex": Simplex(1.0, 6),
    "simplex, odd": Simplex(6.5, 4),
    "simplex in order": Simplex(6.5, 4, (2, 0, 3, 1)),
    "intervals": Intervals(1.0, (0.1, 0.1, 0.0, 0.2), (0.5, 0.3, 0.4, 0.6)),
    "intervals, odd": Intervals(6.5, (0.1, 0.1, 0.0, 0.2), (0.5, 0.3, 0.4, 0.6)),
    "intervals, narrow": Intervals(1.0, (0.199,) * 3 + (0.3,), (0.201,) * 3 + (0.5,)),
}
TOTALS = {name: 6.5 if "odd" in name or "order" in name or "sparse" in name else 1.0 for name in RULES}


@pytest.mark.parametrize("name", RULES)
def test_every_rule_keeps_the_sum_and_no_weight_is_negative(name: str) -> None:
    """Also where the stated weights do not add to 1."""
    weights = drawn(RULES[name])
    assert weights.shape[0] == N
    np.testing.assert_allclose(weights.sum(axis=1), TOTALS[name], rtol=1e-12)
    assert (weights >= 0).all()
    assert (weights.std(axis=0) > 0).sum() >= weights.shape[1] - 1


COLUMNED = [name for name, rule in RULES.items() if rule.columns]


@pytest.mark.parametrize("name", COLUMNED)
@given(data=st.data())
def test_any_uniform_columns_give_weights(name: str, data: st.DataObject) -> None:
    """0, 1 and what lies next to them, too: a finite vector that keeps the sum, never a negative weight."""
    rule = RULES[name]
    edge = st.sampled_from([0.0, 5e-324, 1e-300, 2.0**-53, 0.5, 1 - 2.0**-53, 1.0])
    row = st.lists(st.one_of(edge, st.floats(0, 1)), min_size=rule.columns, max_size=rule.columns)
    weights = rule.weights(np.array([data.draw(row)]))
    assert np.isfinite(weights).all()
    assert (weights >= 0).all()
    assert weights.sum() == pytest.approx(TOTALS[name], rel=1e-12)


@pytest.mark.parametrize("name", COLUMNED)
@pytest.mark.parametrize("value", [0.0, 1.0])
def test_columns_that_are_all_at_an_end_give_weights(name: str, value: float) -> None:
    """A factor of 0 for every weight, say: the stated ones stand, since nothing is left to share out."""
    rule = RULES[name]
    weights = rule.weights(np.full((1, rule.columns), value))
    assert weights.sum() == pytest.approx(TOTALS[name], rel=1e-12)
    assert (weights >= 0).all()


@pytest.mark.parametrize("name", ["factor, odd", "dirichlet, odd", "dirichlet, sparse"])
def test_a_stated_weight_of_0_stays_0(name: str) -> None:
    """A part that counts nothing has no share of anything."""
    assert (drawn(RULES[name])[:, 1] == 0).all()


def test_a_factor_moves_each_weight_before_rescaling() -> None:
    """By hand: (0.5, 0.5) times (0.7, 1.3) is (0.35, 0.65), which adds to 1; times (1.3, 1.3) it is as it was."""
    rule = ByFactor((0.5, 0.5), 0.7, 1.3)
    weights = rule.weights(np.array([[0.0, 1.0], [1.0, 1.0], [0.5, 0.5], [1.0, 0.0]]))
    np.testing.assert_allclose(weights, [[0.35, 0.65], [0.5, 0.5], [0.5, 0.5], [0.65, 0.35]])


def test_factors_keep_to_their_extremes() -> None:
    """The share of one weight is furthest where all others go the other way: w f / (w f + (1 - w) g), worked out here."""
    rule = ByFactor(STATED, 0.7, 1.3)
    weights = drawn(rule)
    for part, stated in enumerate(STATED):
        low = 0.7 * stated / (0.7 * stated + 1.3 * (1 - stated))
        high = 1.3 * stated / (1.3 * stated + 0.7 * (1 - stated))
        assert low < weights[:, part].min() < stated < weights[:, part].max() < high
        unit = np.ones((1, 6))
        unit[0, part] = 0
        assert rule.weights(unit)[0, part] == pytest.approx(low)
        assert rule.weights(1 - unit)[0, part] == pytest.approx(high)


def test_factors_of_two_equal_weights_have_the_mean_and_variance_of_a_ratio_of_uniforms() -> None:
    """The share f / (f + g) with f, g uniform on 1 to 2, worked out here.

    Mean 1/2 by symmetry. Its variance is E[f^2 / (f + g)^2] - 1/4, where the inner integral over g is
    f^2 (1 / (f + 1) - 1 / (f + 2)); over f from 1 to 2 that is [f^2/2 - f + ln(f + 1)] - [f^2/2 - 2 f + 4 ln(f + 2)]
    = 1 + ln(3/2) - 4 ln(4/3).
    """
    shares = drawn(ByFactor((1.0, 1.0), 1, 2), n=200_000)[:, 0] / 2
    variance = 1 + math.log(3 / 2) - 4 * math.log(4 / 3) - 1 / 4
    assert shares.mean() == pytest.approx(0.5, abs=4 * math.sqrt(variance / 200_000))
    assert shares.var() == pytest.approx(variance, rel=0.01)


def test_the_sd_of_a_factor_is_that_of_the_weight_before_rescaling() -> None:
    """Uniform from 0.7 to 1.3 times the weight: 0.6 / sqrt(12) of it."""
    assert ByFactor(STATED, 0.7, 1.3).sds == pytest.approx([w * 0.6 / math.sqrt(12) for w in STATED])


@pytest.mark.parametrize("width", [0.05, 0.3, 1.5])
def test_the_sd_of_a_moved_share_is_that_before_rescaling(width: float) -> None:
    """Against draws that are held at 0, as the rule holds them, times the sum of the weights."""
    shares = np.array(ODD) / sum(ODD)
    moves = np.random.default_rng(3).uniform(-width, width, (400_000, 4))
    expected = np.maximum(shares + moves, 0).std(axis=0) * sum(ODD)
    assert PlusMinus(ODD, width).sds == pytest.approx(expected, rel=0.01)


def test_shares_are_moved_by_points_and_rescaled() -> None:
    """By hand: 65 % and 35 % plus or minus 15 points, and a share that would be negative."""
    weights = PlusMinus((0.65, 0.35), 0.15).weights(np.array([[0.0, 1.0], [1.0, 0.0], [1.0, 1.0]]))
    np.testing.assert_allclose(weights, [[0.5, 0.5], [0.8, 0.2], [0.8 / 1.3, 0.5 / 1.3]])
    held = PlusMinus((9.0, 1.0), 0.2).weights(np.array([[0.5, 0.0]]))
    np.testing.assert_allclose(held, [[10.0, 0.0]])


@pytest.mark.parametrize(
    ("stated", "concentration"),
    [(STATED, 20), (STATED, 2), (ODD, 6), ((0.5, 0.5), 0.02), (ODD, 0.003), (STATED, 5000)],
    ids=["near", "wide", "odd", "sparse", "very sparse", "tight"],
)
def test_dirichlet_moments_are_those_of_the_closed_form(stated: tuple[float, ...], concentration: float) -> None:
    """Mean s, variance s (1 - s) / (c + 1), covariance -s t / (c + 1).

    Johnson, Kotz and Balakrishnan, Continuous Multivariate Distributions, 2nd edition, 2000, chapter 49 (from memory).
    """
    shares = np.array(stated) / sum(stated)
    found = drawn(Dirichlet(stated, concentration)) / sum(stated)
    covariance = (np.diag(shares) - np.outer(shares, shares)) / (concentration + 1)
    deviations = np.sqrt(np.diag(covariance))
    assert (np.abs(found.mean(axis=0) - shares) <= 4.5 * deviations / math.sqrt(N)).all()
    np.testing.assert_allclose(np.cov(found.T), covariance, atol=0.03 * deviations.max() ** 2)


@pytest.mark.parametrize("concentration", [0.02, 1, 20])
def test_a_dirichlet_share_is_a_beta_variable(concentration: float) -> None:
    """Beta(c s, c (1 - s)); Kolmogorov and Smirnov's test, of a fixed seed. In the sparse one, where it is neither end."""
    found = drawn(Dirichlet(STATED, concentration))[:, 1]
    law = stats.beta(concentration * 0.2, concentration * 0.8)
    low, high = law.cdf(1e-9), law.cdf(1 - 1e-9)
    inner = found[(found > 1e-9) & (found < 1 - 1e-9)]
    assert len(inner) / N == pytest.approx(high - low, abs=4 * 0.5 / math.sqrt(N))
    assert stats.kstest((law.cdf(inner) - low) / (high - low), "uniform").pvalue > LEAST


@pytest.mark.parametrize("parts", [2, 3, 6, 12])
def test_the_simplex_has_the_moments_of_uniform_weights(parts: int) -> None:
    """Mean 1/m, variance (m - 1) / (m^2 (m + 1)), covariance -1 / (m^2 (m + 1)): the Dirichlet with all shapes 1.

    Source of the closed form as above (from memory).
    """
    found = drawn(Simplex(1.0, parts))
    covariance = (np.eye(parts) / parts - 1 / parts**2) / (parts + 1)
    np.testing.assert_allclose(found.mean(axis=0), 1 / parts, atol=4.5 * math.sqrt(covariance[0, 0] / N))
    np.testing.assert_allclose(np.cov(found.T), covariance, atol=0.05 * covariance[0, 0])


@pytest.mark.parametrize("parts", [2, 3, 6, 12])
def test_a_weight_on_the_simplex_is_beta_1_m_minus_1(parts: int) -> None:
    """Kolmogorov and Smirnov's test of the first and the last weight, of a fixed seed.

    P(w > t) = (1 - t)^(m - 1): Devroye, Non-Uniform Random Variate Generation, 1986, chapter V (from memory).
    """
    found = drawn(Simplex(2.0, parts)) / 2
    for part in (0, parts - 1):
        assert stats.kstest(found[:, part], stats.beta(1, parts - 1).cdf).pvalue > LEAST


def test_normalised_uniforms_would_be_found_out() -> None:
    """The trap that the simplex rule avoids: they population the middle, and the test above sees it."""
    uniforms = np.random.default_rng(11).random((N, 6))
    crowded = uniforms / uniforms.sum(axis=1, keepdims=True)
    assert stats.kstest(crowded[:, 0], stats.beta(1, 5).cdf).pvalue < 1e-9


def test_weights_in_order_are_always_in_order() -> None:
    """The part named first is the heaviest, and so on."""
    found = drawn(Simplex(1.0, 4, (2, 0, 3, 1)))
    heaviest_first = found[:, [2, 0, 3, 1]]
    assert (np.diff(heaviest_first, axis=1) <= 0).all()


@pytest.mark.parametrize("parts", [2, 4, 7])
def test_weights_in_order_have_the_means_of_ordered_spacings(parts: int) -> None:
    """The k-th largest of m uniform spacings has the mean (1/m) (1/k + ... + 1/m).

    David and Nagaraja, Order Statistics, 3rd edition, 2003, section 6.4 (from memory); the same numbers are the rank-order
    centroid, the vertices' mean of w1 >= w2 >= ... (worked out here: vertices (1, 0, ...), (1/2, 1/2, 0, ...), ...).
    """
    order = tuple(reversed(range(parts)))
    found = drawn(Simplex(1.0, parts, order))[:, order]
    expected = [sum(1 / k for k in range(place, parts + 1)) / parts for place in range(1, parts + 1)]
    vertices = np.tril(np.ones((parts, parts))) / np.arange(1, parts + 1)[:, np.newaxis]
    np.testing.assert_allclose(vertices.mean(axis=0), expected)
    np.testing.assert_allclose(found.mean(axis=0), expected, atol=4.5 * found.std(axis=0).max() / math.sqrt(N))


def test_weights_in_order_are_the_sorted_simplex() -> None:
    """Each place's whole law, of three weights; Kolmogorov and Smirnov's test, of a fixed seed.

    Worked out here: the parts of the simplex where one, two or three given weights exceed t are simplexes of the shares
    (1 - t)^2, (1 - 2 t)^2 and (1 - 3 t)^2 (0 where that is negative), and inclusion and exclusion do the rest.
    """
    found = drawn(Simplex(1.0, 3, (1, 2, 0)))

    def left(t: Array, count: int) -> Array:
        return np.clip(1 - count * t, 0, 1) ** 2

    laws = [
        lambda t: 1 - 3 * left(t, 1) + 3 * left(t, 2) - left(t, 3),
        lambda t: 1 - 3 * left(t, 2) + 2 * left(t, 3),
        lambda t: 1 - left(t, 3),
    ]
    for part, law in zip((1, 2, 0), laws, strict=True):
        assert stats.kstest(found[:, part], law).pvalue > LEAST


BOXES = {
    "at the low ends": ((0.1, 0.2, 0.05), (0.9, 0.9, 0.9)),
    "at the high ends": ((0.0, 0.0, 0.0), (0.5, 0.4, 0.3)),
    "both": ((0.1, 0.25, 0.2), (0.5, 0.4, 0.6)),
    "one wide": ((0.2, 0.2, 0.0), (0.25, 0.3, 1.0)),
    "all of it": ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),
    "four": ((0.1, 0.1, 0.0, 0.2), (0.5, 0.3, 0.4, 0.6)),
}


@pytest.mark.parametrize("name", BOXES)
def test_intervals_are_uniform_where_they_allow(name: str) -> None:
    """Against brute rejection from the whole simplex: each share by a two-sample test, and all second moments."""
    low, high = BOXES[name]
    found = drawn(Intervals(1.0, low, high))
    every = np.random.default_rng(22).dirichlet((1,) * len(low), 1_000_000)
    kept = every[((every >= low) & (every <= high)).all(axis=1)]
    assert len(kept) > 5_000
    assert ((found >= low) & (found <= high)).all()
    for part in range(len(low)):
        assert stats.ks_2samp(found[:, part], kept[:, part]).pvalue > LEAST
    scale = found.std(axis=0).max() ** 2
    np.testing.assert_allclose(np.cov(found.T), np.cov(kept.T), atol=0.05 * scale)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ((0.20, 0.20, 0.20, 0.0), (0.201, 0.201, 0.201, 1.0)),
        ((0.19999, 0.3, 0.1), (0.20001, 0.6, 0.6)),
        ((1 / 6 - 0.002,) * 6, (1 / 6 + 0.002,) * 6),
        ((0.0,) * 12, (1 / 12 + 0.0001,) * 12),
        ((1 / 12 - 0.0001,) * 12, (1.0,) * 12),
        ((0.05,) * 12, (0.14,) * 12),
    ],
    ids=["three pinned", "one pinned", "all pinned", "at the top", "at the bottom", "many"],
)
def test_narrow_intervals_are_drawn_all_the_same(low: tuple[float, ...], high: tuple[float, ...]) -> None:
    """Rejection from the simplex alone would need a million tries for one; every share fills its interval."""
    found = drawn(Intervals(1.0, low, high), n=5000)
    assert ((found >= low) & (found <= high)).all()
    np.testing.assert_allclose(found.sum(axis=1), 1, rtol=1e-12)
    room = np.minimum(high, 1 - sum(low) + np.array(low)) - np.maximum(low, 1 - sum(high) + np.array(high))
    assert ((found.max(axis=0) - found.min(axis=0)) > 0.3 * room).all()


def test_pinned_intervals_are_uniform_in_their_box() -> None:
    """With three shares pinned and one free, the three are independent and uniform."""
    low, high = np.array([0.2, 0.1, 0.3]), np.array([0.21, 0.12, 0.33])
    found = drawn(Intervals(1.0, (*low, 0.0), (*high, 1.0)))
    inside = (found[:, :3] - low) / (high - low)
    for part in range(3):
        assert stats.kstest(inside[:, part], "uniform").pvalue > LEAST
    assert np.abs(np.corrcoef(inside.T) - np.eye(3)).max() < 0.03


def test_intervals_without_room_are_refused() -> None:
    """The low ends add to more than 1: nothing can fall between, and the draw says so instead of going on."""
    with pytest.raises(ValueError, match="so little room that draws do not fall into it"):
        Intervals(1.0, (0.6, 0.6), (0.9, 0.9)).draw(1, np.random.default_rng(1))


def test_intervals_have_no_columns() -> None:
    """They are drawn by rejection, which takes as many random numbers as it takes."""
    rule = RULES["intervals"]
    assert rule.columns == 0
    with pytest.raises(NotImplementedError, match="drawn by rejection, from a generator"):
        rule.weights(np.empty((1, 0)))


@pytest.mark.parametrize(
    ("rule", "separate", "says"),
    [
        (RULES["factor"], True, "times a factor, uniform 0.7 to 1.3, then rescaled to the stated sum"),
        (
            RULES["plus or minus"],
            True,
            "share plus or minus up to 0.15, uniform, not below 0, then rescaled to the stated sum",
        ),
        (RULES["dirichlet"], False, "Dirichlet about the stated shares, concentration 20"),
        (RULES["simplex"], False, "uniform on the simplex"),
        (RULES["simplex in order"], False, "uniform on the simplex, in the stated order of weight"),
        (
            RULES["intervals"],
            False,
            "uniform on the simplex with shares within 10-50 %, 10-30 %, 0-40 %, 20-60 %",
        ),
    ],
    ids=["factor", "plus or minus", "dirichlet", "simplex", "in order", "intervals"],
)
def test_each_rule_says_itself(rule: WeightRule, separate: bool, says: str) -> None:
    """And whether each weight is a factor of its own."""
    assert (rule.says, rule.separate) == (says, separate)
