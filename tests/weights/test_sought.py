"""Wanted shares: what is found is worked out again, what is impossible is attacked, and both have cases worked by hand."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from extent import is_long
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from wanted_campaign import campaign

from analysis.importance.attainable import EFFECTS, VARIANCE, attainable, decided, shares_of
from analysis.importance.sought import (
    FOUND,
    HELD_EFFECTS,
    HELD_NOTHING,
    HELD_WEIGHTS,
    IMPOSSIBLE,
    REFUSED,
    sought_weights,
)

Array = NDArray[np.float64]
NAN = np.nan
#: Two parts that go together, and one by itself.
DEAN = np.array([[1.0, 0, 0], [0, 1, 0.7], [0, 0.7, 1]])
EVEN = np.full(3, 1 / 3)


def test_a_campaign_finds_nothing_false() -> None:
    """Questions by chance: every answer worked out again, every proof and range attacked by dense search."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # weights by chance may cancel
        tally = campaign(seed=7, count=24 if is_long() else 8)
    assert tally.false == []
    assert tally.counts["ranges"] > (3 if is_long() else 0)
    assert tally.counts["ends of ranges that least squares did not come to"] == 0
    states = {name.rsplit(", ", 1)[1] for name in tally.counts if "held" in name}
    assert {FOUND, IMPOSSIBLE} <= states


def test_a_share_of_the_variance_by_hand() -> None:
    """Uncorrelated parts of equal spread: w1^2 / sum w^2 is a half where w1^2 = w2^2 + w3^2, the others alike."""
    found = sought_weights(np.eye(3), EVEN, [0.5, NAN, NAN], VARIANCE, seed=0)
    root = np.sqrt(2)
    assert (found.state, found.held) == (FOUND, HELD_WEIGHTS)
    assert found.weights == pytest.approx(np.array([root, 1, 1]) / (root + 2))
    assert found.gives == pytest.approx([0.5, 0.25, 0.25])


def test_the_two_meanings_are_two_questions() -> None:
    """The lone part of three at 30 %: of the variance and of the summed effects take different weights; by hand.

    With the pair alike, b each: the lone part explains a^2 / V, and each of the pair (1.7 b)^2 / V, V = a^2 + 3.4 b^2.
    """
    of_variance = sought_weights(DEAN, EVEN, [0.3, NAN, NAN], VARIANCE, seed=0)
    of_effects = sought_weights(DEAN, EVEN, [0.3, NAN, NAN], EFFECTS, seed=0)
    for found, ratio in ((of_variance, np.sqrt(0.3 * 3.4 / 0.7)), (of_effects, np.sqrt(0.3 * 2 * 1.7**2 / 0.7))):
        assert found.weights == pytest.approx(np.array([ratio, 1, 1]) / (ratio + 2))
    assert of_effects.held == HELD_EFFECTS
    assert shares_of(of_effects.weights, DEAN, VARIANCE)[0] > 0.4


def test_the_least_share_of_parts_that_all_go_together_is_proved() -> None:
    """All correlations above 0: no weights give a part less than its least squared correlation; 25 % is, 24 % is not."""
    sigma = np.array([[1, 0.5, 0.8], [0.5, 1, 0.6], [0.8, 0.6, 1]])
    assert attainable(sigma, 0, VARIANCE) == pytest.approx((0.25, 1.0))
    least = sought_weights(sigma, [0.6, 0.2, 0.2], [0.25, NAN, NAN], VARIANCE, seed=0)
    assert (least.state, least.held) == (FOUND, HELD_NOTHING)
    assert least.weights == pytest.approx([0, 1, 0], abs=1e-5)
    none = sought_weights(sigma, [0.6, 0.2, 0.2], [0.24, NAN, NAN], VARIANCE, seed=0)
    assert [attempt.state for attempt in none.attempts] == [IMPOSSIBLE, IMPOSSIBLE]
    assert (none.low[0], none.high[0]) == pytest.approx((0.25, 1.0))
    assert none.nearest == pytest.approx([0, 1, 0], abs=1e-4)


