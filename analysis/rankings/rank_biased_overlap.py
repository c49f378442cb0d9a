"""Rank-biased overlap: agreement of two ranked lists, the first places counting most.

A reader who looks at each next place with probability `persistence` sees, on average, that much agreement. Lists may tie, may
end early, and need not hold the same things: what is not seen leaves a range, and a value extrapolated from what is.
Sources: W. Webber, A. Moffat and J. Zobel, A Similarity Measure for Indefinite Rankings, ACM Trans. Inf. Syst. 28(4), 2010
(equations from memory); M. Corsi and J. Urbano, The Treatment of Ties in Rank-Biased Overlap, SIGIR 2024 (definitions read in
the authors' published implementation).
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass
from math import log1p

import numpy as np
from numpy.typing import ArrayLike

from analysis.rankings.agreement import depth_overlaps
from scoring.numbers.array_types import Array, Indices
from scoring.numbers.ordered_sums import matrix_product

Groups = Sequence[Collection[Hashable]]
TIES = ("w", "a", "b")


@dataclass(frozen=True, slots=True)
class Overlap:
    """Rank-biased overlap of two lists, 0 to 1: extrapolated, and its least and most whatever is not seen."""

    extrapolated: float
    least: float
    most: float


@dataclass(frozen=True, slots=True, eq=False)
class _Lists:
    """What each thing contributes to the first d places of each list, shape (things, depths), as deep as the longer one;
    the shorter has `seen` places, and `new` are the things of the longer that it lacks, in order."""

    shorter: Array
    longer: Array
    seen: int
    new: Indices


def tied_groups(names: Sequence[Hashable], ranks: ArrayLike) -> tuple[tuple[Hashable, ...], ...]:
    """A ranking as groups of ties from the best down; what has no rank (NaN) is left out.

    Parameters
    ----------
    names : one for each rank
    ranks : array, shape (names,), 1 for the best
    """
    places = np.asarray(ranks, float)
    if places.shape != (len(names),):
        raise ValueError(f"ranks: found shape {places.shape}, must be one for each of {len(names)} names")
    levels = np.unique(places[~np.isnan(places)])
    return tuple(tuple(names[i] for i in np.flatnonzero(places == level).tolist()) for level in levels)


def overlap_of_lists(first: Groups, second: Groups, persistence: float = 0.9, ties: str = "w") -> Overlap:
    """Rank-biased overlap of two lists that may tie, end early and differ in what they hold.

    Parameters
    ----------
    first, second : groups of ties from the best down; a thing without ties is a group of one
    persistence : above 0 and below 1
    ties : "w", tied things truly have the same place; "a", their order is not known, and the value is the mean over all
        orders; "b", the same, corrected for what the ties hide, so that a list has 1 with itself

    Raises
    ------
    ValueError
        Where a list is empty or holds a thing twice, or a number or word is out of range.

    Notes
    -----
    (1 - p) / p sum_d p^d A_d, A_d the agreement of the first d places: X_d = sum_i c_i c'_i over (n + n') / 2 (w), over d (a),
    or over sqrt(sum c_i^2) sqrt(sum c'_i^2) (b). c_i is how much of thing i is within the first d places: with ties at places
    t to b, 1 from place t on (w), or (d - t + 1) / (b - t + 1) up to 1 at place b (a and b); n = sum c_i.
    Beyond the end of the shorter list, its places hold nothing new (least), the next things of the longer list (most), or
    things of the longer list in the share that agreed where the shorter ended (extrapolated).
    """
    _check(persistence)
    lists = _lists(first, second, ties)
    depth = lists.longer.shape[1]
    scale = _scale(lists, ties)
    held = (lists.shorter * lists.longer).sum(axis=0)
    share = held[lists.seen - 1] / scale[lists.seen - 1]
    weights = persistence ** np.arange(1, depth + 1)
    tails = _tails(persistence, depth, lists.seen, float(held[-1]), float(share))
    sums = [
        float((1 - persistence) / persistence * (np.sum(weights * (held + unseen) / scale) + tail))
        for unseen, tail in zip(_unseen(lists, float(share)), tails, strict=True)
    ]
    return Overlap(*sums)


def agreement_by_depth(first: Groups, second: Groups, ties: str = "w") -> Array:
    """Agreement of the first 1, 2, ... places of two lists, as far as the shorter goes; 0 to 1, shape (places,).

    Its running mean is the average overlap. Parameters are those of `overlap_of_lists`.
    """
    lists = _lists(first, second, ties)
    held = (lists.shorter * lists.longer).sum(axis=0)
    return np.asarray((held / _scale(lists, ties))[: lists.seen])


def rank_biased_overlap(reference: ArrayLike, ranks: ArrayLike, persistence: float = 0.9) -> Array:
    """Rank-biased overlap of each draw's ranking with the reference, where both rank the same products.

    Parameters
    ----------
    reference : array, shape (products,), 1 for the best
    ranks : array, shape (draws, products)
    persistence : above 0 and below 1

    Returns
    -------
    array, shape (draws,), 0 to 1: the extrapolated value of `overlap_of_lists`, which is also the most, ties taken as true
    equality (w). Products without a place in either ranking (NaN) are left out of the draw
    (`analysis.rankings.agreement.compared` says how many stay); NaN where none are left.

    Notes
    -----
    (1 - p) / p sum_{d <= n} p^d A_d + p^n: all n products agree from there on.
    """
    _check(persistence)
    products = np.size(reference)
    if products == 0:
        raise ValueError("reference: found no product, must have one or more")
    overlaps = depth_overlaps(reference, ranks, products)
    weights = (1 - persistence) * persistence ** np.arange(products)
    return matrix_product(overlaps, weights) + persistence**products


def prefix_weight(persistence: float, depth: int) -> float:
    """Share of the weight of rank-biased overlap that the first `depth` places have; 0 to 1.

    Notes
    -----
    1 - p^(d-1) + (1 - p) / p d (ln 1/(1-p) - sum_{i<d} p^i / i): Webber, Moffat and Zobel (2010), eq. 21 (read in a text that
    quotes it).
    """
    _check(persistence)
    if depth < 1:
        raise ValueError(f"depth: found {depth}, must be 1 or more")
    head = 1 - persistence ** (depth - 1)
    return float(head + (1 - persistence) / persistence * depth * _remainder(persistence, depth - 1))


def _check(persistence: float) -> None:
    if not 0 < persistence < 1:
        raise ValueError(f"persistence: found {persistence}, must be above 0 and below 1")


def _remainder(persistence: float, depth: int) -> float:
    """sum over i > depth of p^i / i."""
    i = np.arange(1, depth + 1)
    return -log1p(-persistence) - float(np.sum(persistence**i / i))


def _lists(first: Groups, second: Groups, ties: str) -> _Lists:
    if ties not in TIES:
        raise ValueError(f"ties: found {ties!r}, must be one of {', '.join(TIES)}")
    sides = sorted((_placed("first", first), _placed("second", second)), key=len)
    things = list(dict.fromkeys([*sides[0], *sides[1]]))
    depth = len(sides[1])
    new = [row for row, thing in enumerate(things) if thing not in sides[0]]
    shorter, longer = (_contributions(things, side, depth, ties) for side in sides)
    return _Lists(shorter, longer, len(sides[0]), np.array(new, dtype=np.intp))


def _placed(name: str, groups: Groups) -> dict[Hashable, tuple[int, int]]:
    """First and last place of each thing's group of ties, in order of place."""
    placed: dict[Hashable, tuple[int, int]] = {}
    for group in groups:
        top, bottom = len(placed) + 1, len(placed) + len(group)
        placed.update((thing, (top, bottom)) for thing in group)
        if len(placed) != bottom:
            raise ValueError(f"{name}: holds a thing twice, in {list(group)!r}")
    if not placed:
        raise ValueError(f"{name}: holds nothing")
    return placed


def _contributions(things: list[Hashable], placed: dict[Hashable, tuple[int, int]], depth: int, ties: str) -> Array:
    beyond = (depth + 1, depth + 1)
    top, bottom = np.array([placed.get(thing, beyond) for thing in things], float).T[:, :, None]
    depths = np.arange(1, depth + 1)
    if ties == "w":
        return np.asarray((depths >= top).astype(float))
    return np.asarray(np.clip((depths - top + 1) / (bottom - top + 1), 0.0, 1.0))


def _scale(lists: _Lists, ties: str) -> Array:
    """What full agreement would hold at each depth; beyond its end the shorter list has no ties."""
    depths = np.arange(1, lists.longer.shape[1] + 1, dtype=float)
    if ties == "a":
        return depths
    sides = [contributions**2 for contributions in (lists.shorter, lists.longer)]  # squares of 0 and 1 are the same
    shorter, longer = (side.sum(axis=0) for side in sides)
    shorter = np.where(depths > lists.seen, depths, shorter)
    return np.asarray((shorter + longer) / 2 if ties == "w" else np.sqrt(shorter * longer))


def _unseen(lists: _Lists, share: float) -> tuple[Array, Array, Array]:
    """What the unseen places of the shorter list add at each depth: extrapolated, least, most."""
    depths = lists.longer.shape[1]
    extrapolated, most = np.zeros(depths), np.zeros(depths)
    for column in range(lists.seen, depths):
        within = lists.longer[lists.new, column]
        unseen = column + 1 - lists.seen
        extrapolated[column] = unseen * share * within[within > 0].mean()
        most[column] = within[:unseen].sum()
    return extrapolated, np.zeros(depths), most


def _tails(persistence: float, depth: int, seen: int, held: float, share: float) -> tuple[float, float, float]:
    """sum of p^d A_d beyond the longer list: extrapolated, least, most. A_d stays, or falls as 1/d, or rises to 1."""
    full = depth + seen - round(held)  # no tie is open at the end of both, so that `held` is whole
    steps = np.arange(depth + 1, full + 1)
    rising = float(np.sum(persistence**steps * (2 * steps - depth - seen + held) / steps))
    rest = persistence / (1 - persistence)
    stays = (held + (depth - seen) * share) / depth * persistence**depth * rest
    return stays, held * _remainder(persistence, depth), rising + persistence**full * rest
