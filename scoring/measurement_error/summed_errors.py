"""How the errors of repeats go into the value that sums them up: a median of three is a median of three.

References: [1] H. A. David and H. N. Nagaraja, Order Statistics, 3rd edition, 2003, 2.1 and 2.2: the densities of one and
of two order statistics (from memory). [2] P. J. Huber, Robust Statistics, 1981, chapter 3: the asymptotic variance of a
trimmed mean (from memory).
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from scoring.numbers.array_types import Array

#: From so many repeats on the asymptotic variance does: it is within 1 % of the exact one.
MANY = 40
#: Beyond this many standard deviations a normal density is nothing to reckon with.
REACH = 9.0
NODES = 160
#: Stands for a share of 0 where its logarithm is taken.
TINY = 1e-300


@lru_cache(maxsize=1024)
def variance_factor(begin: int, end: int, count: int) -> float:
    """The variance of the mean of some of the sorted repeats, against that of one reading; normal errors.

    Parameters
    ----------
    begin, end : the sorted readings that count, from `begin` up to `end`, counted from 0
    count : how many there are, 1 or more

    Returns
    -------
    float : 1 / count for the mean of all; 0.4487 for the median of three

    Notes
    -----
    The covariances of the order statistics are integrated from their densities [1]; from `MANY` repeats on, and for what
    lies evenly about the middle, the asymptotic variance [2] is taken.
    """
    kept = end - begin
    if kept == count:
        return 1 / count
    if count >= MANY:
        return _asymptotic((count - kept) / 2 / count) / count
    places = range(begin + 1, end + 1)
    own = sum(_moment(place, place, count) for place in places)
    pairs = sum(_moment(one, other, count) for one in places for other in range(one + 1, end + 1))
    return (own + 2 * pairs) / kept**2


def _moment(one: int, other: int, count: int) -> float:
    """The expected product of two order statistics of `count` standard normal values; places from 1, one <= other.

    For what lies evenly about the middle the means cancel, so that products do for covariances.
    """
    grid = _grid()
    if one == other:
        ways = math.log(count) + _log_choices(count - 1, one - 1)
        logs = ways + (one - 1) * grid.log_below + (count - one) * grid.log_above
        return float((grid.masses * np.exp(logs) * grid.first**2).sum())
    ways = math.lgamma(count + 1) - math.lgamma(one) - math.lgamma(other - one) - math.lgamma(count - other + 1)
    logs = ways + ((one - 1) * grid.log_below)[:, np.newaxis]
    logs = logs + (other - one - 1) * grid.log_between + (count - other) * grid.log_above_second
    return float((grid.pair_masses * np.exp(logs)).sum())


class _Grid(NamedTuple):
    """Nodes of a first and of a greater second standard normal value; logarithms of the shares of the law beside them.

    first, masses, log_below, log_above : shape (NODES,), of the first node; masses: weight times density there
    log_between, log_above_second, pair_masses : shape (NODES, NODES), of both nodes; pair_masses: weight times density at both,
    times both values
    """

    first: Array
    masses: Array
    log_below: Array
    log_above: Array
    log_between: Array
    log_above_second: Array
    pair_masses: Array


@lru_cache(maxsize=1)
def _grid() -> _Grid:
    first, weights = _nodes(-REACH, REACH)
    gaps, gap_weights = _nodes(0.0, 2 * REACH)
    second = first[:, np.newaxis] + gaps
    below, masses = _share_below(first), weights * _density(first)
    between = np.maximum(_share_below(second) - below[:, np.newaxis], TINY)
    pairs = masses[:, np.newaxis] * gap_weights * _density(second) * first[:, np.newaxis] * second
    log_above = np.log(_share_below(-first))
    return _Grid(first, masses, np.log(below), log_above, np.log(between), np.log(_share_below(-second)), pairs)


def _asymptotic(share: float) -> float:
    """count times the variance of a mean of many normal repeats, `share` of them set aside at each end; 1/2 for a median."""
    normal = NormalDist()
    kept = 1 - 2 * share
    if kept < 1e-9:
        return math.pi / 2
    z = normal.inv_cdf(1 - share)
    return (kept - 2 * z * normal.pdf(z) + 2 * share * z**2) / kept**2


def _nodes(low: float, high: float) -> tuple[Array, Array]:
    """Gauss and Legendre's nodes and weights on a stretch, shape (NODES,) each."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    half = (high - low) / 2
    return low + half * (nodes + 1), half * weights


def _share_below(z: Array) -> Array:
    """The share of the standard normal law below each value, of the same shape; never below `TINY`."""
    shares = [0.5 * math.erfc(-one / math.sqrt(2)) for one in z.ravel().tolist()]
    return np.maximum(shares, TINY).reshape(z.shape)


def _density(z: Array) -> Array:
    """The density of the standard normal law at each value, of the same shape."""
    return np.asarray(np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi))


def _log_choices(count: int, some: int) -> float:
    return math.lgamma(count + 1) - math.lgamma(some + 1) - math.lgamma(count - some + 1)