def test_the_greatest_share_of_the_summed_effects_is_that_of_a_dense_search() -> None:
    """The range of one part, against a grid of all weights of three parts in steps of a two-hundredth."""
    grid = np.array([[a, b, 200 - a - b] for a in range(201) for b in range(201 - a)]) / 200
    effects = (grid @ DEAN) ** 2
    shares = effects / effects.sum(axis=1, keepdims=True)
    for part in range(3):
        low, high = attainable(DEAN, part, EFFECTS)
        assert low <= shares[:, part].min() <= low + 1e-3
        assert high - 1e-3 <= shares[:, part].max() <= high


def test_nothing_held_is_only_where_proportions_have_no_weights_and_changes_least() -> None:
    """The first part at 0 %: with the others in proportion there are none; the least change is that of a dense search."""
    sigma = np.array([[1, 0.6, -0.4], [0.6, 1, 0], [-0.4, 0, 1]])
    stated = np.array([0.2, 0.5, 0.3])
    found = sought_weights(sigma, stated, [0, NAN, NAN], VARIANCE, seed=0)
    assert [(one.held, one.state) for one in found.attempts] == [(HELD_WEIGHTS, IMPOSSIBLE), (HELD_NOTHING, FOUND)]
    assert sigma[0] @ found.weights == pytest.approx(0, abs=1e-7)
    along = np.linspace(0, 1, 20_001)  # w1 + 0.6 w2 = 0.4 w3, and w1 + w2 + w3 = 1
    second = (0.4 - 1.4 * along) / 1.0
    weights = np.column_stack([along, second, 1 - along - second])
    inside = weights[(weights >= 0).all(axis=1)]
    assert np.linalg.norm(found.weights - stated) == pytest.approx(
        np.linalg.norm(inside - stated, axis=1).min(), abs=1e-3
    )


def test_shares_of_several_parts_that_no_correlations_allow() -> None:
    """Two parts with correlation 0.9 cannot explain 90 % and 10 %: for any score 1 - a2 - b2 - r2 + 2abr is 0 or more."""
    sigma = np.array([[1, 0.9, 0.1], [0.9, 1, 0.2], [0.1, 0.2, 1]])
    wanted = np.array([0.9, 0.1, NAN])
    a, b = np.sqrt(wanted[:2])
    assert 1 - a**2 - b**2 - 0.81 + 2 * a * b * 0.9 < 0
    assert decided(sigma, wanted, VARIANCE).state == "none"
    found = sought_weights(sigma, EVEN, wanted, VARIANCE, seed=0)
    assert found.state == IMPOSSIBLE
    assert found.gives == pytest.approx([NAN] * 3, nan_ok=True)


def test_a_part_that_can_only_be_had_falling_is_said_to_fall() -> None:
    """Weights (9, 1, 2) / 12 make the second part fall as the score rises; asked for what they give, they come back."""
    sigma = np.array([[1, -0.6, -0.3], [-0.6, 1, 0.8], [-0.3, 0.8, 1]])
    weights = np.array([9, 1, 2]) / 12
    found = sought_weights(sigma, EVEN, shares_of(weights, sigma, VARIANCE), VARIANCE, seed=0)
    assert found.weights == pytest.approx(weights, abs=1e-6)
    assert found.against.tolist() == [False, True, False]


def test_a_part_that_does_not_vary_keeps_its_weight_and_has_no_share() -> None:
    """Of the others a share is found beside it; of it, none is worked out."""
    sigma = np.diag([1.0, 0, 4.0])
    found = sought_weights(sigma, EVEN, [0.5, NAN, NAN], VARIANCE, seed=0)
    assert found.weights == pytest.approx([4 / 9, 1 / 3, 2 / 9])
    dust = sigma + np.diag([0, 1e-30, 0])  # a mean of equal figures may differ from them in the last digit
    assert sought_weights(dust, EVEN, [0.5, NAN, NAN], VARIANCE, seed=0).weights == pytest.approx(found.weights)
    refused = sought_weights(sigma, EVEN, [NAN, 0.5, NAN], VARIANCE, seed=0)
    assert refused.state == REFUSED
    assert np.isnan(refused.weights).all()


