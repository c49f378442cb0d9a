"""Shapley shares of games: by hand, and as the mean over every order of coming in."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.shapley import every_coalition, shapley_shares

Array = NDArray[np.float64]
NAN = float("nan")


def over_orders(values: Array, players: int) -> Array:
    """The mean of what each adds, over the orders that pass through known values alone."""
    orders = []
    for order in permutations(range(players)):
        path = np.cumsum([0, *(1 << player for player in order)])
        added = np.diff(values[path])
        if not np.isnan(values[path]).any():
            orders.append([added[order.index(player)] for player in range(players)])
    return np.mean(orders, axis=0) if orders else np.full(players, NAN)


def test_coalitions_are_counted_in_binary() -> None:
    """The k-th holds those whose bits are set in k."""
    assert every_coalition(2).tolist() == [[False, False], [True, False], [False, True], [True, True]]
    assert every_coalition(3)[6].tolist() == [False, True, True]
    assert every_coalition(0).shape == (1, 0)


def test_the_game_of_gloves_by_hand() -> None:
    """A left glove and two right ones, a pair being worth 1: the left has 4 of 6 orders, each right 1."""
    #        none, L, R, LR, r, Lr, Rr, LRr
    gloves = np.array([0.0, 0, 0, 1, 0, 1, 0, 1])
    assert shapley_shares(gloves, 3) == pytest.approx([2 / 3, 1 / 6, 1 / 6])


@pytest.mark.parametrize("players", [1, 2, 3, 4])
@pytest.mark.parametrize("absent", [0.0, 0.15, 0.4])
def test_a_share_is_the_mean_over_all_orders_that_are_known(players: int, absent: float) -> None:
    """Six games at once, some values unknown, among them games without holes; one alone is the same."""
    rng = np.random.default_rng([players, round(absent * 100)])
    values = rng.normal(size=(2**players, 6))
    values[rng.random(values.shape) < absent] = NAN
    values[:, 0] = rng.normal(size=2**players)
    shares = shapley_shares(values, players)
    assert shares.shape == (players, 6)
    for game in range(6):
        np.testing.assert_allclose(shares[:, game], over_orders(values[:, game], players), atol=1e-12)
    np.testing.assert_array_equal(shapley_shares(values[:, 5], players), shares[:, 5])
    known = ~np.isnan(shares).any(axis=0)
    np.testing.assert_allclose(shares.sum(axis=0)[known], (values[-1] - values[0])[known], atol=1e-12)


@pytest.mark.filterwarnings("error")
def test_holes_by_hand() -> None:
    """Two players; where {first} is unknown the second came first; where both are, or an end is, there are no shares."""
    games = np.array([[0.0, 1.0, 5.0, 9.0], [0, NAN, 5, 9], [0, NAN, NAN, 9], [NAN, 1, 5, 9], [0, 1, 5, NAN]]).T
    np.testing.assert_array_equal(shapley_shares(games, 2), [[2.5, 4, NAN, NAN, NAN], [6.5, 5, NAN, NAN, NAN]])
