"""Sharing a move out among its causes by Shapley values: exact for few causes, by sampled orders for many.

Reference: Shapley, A value for n-person games, 1953; sampled orders: Castro, Gomez, Tejada, Polynomial calculation of the
Shapley value based on sampling, Computers and Operations Research 36, 2009 (both from memory). Orders are drawn in pairs, each
with its reverse.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from analysis.runs import Block, Executor, Joined, blocks_of, run, serially
from analysis.shapley import every_coalition, shapley_shares
from scoring.numbers.array_types import Array, Flags, Integers

Game = Callable[[Flags], Array]
#: Up to so many causes every coalition is worked out.
MOST_EXACT = 12
PAIRS = 128
#: So many pairs of orders are a block of a run, and so many coalitions where all are worked out.
AT_A_TIME, TOGETHER = 32, 512
LEVEL = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Attribution:
    """Shares of q moves among the causes, shape (players, q); they add up to the moves.

    low, high: the ends of 95 % intervals, where orders were sampled; equal to the shares where they are exact.
    """

    shares: Array
    low: Array
    high: Array
    exact: bool


def attribute(game: Game, n_players: int, rng: np.random.Generator, *, execute: Executor = serially) -> Attribution:
    """Each player's share of what all of them together make of a game.

    Parameters
    ----------
    game : the values of coalitions, each by itself: flags of shape (n, players) to an array of shape (n, q)
    execute : works blocks of coalitions, or of orders, out
    """
    if n_players == 0:
        nothing = np.empty((0, game(np.zeros((1, 0), bool)).shape[1]))
        return Attribution(nothing, nothing, nothing, exact=True)
    if n_players > MOST_EXACT:
        return _sampled(game, n_players, rng, execute)
    every = every_coalition(n_players)
    values = run(Played(game, every), Joined(), blocks_of(len(every), TOGETHER), execute=execute)["values"]
    shares = shapley_shares(values, n_players)
    return Attribution(shares, shares, shares, exact=True)


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """A game's values of coalitions, flags of shape (n, players)."""

    game: Game
    coalitions: Flags

    def pieces(self, block: Block) -> Iterator[dict[str, Array]]:
        """Those of a block, shape (n, q)."""
        yield {"values": self.game(self.coalitions[block.rows])}


@dataclass(frozen=True, slots=True, eq=False)
class InOrder:
    """What every player adds in orders, and in their reverses; orders, shape (pairs, players), are few and drawn at once."""

    game: Game
    orders: Integers

    def pieces(self, block: Block) -> Iterator[dict[str, Array]]:
        """Of some of the orders: what `_contributions` gives."""
        added, known = _contributions(self.game, self.orders[block.rows])
        yield {"added": added, "known": known}


def _sampled(game: Game, n_players: int, rng: np.random.Generator, execute: Executor) -> Attribution:
    """The mean of contributions over orders through known values, with Student's intervals over pairs of orders.

    Of a quantity that some coalitions lack it is a ratio, of contributions to known orders, each summed over pairs.
    """
    orders = np.stack([rng.permutation(n_players) for _ in range(PAIRS)])
    found = run(InOrder(game, orders), Joined(), blocks_of(PAIRS, AT_A_TIME), execute=execute)
    added, known = found["added"], found["known"]
    count = known.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = added.sum(axis=0) / count
        residual = added - shares * known[:, np.newaxis]
        error = np.sqrt(PAIRS / (PAIRS - 1) * (residual**2).sum(axis=0)) / count
    reach = stdtrit(PAIRS - 1, (1 + LEVEL) / 2) * error
    return Attribution(shares, shares - reach, shares + reach, exact=False)


def _contributions(game: Game, orders: Integers) -> tuple[Array, Array]:
    """What every player adds in some orders, shape (pairs, players), and their reverses that pass through known values.

    Returns
    -------
    sums over each pair, shape (pairs, players, q), and how many orders of it are known, shape (pairs, q)
    """
    n_pairs, n_players = orders.shape
    orders = np.stack([orders, orders[:, ::-1]], axis=1)
    place = np.argsort(orders, axis=2)
    members = place[:, :, np.newaxis, :] < np.arange(n_players + 1)[:, np.newaxis]
    coalitions, of = np.unique(members.reshape(-1, n_players), axis=0, return_inverse=True)
    values = game(coalitions)[of.reshape(-1)].reshape(n_pairs, 2, n_players + 1, -1)
    known = np.asarray(~np.isnan(values).any(axis=2, keepdims=True))
    added = np.take_along_axis(np.diff(values, axis=2), place[..., np.newaxis], axis=2)
    return np.where(known, added, 0.0).sum(axis=1), known[:, :, 0].sum(axis=1).astype(float)
