"""Ranks: places in a table, with the tie rule that the formula states."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Unrounded values that agree in 12 significant digits are tied: what lies beyond is the dust of binary arithmetic.
DIGITS = 12


def rank(values: ArrayLike, best: str = "highest", ties: str = "shared-best") -> NDArray[np.float64]:
    """The place of each value, 1 for the best; NaN for NaN.

    Parameters
    ----------
    values : array, shape (products,)
    best : "highest" or "lowest"
    ties : "shared-best" (1, 2, 2, 4), "shared-mean" (1, 2.5, 2.5, 4) or "dense" (1, 2, 2, 3)
    """
    numbers = np.asarray(values, float)
    places = np.full(numbers.shape, np.nan)
    known = ~np.isnan(numbers)
    clean = significant(numbers[known])
    ordered, index, counts = np.unique(-clean if best == "highest" else clean, return_inverse=True, return_counts=True)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]]) + 1.0 if len(ordered) else np.empty(0)
    by_tie = {
        "shared-best": first,
        "shared-mean": first + (counts - 1) / 2,
        "dense": np.arange(1.0, len(ordered) + 1),
    }
    places[known] = by_tie[ties][index]
    return places


def rank_rows(values: NDArray[np.float64], best: str = "highest", ties: str = "shared-best") -> NDArray[np.float64]:
    """The places of each row's values, as `rank` gives them row by row.

    Parameters
    ----------
    values : ndarray, shape (draws, products); NaN has no place

    Returns
    -------
    ndarray, shape (draws, products)

    Notes
    -----
    Rounding to 12 digits, which decides ties, is done only in rows where two neighbours are that near.
    """
    keys = -values if best == "highest" else values
    order = np.argsort(keys, axis=1)
    ordered = np.take_along_axis(keys, order, axis=1)
    places = np.empty(values.shape)
    np.put_along_axis(places, order, np.arange(1.0, values.shape[1] + 1)[np.newaxis], axis=1)
    gaps = ordered[:, 1:] - ordered[:, :-1]
    near = (gaps <= 2 * 10.0 ** (1 - DIGITS) * np.abs(ordered[:, 1:])).any(axis=1)
    if near.any():
        shared = _shared(significant(ordered[near]), ties)
        tied = np.empty(shared.shape)
        np.put_along_axis(tied, order[near], shared, axis=1)
        places[near] = tied
    places[np.isnan(values)] = np.nan
    return places


def _shared(ordered: NDArray[np.float64], ties: str) -> NDArray[np.float64]:
    """The places of sorted rows whose equal values are tied."""
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


def significant(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values rounded to 12 significant digits."""
    with np.errstate(divide="ignore"):
        magnitude = np.where(values == 0, 0.0, np.floor(np.log10(np.abs(np.where(values == 0, 1.0, values)))))
    scale = 10.0 ** (DIGITS - 1 - magnitude)
    return np.asarray(np.round(values * scale) / scale)
