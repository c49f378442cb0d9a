"""How much of a score's variance one part tells of by itself, by whatever curve: Var E(y | x) / Var y, the correlation ratio.

E(y | x) is smoothed by a local line: at each point the line that fits best under Gaussian weights of the distance in x. A
narrow bandwidth follows noise, and tells too much; a very wide one gives the square of the correlation. So the ratio is given
over a range of bandwidths, and never one alone.

References: P. Paruolo, M. Saisana and A. Saltelli, Ratings and rankings: voodoo or science?, J. R. Statist. Soc. A 176, 2013,
609-634 (read as arXiv:1104.3009v2): the ratio as a measure of importance, by local-linear kernels. J. Fan and I. Gijbels,
Local Polynomial Modelling and its Applications, 1996 (from memory): the smoother.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: Bandwidths, as multiples of the rule of thumb: half of it, the rule itself, and twice.
FACTORS = (0.5, 1.0, 2.0)
#: The smoother is worked out at so many points at most, and linear between them.
MOST_POINTS = 100
DUST = 1e-10


def bandwidth_range(x: ArrayLike) -> Array:
    """The bandwidths that a part is smoothed by, in its own unit: shape (3,), zeros where it does not vary.

    Notes
    -----
    Multiples of 1.06 s n^(-1/5), with s the standard deviation: the normal rule of B. W. Silverman, Density Estimation, 1986
    (from memory), taken as no more than a starting point.
    """
    found = np.asarray(x, float)
    rule = 1.06 * float(found.std(ddof=1)) * len(found) ** -0.2 if len(found) > 1 else 0.0
    return rule * np.array(FACTORS)


def correlation_ratio(x: ArrayLike, y: ArrayLike, bandwidths: ArrayLike, counts: ArrayLike | None = None) -> Array:
    """Var m(x) / Var y with m the local-linear smooth of y on x, for each bandwidth and each resample.

    Parameters
    ----------
    x, y : arrays, shape (products,)
    bandwidths : array, shape (bandwidths,), above 0, in the unit of x
    counts : array, shape (resamples, products); how often each product is in; each once if not given

    Returns
    -------
    ndarray, shape (resamples, bandwidths); NaN where x or y does not vary. It may pass 1 by the error of the smooth.

    Raises
    ------
    ValueError
        Shapes that do not fit, or a bandwidth that is not above 0.

    Notes
    -----
    With S_k = sum K d^k, T_k = sum K d^k y and d = x_i - x, m(x) = (S_2 T_0 - S_1 T_1) / (S_0 S_2 - S_1^2). Where all the
    weight lies on one value of x no line can be laid, and m is the mean T_0 / S_0; where there is none, the mean of y. More
    than 100 distinct values of x are thinned out to 50 quantiles and 50 even steps, m being linear between them.
    """
    across, up, widths = np.asarray(x, float), np.asarray(y, float), np.asarray(bandwidths, float)
    drawn = np.ones((1, len(across))) if counts is None else np.asarray(counts, float)
    if up.shape != across.shape or across.ndim != 1 or drawn.shape[1:] != across.shape:
        raise ValueError(f"x of shape {across.shape}, y of {up.shape} and counts of {drawn.shape} do not fit")
    if not np.all(widths > 0):
        raise ValueError("a bandwidth is not above 0: there is nothing to smooth over")
    centred = up - up.mean()
    return np.stack([_ratio(across, centred, float(width), drawn) for width in widths], axis=1)


def unrelated_ratio(x: ArrayLike, bandwidths: ArrayLike) -> Array:
    """The ratio to expect, at each bandwidth, of a y that has nothing to do with x: what noise alone gives on so many points.

    Parameters
    ----------
    x : array, shape (products,); bandwidths : array, shape (bandwidths,)

    Returns
    -------
    ndarray, shape (bandwidths,); NaN at a bandwidth of 0

    Notes
    -----
    The smooth is H y, so that the expected ratio of exchangeable values is |C H C|^2 / (n - 1), C taking out the mean.
    """
    across, widths = np.asarray(x, float), np.asarray(bandwidths, float)
    return np.array([_unrelated(across, float(width)) if width > 0 else np.nan for width in widths])


def _unrelated(x: Array, width: float) -> Array:
    """The expected ratio at one bandwidth: the smoother's own matrix, from its local lines."""
    points = _points(x)
    away = (x[:, None] - points) / width
    kernel = np.exp(-0.5 * away**2)
    s0, s1, s2 = kernel.sum(axis=0), (kernel * away).sum(axis=0), (kernel * away**2).sum(axis=0)
    spread = s0 * s2 - s1**2
    sloped = spread > DUST * s0**2
    line = kernel * (s2 - s1 * away) / np.where(sloped, spread, 1.0)
    smoother = _at_products(points, np.where(sloped, line, kernel / s0), x)  # (products that give, products that take)
    centred = smoother - smoother.mean(axis=1, keepdims=True)
    centred = centred - centred.mean(axis=0)
    return np.asarray(np.sum(centred**2) / (len(x) - 1))


