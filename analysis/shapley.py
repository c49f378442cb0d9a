"""Shapley values of games whose every coalition has been worked out.

Reference: Shapley, A value for n-person games, 1953 (from memory).
"""

from __future__ import annotations

from math import comb

import numpy as np

from scoring.numbers.array_types import Array, Flags


def every_coalition(n_players: int) -> Flags:
    """All sets of players, shape (2 ** n_players, n_players); the k-th holds the players whose bits are set in k."""
    return ((np.arange(2**n_players)[:, np.newaxis] >> np.arange(n_players)) & 1).astype(bool)


def shapley_shares(values: Array, players: int) -> Array:
    """Each player's Shapley share of games given by the value of every coalition.

    Parameters
    ----------
    values : array, shape (2**players,) or (2**players, q)
        The value of the coalition whose members are the bits set in its index; a column for each of q games.

    Returns
    -------
    ndarray, shape (players,) or (players, q); the shares of a game sum to values[-1] - values[0]

    Notes
    -----
    A share is the mean over all orders of what a player adds on coming in. Where some coalitions have no value (NaN), it is the
    mean over the orders that pass through none of these, so that shares still add up; NaN where there is no such order.

    Examples
    --------
    Alone the first player brings 1 and the second 2; together they bring 6. Each adds its own on coming first, and the rest of
    the 6 on coming second: (1 + 4) / 2 and (2 + 5) / 2.

    >>> shapley_shares(np.array([0.0, 1.0, 2.0, 6.0]), players=2)
    array([2.5, 3.5])
    """
    games = values.reshape(len(values), -1)
    index, sizes = np.arange(2**players), every_coalition(players).sum(axis=1)
    shares = np.empty((players, games.shape[1]))
    for player in range(players):
        without = index[(index >> player) & 1 == 0]
        weights = np.array([1 / (players * comb(players - 1, int(size))) for size in sizes[without]])
        added = weights[:, None] * (games[without | (1 << player)] - games[without])
        shares[player] = np.cumsum(added, axis=0)[
            -1
        ]  # term after term: a game alone has the digits that it has among others
    holes = np.isnan(games).any(axis=0) & ~np.isnan(games[[0, -1]]).any(axis=0)
    if holes.any():
        shares[:, holes] = _past_holes(games[:, holes], players)
    return shares.reshape(players, *values.shape[1:])


def _past_holes(values: Array, n_players: int) -> Array:
    """Shares over the orders that pass through known values alone: steps, each by the number of such orders that take it."""
    known, last = ~np.isnan(values), 2**n_players - 1
    to = _orders_to(known, n_players)
    onward = _orders_to(known[::-1], n_players)[::-1]
    index, shares = np.arange(2**n_players), np.empty((n_players, values.shape[1]))
    for player in range(n_players):
        without = index[(index >> player) & 1 == 0]
        taken = to[without] * onward[without | (1 << player)]
        steps = np.nan_to_num(values[without | (1 << player)] - values[without])
        shares[player] = (taken * steps).sum(axis=0)
    with np.errstate(invalid="ignore"):
        return np.asarray(shares / to[last])


def _orders_to(known: Flags, n_players: int) -> Array:
    """In how many orders each coalition is come to from the empty one through known values, shape (2 ** players, q)."""
    index, sizes = np.arange(2**n_players), every_coalition(n_players).sum(axis=1)
    found = np.zeros(known.shape)
    found[0] = known[0]
    for size in range(1, n_players + 1):
        here = index[sizes == size]
        for player in range(n_players):
            there = here[(here >> player) & 1 == 1]
            found[there] += found[there ^ (1 << player)]
        found[here] *= known[here]
    return found
