"""Wanted importance, first places and dominance: certificates worked through again, and brute force beside them."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import linprog

from analysis.importance.first_places import dominated, first_places
from analysis.importance.importance import covariance_split, weighted_covariances
from analysis.importance.wanted import share_with_weights, wanted_weights

Array = NDArray[np.float64]
#: Every weighting of three parts in steps of a fortieth.
GRID = np.array([[a, b, 40 - a - b] for a in range(41) for b in range(41 - a)]) / 40


@st.composite
def catalogues(draw: st.DrawFn, most: int = 9) -> Array:
    """Products with three parts of whole points, so that there are ties and equal products."""
    rows = st.lists(st.integers(0, 6), min_size=3, max_size=3)
    return np.array(draw(st.lists(rows, min_size=1, max_size=most)), float)


@st.composite
def covariances(draw: st.DrawFn) -> Array:
    """A regular covariance of two to four parts."""
    n = draw(st.integers(2, 4))
    factor = np.array(draw(st.lists(st.lists(st.integers(-3, 3), min_size=n, max_size=n), min_size=n, max_size=n)))
    found: Array = factor @ factor.T + np.diag(np.linspace(0.5, 1, n))
    return found


@given(covariances(), st.integers(0, 10_000))
def test_weights_come_back_from_their_own_importance(sigma: Array, seed: int) -> None:
    """From weights to main effects and back, wherever every part goes along with the score; there is no other solution."""
    weights = np.random.default_rng(seed).dirichlet(np.ones(len(sigma)))
    assume((sigma @ weights > 1e-3).all())
    found = wanted_weights(sigma, covariance_split(weights, sigma).linear)
    assert found.state == "found"
    assert found.weights == pytest.approx(weights, abs=1e-6)


@given(covariances(), st.integers(0, 10_000))
def test_what_is_found_gives_what_was_wanted(sigma: Array, seed: int) -> None:
    """Forward again: the main effects of the solution stand in the wanted proportions, whichever sign they have."""
    wanted = np.random.default_rng(seed).dirichlet(np.ones(len(sigma)))
    found = wanted_weights(sigma, wanted)
    effects = covariance_split(found.weights, sigma).linear
    assert effects / effects.sum() == pytest.approx(wanted, abs=1e-6)
    if found.state in ("found", "against"):
        assert found.weights.min() >= 0
        assert found.weights.sum() == pytest.approx(1)
        assert np.sign(sigma @ found.weights) == pytest.approx(found.signs)
    else:
        assert found.weights.min() < 0


def test_no_weights_means_that_no_weighting_of_a_grid_does() -> None:
    """Brute force: where there are said to be none, squared effects of 861 weightings all miss the wanted proportions."""
    rng, cases = np.random.default_rng(2), 0
    for _ in range(200):
        factor = rng.integers(-3, 4, (3, 3))
        sigma, wanted = factor @ factor.T + np.diag([0.5, 0.7, 1.0]), rng.dirichlet(np.ones(3))
        if wanted_weights(sigma, wanted).state == "none":
            cases += 1
            effects = (GRID @ sigma) ** 2 / np.diag(sigma)  # but for the variance of the score, common to all parts
            assert np.abs(effects / effects.sum(axis=1, keepdims=True) - wanted).max(axis=1).min() > 0.005
    assert cases > 50


def test_a_wanted_importance_that_nothing_gives() -> None:
    """Correlation 0.9: the second R^2 is never under 0.81 of the first, and 1/19 of it is wanted; worked out here.

    g = (1, sqrt(1/19)), and Sigma^-1 g is proportional to (1 - 0.9 sqrt(1/19), sqrt(1/19) - 0.9).
    """
    found = wanted_weights([[1, 0.9], [0.9, 1]], [0.95, 0.05])
    z = np.sqrt(1 / 19)
    assert found.state == "none"
    assert found.every_sign
    assert found.weights == pytest.approx(np.array([1 - 0.9 * z, z - 0.9]) / (0.1 * (1 + z)))


def test_a_solution_with_a_part_that_pulls_against_the_score_is_told_apart() -> None:
    """Weights (9, 1, 2) / 12 make the second part fall as the score rises; without that there are none; worked out here."""
    sigma = np.array([[1, -0.6, -0.3], [-0.6, 1, 0.8], [-0.3, 0.8, 1]])
    weights = np.array([9, 1, 2]) / 12
    assert np.linalg.eigvalsh(sigma).min() > 0.1
    assert sigma @ weights == pytest.approx([0.65, -0.7 / 3, 0.025 / 3])
    found = wanted_weights(sigma, covariance_split(weights, sigma).linear)
    assert found.state == "against"
    assert found.signs.tolist() == [1, -1, 1]
    assert found.weights == pytest.approx(weights)


@pytest.mark.parametrize(
    ("sigma", "condition"),
    [([[1, 1], [1, 1]], 1e15), ([[1, 1 - 1e-8], [1 - 1e-8, 1]], 1e8), ([[1, 0], [0, 0]], np.inf)],
    ids=["the same twice", "nearly the same", "a part that does not vary"],
)
def test_a_covariance_that_is_nearly_singular_is_refused(sigma: list[list[float]], condition: float) -> None:
    """No weights are given, and the condition number says why."""
    found = wanted_weights(sigma, [0.5, 0.5])
    assert found.state == "refused"
    assert np.isnan(found.weights).all()
    assert found.condition >= condition


def test_units_do_not_make_a_covariance_singular() -> None:
    """Parts on scales a million apart are as regular as on one."""
    assert wanted_weights(np.diag([1.0, 1e12]), [0.5, 0.5]).weights == pytest.approx([1e6 / (1 + 1e6), 1 / (1 + 1e6)])


@pytest.mark.parametrize(
    ("wanted", "match"),
    [([1, -1], "from 0 up"), ([0, 0], "not all 0"), ([1, 1, 1], "a covariance of shape")],
    ids=["negative", "nothing", "too many"],
)
def test_wanted_importances_that_make_no_sense_are_refused(wanted: list[float], match: str) -> None:
    """Faults of the caller."""
    with pytest.raises(ValueError, match=match):
        wanted_weights(np.eye(2), wanted)


def test_the_share_of_resamples_is_counted_one_by_one() -> None:
    """All at once as each by itself; a resample of one product repeated has no weights."""
    rng = np.random.default_rng(1)
    values = rng.normal(size=(15, 3)) @ np.array([[1, 0.9, 0.5], [0, 0.5, 0.5], [0, 0, 0.7]])
    counts = np.vstack([rng.multinomial(15, np.full(15, 1 / 15), 200), 15 * np.eye(15)[:1]]).astype(float)
    sigma = weighted_covariances(values, counts)
    wanted = covariance_split([0.5, 0.1, 0.4], np.cov(values.T)).linear
    plain = [wanted_weights(one, wanted).state == "found" for one in sigma]
    assert 0.05 < np.mean(plain) < 0.95
    assert not plain[-1]
    assert share_with_weights(sigma, wanted) == pytest.approx(np.mean(plain))


@given(catalogues())
def test_every_certificate_holds_in_plain_arithmetic(values: Array) -> None:
    """Weights that put a product first do; a mixture of others is better in every part. One or the other is there."""
    for k, found in enumerate(first_places(values)):
        if found.state == "can":
            assert found.weights.min() >= 0
            assert found.weights.sum() == pytest.approx(1)
            assert (values @ found.weights).max() <= values[k] @ found.weights + 1e-8
        else:
            assert found.state == "never"
            assert found.mix.min() >= 0
            assert found.mix[k] == 0
            assert found.mix.sum() == pytest.approx(1)
            assert (found.mix @ values - values[k]).min() == pytest.approx(found.margin)
            assert found.margin > 0


@given(catalogues())
def test_no_weighting_of_a_grid_puts_first_what_none_can(values: Array) -> None:
    """Brute force: whatever is first, jointly too, under one of 861 weightings is said to be possible."""
    scores = values @ GRID.T
    first = (scores >= scores.max(axis=0) - 1e-9).any(axis=1)
    for there, found in zip(first, first_places(values), strict=True):
        assert found.state == "can" or not there


@given(catalogues())
def test_the_margin_is_that_of_the_dual_written_out(values: Array) -> None:
    """A second formulation: the mixture of others that is furthest ahead in its weakest part."""
    for k, found in enumerate(first_places(values)):
        others = np.delete(values, k, axis=0)
        if not len(others):
            continue
        dual = linprog(
            np.append(np.zeros(len(others)), -1.0),
            A_ub=np.column_stack([-(others - values[k]).T, np.ones(3)]),
            b_ub=np.zeros(3),
            A_eq=np.append(np.ones(len(others)), 0.0)[None],
            b_eq=[1.0],
            bounds=[(0, None)] * len(others) + [(None, None)],
        )
        assert (-dual.fun > 1e-7) == (found.state == "never")
        if found.state == "never":
            assert found.margin == pytest.approx(-dual.fun, abs=1e-7)


def test_a_middling_product_is_beaten_by_a_mixture_but_by_no_other() -> None:
    """(4, 4) against (10, 0) and (0, 10): half of each is better by 1 in both parts; worked out here."""
    found = first_places([[10, 0], [4, 4], [0, 10]])
    assert [one.state for one in found] == ["can", "never", "can"]
    assert found[1].mix == pytest.approx([0.5, 0, 0.5])
    assert found[1].margin == pytest.approx(1)
    assert dominated([[10, 0], [4, 4], [0, 10]]) == ((), (), ())


def test_a_product_that_can_only_share_the_first_place_can() -> None:
    """Equal in one part and worse in the other: all weight on the equal one."""
    found = first_places([[5, 3], [5, 1]])
    assert found[1].state == "can"
    assert found[1].weights == pytest.approx([1, 0])


@given(catalogues())
def test_dominance_is_that_of_every_pair(values: Array) -> None:
    """Pair by pair, part by part; equal products do not beat each other, and beating carries on."""
    found = dominated(values)
    pairs = {(a, b) for a, own in enumerate(found) for b in own}
    for a, b in product(range(len(values)), repeat=2):
        plain = all(p >= q for p, q in zip(values[a], values[b], strict=True)) and any(values[a] != values[b])
        assert ((a, b) in pairs) == plain
    assert all((a, c) in pairs for (a, b), (d, c) in product(pairs, pairs) if b == d)


def test_a_chain_is_beaten_down_the_line() -> None:
    """Each beats all after it."""
    found = dominated(np.arange(4)[::-1, None] * np.ones(2))
    assert [len(own) for own in found] == [3, 2, 1, 0]
    assert all(set(lower) < set(upper) for upper, lower in pairwise(found))