def _points(x: Array) -> Array:
    """Where the smoother is worked out: the distinct values, or quantiles for the middle and even steps for the tails."""
    points = np.unique(x)
    if len(points) > MOST_POINTS:
        half = MOST_POINTS // 2
        even = np.linspace(points[0], points[-1], half)
        points = np.unique(np.concatenate([even, np.quantile(points, np.linspace(0, 1, half))]))
    return points


def _ratio(x: Array, y: Array, width: float, counts: Array) -> Array:
    """The ratio of each resample at one bandwidth, shape (resamples,)."""
    points = _points(x)
    smooth = _at_products(points, _smooth(points, x, y, width, counts), x)
    within, whole = _scatter(smooth, counts), _scatter(np.broadcast_to(y, counts.shape), counts)
    varies = _scatter(np.broadcast_to(x, counts.shape), counts) > DUST * float(np.ptp(x)) ** 2
    there = (whole > DUST * float(np.sum(y**2))) & varies
    return np.where(there, within / np.where(there, whole, 1.0), np.nan)


def _smooth(points: Array, x: Array, y: Array, width: float, counts: Array) -> Array:
    """The local-linear fit at each point, shape (resamples, points)."""
    away = (x[:, None] - points) / width
    kernel = np.exp(-0.5 * away**2)
    weighed = counts * y
    moments = np.concatenate([kernel, kernel * away, kernel * away**2], axis=1)
    s0, s1, s2 = np.split(matrix_product(counts, moments), 3, axis=1)
    t0, t1 = np.split(matrix_product(weighed, moments[:, : 2 * len(points)]), 2, axis=1)
    near = s0 > DUST
    spread = s0 * s2 - s1**2
    sloped = near & (spread > DUST * s0**2)
    mean = (weighed.sum(axis=1) / counts.sum(axis=1))[:, None]
    level = np.where(near, t0 / np.where(near, s0, 1.0), mean)
    return np.where(sloped, (s2 * t0 - s1 * t1) / np.where(sloped, spread, 1.0), level)


def _at_products(points: Array, fit: Array, x: Array) -> Array:
    """The fit at each product, linear between points: shape (resamples, products)."""
    if len(points) == 1:
        return np.broadcast_to(fit, (len(fit), len(x)))
    left = np.clip(np.searchsorted(points, x, side="right") - 1, 0, len(points) - 2)
    share = (x - points[left]) / (points[left + 1] - points[left])
    return fit[:, left] * (1 - share) + fit[:, left + 1] * share


def _scatter(values: Array, counts: Array) -> Array:
    """The sum of squares about the mean of each resample, shape (resamples,)."""
    total = counts.sum(axis=1)
    mean = (counts * values).sum(axis=1) / total
    found: Array = (counts * (values - mean[:, None]) ** 2).sum(axis=1)
    return found
