"""Shapley shares: against brute force over all orders, the axioms, sums that are exact, and the coverage of sampled intervals."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.comparison import attribution
from analysis.comparison.attribution import MOST_EXACT, attribute
from analysis.shapley import every_coalition, shapley_shares

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Game = Callable[[Flags], Array]


def game_of(values: Array) -> Game:
    """A game from the values of all coalitions, shape (2 ** players, q)."""
    n_players = int(np.log2(len(values)))

    def game(members: Flags) -> Array:
        return np.asarray(values[members @ (1 << np.arange(n_players))])

    return game


def entangled_game(n_players: int) -> Game:
    """What a player adds hangs on all who are there, in threes; 2 quantities."""
    own = np.random.default_rng(3).normal(size=(n_players, 2))
    return lambda members: np.asarray((members @ own) ** 3 / n_players)


def pairs_game(n_players: int) -> Game:
    """Every two players make something together, and no three do."""
    rng = np.random.default_rng(5)
    alone, together = rng.normal(size=n_players), rng.normal(size=(n_players, n_players))

    def game(members: Flags) -> Array:
        there = members.astype(float)
        return np.asarray(there @ alone + np.einsum("ni,ij,nj->n", there, together, there))[:, np.newaxis]

    return game


def by_all_orders(game: Game, n_players: int) -> Array:
    """The mean over all orders of what each player adds on coming in."""
    shares, orders = 0.0, list(permutations(range(n_players)))
    for order in orders:
        members, before = np.zeros((1, n_players), bool), game(np.zeros((1, n_players), bool))[0]
        added = np.empty((n_players, len(before)))
        for player in order:
            members[0, player] = True
            now = game(members)[0]
            added[player], before = now - before, now
        shares = shares + added
    return np.asarray(shares) / len(orders)


@pytest.mark.parametrize("n_players", [1, 2, 3, 4, 5])
def test_shares_are_the_mean_over_all_orders(n_players: int) -> None:
    """On games whose every coalition has a value of its own; for several quantities at once."""
    rng = np.random.default_rng(n_players)
    for _ in range(4):
        game = game_of(rng.normal(size=(2**n_players, 3)))
        found = attribute(game, n_players, rng)
        assert found.exact
        np.testing.assert_allclose(found.shares, by_all_orders(game, n_players), atol=1e-13)
        np.testing.assert_array_equal(found.low, found.shares)
        np.testing.assert_array_equal(found.high, found.shares)


def test_an_additive_game_gives_everyone_their_own() -> None:
    """Where each adds the same in any company, that is the share: worked out here."""
    own = np.array([[1.0], [-2.5], [0.0], [4.0]])
    found = attribute(lambda members: members @ own + 7.0, 4, np.random.default_rng(0))
    np.testing.assert_allclose(found.shares, own, atol=1e-14)


def test_the_glove_game_has_its_textbook_shares() -> None:
    """One left glove and two right ones, a pair worth 1: 2/3, 1/6, 1/6 (from memory; worked out here over the 6 orders)."""
    found = attribute(
        lambda members: (members[:, :1] & members[:, 1:].any(axis=1, keepdims=True)).astype(float),
        3,
        np.random.default_rng(0),
    )
    np.testing.assert_allclose(found.shares[:, 0], [2 / 3, 1 / 6, 1 / 6], atol=1e-15)


def test_a_dummy_has_no_share_and_equals_share_alike() -> None:
    """A player who adds nothing to any coalition has 0; two who add the same to all have the same."""
    rng = np.random.default_rng(8)
    by_size = rng.normal(size=5)

    def game(members: Flags) -> Array:
        return np.asarray(by_size[members[:, [0, 2, 3, 4]].sum(axis=1)])[:, np.newaxis]

    found = attribute(game, 5, rng).shares[:, 0]
    assert found[1] == 0
    np.testing.assert_allclose(found[[0, 2, 3, 4]], (by_size[4] - by_size[0]) / 4, atol=1e-14)


@pytest.mark.parametrize("n_players", [6, 14], ids=["exact", "sampled"])
def test_shares_add_up_to_the_move(n_players: int) -> None:
    """The sum over players is the full coalition less the empty one, also where orders are sampled."""
    game = entangled_game(n_players)
    found = attribute(game, n_players, np.random.default_rng(1))
    ends = game(np.array([[False] * n_players, [True] * n_players]))
    np.testing.assert_allclose(found.shares.sum(axis=0), ends[1] - ends[0], rtol=0, atol=1e-11)


def test_twelve_players_are_exact_and_thirteen_are_sampled() -> None:
    """The most for which every coalition is worked out."""
    assert MOST_EXACT == 12
    twelve, thirteen = (attribute(entangled_game(n), n, np.random.default_rng(0)) for n in (12, 13))
    assert twelve.exact
    assert not thirteen.exact
    assert (thirteen.high > thirteen.low).all()


def test_no_player_has_no_share() -> None:
    """Two editions that do not differ: no row, as many columns as there are quantities."""
    found = attribute(lambda members: np.zeros((len(members), 4)), 0, np.random.default_rng(0))
    assert found.shares.shape == (0, 4)
    assert found.exact


def test_sampled_intervals_hold_the_exact_shares_as_often_as_they_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """6 players made to sample: over 300 seeds, 95 % intervals of 12 shares hold the exact ones in 92 to 98 % of cases.

    Every seed gives a game of its own, so that the cases do not hang together.
    """
    monkeypatch.setattr(attribution, "MOST_EXACT", 3)
    monkeypatch.setattr(attribution, "PAIRS", 64)
    held = []
    for seed in range(300):
        rng = np.random.default_rng([11, seed])
        values = rng.normal(size=(64, 2))
        found = attribute(game_of(values), 6, rng)
        assert not found.exact
        exact = shapley_shares(values, 6)
        held.append(((found.low <= exact) & (exact <= found.high)).mean())
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def test_an_order_and_its_reverse_are_exact_where_players_work_in_twos(monkeypatch: pytest.MonkeyPatch) -> None:
    """In one of the two orders each of a pair comes in last, so that both halve what they make together: worked out here."""
    exact = attribute(pairs_game(6), 6, np.random.default_rng(0))
    monkeypatch.setattr(attribution, "MOST_EXACT", 3)
    sampled = attribute(pairs_game(6), 6, np.random.default_rng(0))
    np.testing.assert_allclose(sampled.shares, exact.shares, atol=1e-12)
    assert not sampled.exact


def test_the_same_generator_gives_the_same_shares() -> None:
    """Sampling hangs on nothing but its generator."""
    one, other, third = (attribute(entangled_game(13), 13, np.random.default_rng(seed)).shares for seed in (6, 6, 7))
    np.testing.assert_array_equal(one, other)
    assert (one != third).any()


def test_sampled_shares_are_unbiased(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over 200 seeds the mean of one game's sampled shares lies within 4 of its own standard errors of the exact ones."""
    monkeypatch.setattr(attribution, "MOST_EXACT", 2)
    monkeypatch.setattr(attribution, "PAIRS", 8)
    values = np.random.default_rng(2).normal(size=(16, 1))
    found = np.array([attribute(game_of(values), 4, np.random.default_rng(seed)).shares[:, 0] for seed in range(200)])
    error = found.std(axis=0, ddof=1) / np.sqrt(len(found))
    assert (np.abs(found.mean(axis=0) - shapley_shares(values, 4)[:, 0]) < 4 * error).all()


