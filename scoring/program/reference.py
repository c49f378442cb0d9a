"""Statistics of a reference population: mean, sd (n - 1), median, percentile, least, greatest."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array
from scoring.numbers.arrays import compared


def statistic_of(statistic: str, values: ArrayLike, share: float = 0.0) -> Array:
    """One statistic over the last axis, which is kept with length 1; missing values do not count.

    Members that agree in 13 significant digits, as ratings do that differ by binary dust alone, are alike: their standard
    deviation is 0, and the greatest is the least.

    Parameters
    ----------
    statistic : "mean", "sd", "median", "percentile", "least", "greatest", or "population" (the values themselves)
    values : array, shape (..., members); NaN means missing
    share : float, 0 to 100
        For "percentile": linear between order statistics, type 7 of Hyndman and Fan, The American Statistician 50 (1996)
        361-365 (from memory).

    Returns
    -------
    ndarray, shape (..., 1); NaN where too few values are there (two for "sd", one for the others)

    Examples
    --------
    >>> statistic_of("sd", [2.0, 4.0, 6.0, float("nan")])
    array([2.])
    >>> statistic_of("percentile", [10.0, 20.0, 30.0, 40.0], share=25)
    array([17.5])
    """
    members = np.asarray(values, float)
    if statistic == "population":
        return members
    counts = np.sum(~np.isnan(members), axis=-1, keepdims=True)
    enough = counts >= (2 if statistic == "sd" else 1)
    if not enough.any():
        return np.full(enough.shape, np.nan)
    safe = np.where(enough, members, 0.0)
    with np.errstate(invalid="ignore"):
        result = _statistic(statistic, safe, share)
    return np.where(enough, result, np.nan)


def _statistic(statistic: str, members: Array, share: float) -> Array:
    """One statistic along the last axis, NaN left out: shape (..., members) to (..., 1)."""
    match statistic:
        case "mean":
            return np.asarray(np.nanmean(members, axis=-1, keepdims=True))
        case "sd":
            spread = np.nanstd(members, axis=-1, ddof=1, keepdims=True)
            least, greatest = _ends(members)
            return np.where(
                least == greatest, 0.0, spread
            )  # the mean of 0.1 and 0.1 and 0.1 is no 0.1, and would leave dust
        case "median":
            return np.asarray(np.nanmedian(members, axis=-1, keepdims=True))
        case "percentile":
            return np.asarray(np.nanpercentile(members, share, axis=-1, keepdims=True))
        case "least":
            return _ends(members)[0]
        case "greatest":
            return _ends(members)[1]
    raise ValueError(f"unknown statistic {statistic!r}")


def _ends(members: Array) -> tuple[Array, Array]:
    """The least and the greatest along the last axis, the same where all are alike: shape (..., members) to (..., 1) each."""
    least = np.asarray(np.nanmin(members, axis=-1, keepdims=True))
    greatest = np.asarray(np.nanmax(members, axis=-1, keepdims=True))
    return least, np.where(compared(greatest, "==", least) == 1, least, greatest)
