"""Ranks: places in a table, with the tie rule that the formula states."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Flags

#: Unrounded values that agree in 12 significant digits are tied: what lies beyond is the dust of binary arithmetic.
DIGITS = 12
#: So many last bits of a value may be put to another use, and neighbours fewer last bits apart than NEAR may be tied in 12
#: digits or have changed places by that: 2e-11 of a value is 180,144 of its last bits at most, and two times 2^15 are 65,536.
MOST_BITS, NEAR = 15, 1 << 18
#: Values below this one are rounded as multiples of it.
SMALL = 1e-250
LARGEST = float(np.finfo(float).max)
#: So many values are ranked at a time, that they stay in the cache.
PIECE = 1 << 14


def rank(values: ArrayLike, best: str = "highest", ties: str = "shared-best") -> Array:
    """The place of each value, 1 for the best; NaN for NaN.

    Parameters
    ----------
    values : array, shape (products,)
    best : "highest" or "lowest"
    ties : "shared-best" (1, 2, 2, 4), "shared-mean" (1, 2.5, 2.5, 4) or "dense" (1, 2, 2, 3)

    Examples
    --------
    >>> rank([7.5, 8.1, 7.5, float("nan"), 6.0])
    array([ 2.,  1.,  2., nan,  4.])
    >>> rank([31.5, 26.1, 31.5], best="lowest", ties="shared-mean")
    array([2.5, 1. , 2.5])
    >>> rank([0.1 + 0.2, 0.3])  # apart by binary dust only
    array([1., 1.])
    """
    numbers = np.asarray(values, float)
    places = np.full(numbers.shape, np.nan)
    known = ~np.isnan(numbers)
    clean = significant(numbers[known])
    ordered, index, counts = np.unique(-clean if best == "highest" else clean, return_inverse=True, return_counts=True)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]]) + 1.0
    by_tie = {
        "shared-best": first,
        "shared-mean": first + (counts - 1) / 2,
        "dense": np.arange(1.0, len(ordered) + 1),
    }
    places[known] = by_tie[ties][index]
    return places


def rank_rows(values: Array, best: str = "highest", ties: str = "shared-best") -> Array:
    """The places of each row's values, as `rank` gives them row by row.

    Parameters
    ----------
    values : ndarray, shape (draws, products); NaN has no place

    Returns
    -------
    ndarray, shape (draws, products)

    Notes
    -----
    Sorting values is much quicker than finding the order that sorts them. So the last bits of each value are replaced by
    the number of its column, which is read off again once they are sorted. That is exact where no two neighbours are so near
    that those bits, or the rounding to 12 digits, decide between them; rows with such neighbours are sorted and rounded whole.
    """
    n_rows, n_columns = values.shape
    places = np.empty(values.shape)
    finite = bool(np.isfinite([values.min(initial=0.0), values.max(initial=0.0)]).all())
    step = max(1, min(n_rows, PIECE // max(n_columns, 1)))
    packing = _Packing(step, n_columns)
    for top in range(0, n_rows, step):
        given, out = values[top : top + step], places[top : top + step]
        unknown = None if finite else np.isnan(given)
        keys = _to_keys(given, best, packing.keys[: len(given)])
        near = packing.rank(keys, unknown, out) if n_columns <= 1 << MOST_BITS else np.ones(len(given), bool)
        if near.any():
            out[near] = _rounded(_to_keys(given[near], best), ties)
        if unknown is not None:
            out[unknown] = np.nan
    return places


def _to_keys(values: Array, best: str, out: Array | None = None) -> Array:
    """Keys of which the least is best, and none is -0."""
    return np.asarray(np.subtract(0.0, values, out=out) if best == "highest" else np.add(values, 0.0, out=out))


class _Packing:
    """Ranks some rows at a time by a sort of keys that hold the number of their column in their last bits."""

    def __init__(self, n_rows: int, n_columns: int) -> None:
        self.mask = (1 << max(1, (n_columns - 1).bit_length())) - 1
        self.columns = np.arange(n_columns)
        self.starts = np.arange(n_rows)[:, np.newaxis] * n_columns
        self.in_order = np.tile(np.arange(1.0, n_columns + 1), n_rows)
        self.keys = np.empty((n_rows, n_columns))
        self.gaps = np.empty((n_rows, n_columns), np.int64)

    def rank(self, keys: Array, unknown: Flags | None, places: Array) -> Flags:
        """Write the places of each row's keys, the least being first; true for the rows where that may be wrong, shape (rows,).

        keys : shape (rows, columns), contiguous; overwritten
        unknown : the same shape, where they are NaN, which come last in any order; None if all are finite
        places : the same shape, contiguous; written to
        """
        if unknown is not None:
            huge = (np.abs(keys) > LARGEST / 4).any(axis=1)
            keys[unknown] = LARGEST
            keys[huge] = 0.0
        bits, gaps = keys.view(np.int64), self.gaps[: len(keys)]
        bits &= ~self.mask
        bits |= self.columns
        keys.sort(axis=1)
        flat = bits.reshape(-1)
        np.subtract(flat[1:], flat[:-1], out=gaps.reshape(-1)[1:])  # numbers of one sign are as far apart as their bits
        gaps += NEAR
        near = gaps.view(np.uint64) <= 2 * NEAR
        near[:, :1] = False
        if unknown is not None:
            near &= keys < LARGEST / 2
            near[huge] = True
        bits &= self.mask
        bits += self.starts[: len(keys)]
        places.reshape(-1)[flat] = self.in_order[: flat.size]
        return np.asarray(near.any(axis=1))


def _rounded(keys: Array, ties: str) -> Array:
    """The places of each row's keys, the least being first, by 12 digits."""
    order = np.argsort(keys, axis=1)
    shared = _shared(significant(np.take_along_axis(keys, order, axis=1)), ties)
    places = np.empty(keys.shape)
    np.put_along_axis(places, order, shared, axis=1)
    return places


def _shared(ordered: Array, ties: str) -> Array:
    """The places of sorted rows whose equal values are tied; shape (rows, columns), as that of `ordered`."""
    positions = np.arange(ordered.shape[1])
    opens = np.ones(ordered.shape, bool)
    opens[:, 1:] = ordered[:, 1:] != ordered[:, :-1]
    if ties == "dense":
        return np.asarray(np.cumsum(opens, axis=1), float)
    first = np.maximum.accumulate(np.where(opens, positions, 0), axis=1)
    if ties == "shared-best":
        return np.asarray(first + 1.0)
    closes = np.ones(ordered.shape, bool)
    closes[:, :-1] = opens[:, 1:]
    last = np.minimum.accumulate(np.where(closes, positions, ordered.shape[1])[:, ::-1], axis=1)[:, ::-1]
    return np.asarray((first + last) / 2 + 1.0)


def significant(values: Array) -> Array:
    """Values rounded to 12 significant digits, of the same shape."""
    size = np.abs(values)
    with np.errstate(all="ignore"):
        lifted = np.where(size < SMALL, values / SMALL, values)  # powers of ten of the smallest are beyond floats
        magnitude = np.where(values == 0, 0.0, np.floor(np.log10(np.abs(lifted))))
        scale = 10.0 ** (DIGITS - 1 - magnitude)
        rounded = np.round(lifted * scale) / scale
    return np.where(np.isinf(values), values, np.where(size < SMALL, rounded * SMALL, rounded))