def test_every_coalition_is_there_once() -> None:
    """The k-th holds the players whose bits are set in k; none first, all last."""
    found = every_coalition(4)
    assert found.shape == (16, 4)
    assert [int(row @ (1 << np.arange(4))) for row in found] == list(range(16))


def by_known_orders(values: Array, n_players: int) -> Array:
    """The mean over the orders that pass through known values alone."""
    found = []
    for order in permutations(range(n_players)):
        path = np.concatenate([[0], np.cumsum([1 << player for player in order])])
        if not np.isnan(values[path]).any():
            added = np.empty(n_players)
            added[list(order)] = np.diff(values[path])
            found.append(added)
    return np.mean(found, axis=0)


@pytest.mark.parametrize("holes", [[3], [1, 2], [1, 2, 4, 24, 17], [30, 29, 7]])
def test_orders_through_a_coalition_without_a_value_are_left_out(holes: list[int]) -> None:
    """Shares are means over the other orders, worked again by brute force, and still add up; other quantities stand."""
    values = np.random.default_rng(4).normal(size=(32, 2))
    whole = shapley_shares(values, 5)[:, 1]
    values[holes, 0] = np.nan
    found = shapley_shares(values, 5)
    np.testing.assert_allclose(found[:, 0], by_known_orders(values[:, 0], 5), atol=1e-12)
    assert found[:, 0].sum() == pytest.approx(values[31, 0] - values[0, 0], abs=1e-12)
    np.testing.assert_array_equal(found[:, 1], whole)


def test_a_share_is_unknown_where_no_order_is_known() -> None:
    """No number is made up where an end has no value, or every way is barred."""
    values = np.random.default_rng(4).normal(size=(8, 3))
    values[7, 0] = np.nan
    values[[1, 2, 4], 1] = np.nan
    found = attribute(game_of(values), 3, np.random.default_rng(0)).shares
    assert np.isnan(found[:, :2]).all()
    assert np.isfinite(found[:, 2]).all()


def test_sampled_orders_through_no_value_are_left_out_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sampled shares come near the exact ones over the same orders, add up, and are unknown where no order is known."""
    values = np.random.default_rng(9).normal(size=(32, 2))
    values[[1, 2, 24], 0], values[31, 1] = np.nan, np.nan
    exact = shapley_shares(values, 5)
    monkeypatch.setattr(attribution, "MOST_EXACT", 2)
    monkeypatch.setattr(attribution, "PAIRS", 1024)
    found = attribute(game_of(values), 5, np.random.default_rng(1))
    assert found.shares[:, 0].sum() == pytest.approx(values[31, 0] - values[0, 0], abs=1e-11)
    np.testing.assert_allclose(found.shares[:, 0], exact[:, 0], atol=0.15)
    assert ((found.low[:, 0] < exact[:, 0]) & (exact[:, 0] < found.high[:, 0])).sum() >= 4
    assert np.isnan(found.shares[:, 1]).all()
