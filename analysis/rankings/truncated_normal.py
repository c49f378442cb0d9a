"""The mean of a normal law of which an interval alone is seen, from one value seen in it.

With t = (y - mean) / sd, what lies beside y in the interval is weighed by integrals of exp(-t s - s^2 / 2), the density
relative to the one at y: no difference of two probabilities near 0 or 1 is ever taken, however far in the tail y lies.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erf, erfcx

from scoring.numbers.array_types import Array, Flags

#: Narrower than this, in standard deviations, exp(-s^2 / 2) is 1 to 1e-8 over the whole interval.
NARROW = 1e-4
#: Halvings of a bracket, which leave 1e-18 of it, and doublings in search of one.
HALVINGS, DOUBLINGS = 60, 100


def log_mass_beyond(t: ArrayLike, width: ArrayLike) -> Array:
    """The logarithm of the integral of exp(-t s - s^2 / 2) over s from 0 to `width`.

    Parameters
    ----------
    t : array, finite
    width : array of the same shape, 0 or more, infinite for the whole tail

    Returns
    -------
    array of that shape; -inf where the width is 0

    Notes
    -----
    For t >= 0 by the scaled complementary error function; for t < 0 the interval is turned round, or, where the mean lies in
    it, cut there.

    Examples
    --------
    The whole of a half of the normal law, and a tail whose probability no double holds.

    >>> (np.exp(log_mass_beyond(0.0, np.inf)) / np.sqrt(2 * np.pi)).round(12)
    np.float64(0.5)
    >>> (np.exp(log_mass_beyond(1e6, np.inf)) * 1e6).round(10)
    np.float64(1.0)
    """
    start, reach = np.broadcast_arrays(np.asarray(t, float), np.asarray(width, float))
    found = np.full(start.shape, -np.inf)
    wide = reach > 0
    ahead = wide & (start >= 0)
    found[ahead] = _falling(start[ahead], reach[ahead])
    turned = wide & (start < 0) & (reach <= -start)
    u, w = -start[turned], reach[turned]
    found[turned] = u * w - w**2 / 2 + _falling(u - w, w)
    across = wide & (start < 0) & (reach > -start)
    u, w = -start[across], reach[across]
    found[across] = u**2 / 2 + np.log(np.sqrt(np.pi / 2) * (erf(u / np.sqrt(2)) + erf((w - u) / np.sqrt(2))))
    return found


def _falling(t: Array, width: Array) -> Array:
    """The same for t of 0 or more and a width above 0."""
    narrow = width < NARROW
    thin, wide = np.where(narrow, width, 1.0), np.where(narrow, 1.0, width)
    slope = t * thin
    flat = np.divide(-np.expm1(-slope), slope, out=np.ones_like(slope), where=slope > 0)
    there = np.isfinite(wide)
    w = np.where(there, wide, 1.0)
    beyond = np.where(there, np.exp(-w * (t + w / 2)) * erfcx((t + w) / np.sqrt(2)), 0.0)
    whole = np.sqrt(np.pi / 2) * (erfcx(t / np.sqrt(2)) - beyond)
    return np.where(narrow, np.log(thin) + np.log(flat), np.log(np.where(narrow, 1.0, whole)))


def log_odds(t: ArrayLike, below: ArrayLike, above: ArrayLike) -> Array:
    """log(F / (1 - F)) of a value in a truncated normal law; it rises with t.

    Parameters
    ----------
    t : array, (value - mean) / sd
    below, above : arrays of the same shape, from the value to the ends of what is seen, in sd, 0 or more
    """
    place = np.asarray(t, float)
    with np.errstate(invalid="ignore"):  # -inf less -inf: nothing is seen at all, which the caller has ruled out
        return log_mass_beyond(-place, below) - log_mass_beyond(place, above)


def mean_at(share: ArrayLike, below: ArrayLike, above: ArrayLike, reach: ArrayLike = np.inf) -> Array:
    """By how many standard deviations a value lies above the mean under which a share of the truncated law is below it.

    Parameters
    ----------
    share : array, F of the value, above 0 and below 1: 1/2 for the median-unbiased mean
    below, above : arrays, from the value to the truncation points, in sd, 0 or more, infinite for none
    reach : the law is cut at so many sd to both sides of its own mean too, infinite for none; the answer stays within it

    Returns
    -------
    array, (value - mean) / sd; an infinite one where the value lies on a truncation point and `reach` is infinite

    Notes
    -----
    F falls with the mean (the family has a monotone likelihood ratio), so that the root is found by halving.
    """
    given = (np.asarray(each, float) for each in (share, below, above, reach))
    shares, down, up, most = np.broadcast_arrays(*given)
    if not ((shares > 0) & (shares < 1)).all():
        raise ValueError(f"share: found {shares.min():g} to {shares.max():g}, must be above 0 and below 1")
    wanted = np.log(shares) - np.log1p(-shares)
    stuck = np.isinf(most) & ((down == 0) | (up == 0))
    down_seen, up_seen = np.where(stuck, 1.0, down), np.where(stuck, 1.0, up)

    def is_low(t: Array) -> Flags:
        return np.asarray(log_odds(t, np.minimum(down_seen, most + t), np.minimum(up_seen, most - t)) < wanted)

    low, high = _bracket(is_low, most)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        lower = is_low(middle)
        low, high = np.where(lower, middle, low), np.where(lower, high, middle)
    return np.where(stuck, np.where(down == 0, np.inf, -np.inf), (low + high) / 2)


def _bracket(is_low: Callable[[Array], Flags], reach: Array) -> tuple[Array, Array]:
    """Two values about the root: the ends of what is reached, or, where that is infinite, doubled until they hold it."""
    held = np.isfinite(reach)
    low, high = np.where(held, -reach, -1.0), np.where(held, reach, 1.0)
    for _ in range(DOUBLINGS):
        beyond_low, beyond_high = ~held & ~is_low(low), ~held & is_low(high)
        if not (beyond_low.any() or beyond_high.any()):
            break
        low, high = np.where(beyond_low, 2 * low, low), np.where(beyond_high, 2 * high, high)
    return low, high