def test_parts_that_follow_from_each_other_still_have_an_answer() -> None:
    """The same readings twice: a share of the variance is had all the same, where the closed form would be refused."""
    sigma = np.array([[1, 1, 0.3], [1, 1, 0.3], [0.3, 0.3, 1]])
    found = sought_weights(sigma, EVEN, [NAN, NAN, 0.5], VARIANCE, seed=0)
    assert found.state == FOUND
    assert shares_of(found.weights, sigma, VARIANCE)[2] == pytest.approx(0.5)


def test_parts_without_a_weight_have_no_proportions_to_be_held() -> None:
    """The other part has no stated weight: the share asked for is given all the same, and nothing is held."""
    sigma = np.array([[1, 0.2], [0.2, 1]])
    found = sought_weights(sigma, [0, 1], [NAN, 0.6], EFFECTS, seed=0)
    assert (found.state, found.held) == (FOUND, HELD_NOTHING)
    assert found.gives == pytest.approx([0.4, 0.6])


@pytest.mark.parametrize("seed", range(40))
def test_all_weight_on_a_part_is_within_what_it_can_be_given(seed: int) -> None:
    """Whole points, of which some hardly go together: corners far out do not hide that one part alone is the whole score."""
    sigma = np.cov(np.random.default_rng(seed).integers(0, 6, (40, 6)).astype(float).T)
    for part in range(6):
        assert attainable(sigma, part, VARIANCE)[1] == pytest.approx(1)


def test_a_correlation_of_nothing_but_dust_is_none() -> None:
    """All weight on a part gives it all of the variance, whatever 1e-17 stands beside it."""
    sigma = np.array([[3.0, -0.5, 2.3e-17], [-0.5, 2.0, -0.6], [2.3e-17, -0.6, 3.0]])
    assert attainable(sigma, 0, VARIANCE) == pytest.approx((0, 1), abs=1e-9)
    assert attainable(sigma, 2, VARIANCE) == pytest.approx((0, 1), abs=1e-9)


@given(st.integers(0, 10_000), st.sampled_from([VARIANCE, EFFECTS]))
def test_what_some_weights_give_is_never_called_impossible(seed: int, share_of: str) -> None:
    """From weights to the shares of one or two parts, and asked again: there are weights, and they give those shares."""
    rng = np.random.default_rng(seed)
    factor = rng.normal(size=(4, 4))
    sigma = factor @ factor.T + 0.05 * np.eye(4)
    named = rng.choice(4, rng.integers(1, 3), replace=False)
    wanted = np.full(4, NAN)
    wanted[named] = shares_of(rng.dirichlet(np.full(4, 0.5)), sigma, share_of)[named]
    found = decided(sigma, wanted, share_of)
    assert found.state == "found"
    assert (found.weights >= 0).all()
    for weights in found.weights:
        assert shares_of(weights, sigma, share_of)[named] == pytest.approx(wanted[named], abs=1e-5)


def test_too_many_parts_are_not_said_to_be_impossible() -> None:
    """Thirty parts, half of them asked for: nothing is proved, and what a search does not find is called not found."""
    rng = np.random.default_rng(3)
    factor = rng.normal(size=(30, 30))
    sigma, wanted = factor @ factor.T, np.full(30, NAN)
    wanted[:12] = 0.9
    assert decided(sigma, wanted, VARIANCE).state == "open"
    assert np.isnan(attainable(np.eye(900), 0, VARIANCE)).all()


@pytest.mark.parametrize("share_of", [VARIANCE, EFFECTS])
def test_the_same_seed_gives_the_same_weights(share_of: str) -> None:
    """Bit by bit, where a search was needed."""
    sigma = np.array([[1, 0.6, -0.4], [0.6, 1, 0], [-0.4, 0, 1]])
    ones, others = (
        sought_weights(sigma, [0.2, 0.5, 0.3], [0, NAN, NAN], share_of, seed=4).weights.tobytes() for _ in range(2)
    )
    assert ones == others
