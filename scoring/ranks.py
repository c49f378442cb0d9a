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


def significant(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values rounded to 12 significant digits."""
    with np.errstate(divide="ignore"):
        magnitude = np.where(values == 0, 0.0, np.floor(np.log10(np.abs(np.where(values == 0, 1.0, values)))))
    scale = 10.0 ** (DIGITS - 1 - magnitude)
    return np.asarray(np.round(values * scale) / scale)
