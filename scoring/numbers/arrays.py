"""What the kernel calls: array functions that numpy has no word for. Shapes are (draws or 1, products); NaN stays NaN."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import reduce
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Flags
from scoring.numbers.rounding import cleaned

#: Two floats further apart than this share of one of them stand for different decimals of 13 significant digits.
APART = 2e-12
COMPARISONS: dict[str, Callable[[Array, Array], Flags]] = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "==": np.equal,
    "!=": np.not_equal,
}


def over(a: ArrayLike, b: ArrayLike) -> Array:
    """a / b, element by element, of the common shape of the two; NaN where b is 0."""
    below = np.asarray(b, float)
    return np.asarray(np.divide(a, np.where(below == 0, np.nan, below)))


def ln(a: ArrayLike) -> Array:
    """The natural logarithm of each element, of the same shape; NaN at 0 and below."""
    inner = np.asarray(a, float)
    return np.asarray(np.log(np.where(inner > 0, inner, np.nan)))


def root(a: ArrayLike) -> Array:
    """The square root of each element, of the same shape; NaN below 0."""
    return np.asarray(np.sqrt(np.asarray(a, float)))


def raised(a: ArrayLike, exponent: ArrayLike) -> Array:
    """a to the power of the exponent, of the common shape of the two; NaN where either is, and for 0 to a power below 0."""
    base, power = np.asarray(a, float), np.asarray(exponent, float)
    none = np.isnan(base) | np.isnan(power) | ((base == 0) & (power < 0))
    return np.where(none, np.nan, np.power(np.where(none, 1.0, base), power))


def compared(a: ArrayLike, sign: str, b: ArrayLike) -> Array:
    """1 where the comparison holds, 0 where it does not, NaN where a side is NaN; of the common shape of the two.

    Each side stands for its decimal of 13 significant digits, as in `rounding`: binary dust decides nothing.
    """
    left, right = np.asarray(a, float), np.asarray(b, float)
    with np.errstate(invalid="ignore"):
        gap = np.abs(left - right)
        near = (gap <= APART * np.abs(right)) & (gap > 0)
    if near.any():
        left, right = (_cleaned_where(near, side) for side in (left, right))
    return np.where(np.isnan(gap), np.nan, COMPARISONS[sign](left, right))


def _cleaned_where(near: Flags, values: Array) -> Array:
    """Values, of which those that lie near to something are cleaned; the others, most of them, cost nothing.

    near : any shape, that of the result; values : a shape that broadcasts to it
    """
    found = np.broadcast_to(values, near.shape).copy()
    found[near] = cleaned(found[near])
    return found


def beside(edges: ArrayLike) -> Array:
    """How far from an edge a number must lie to be told from it for sure, its decimal of 13 significant digits being another.

    Of the shape of `edges`.
    """
    return np.asarray(np.maximum(2 * APART * np.abs(np.asarray(edges, float)), np.finfo(float).tiny))


def reaches(x: Array, edge: ArrayLike) -> Flags:
    """Whether x lies at or above an edge, of the common shape of the two; false for NaN.

    Both stand for their decimals of 13 significant digits.
    """
    return np.asarray(compared(x, ">=", edge) == 1)


def both(*conditions: ArrayLike) -> Array:
    """Whether all of some conditions hold: 0 where one does not, else NaN where one is NaN, else 1; of their common shape.

    Source: Kleene, Introduction to Metamathematics, 1952, section 64, the strong three-valued tables (from memory).
    """
    return np.asarray(reduce(lambda a, b: np.where((a == 0) | (b == 0), 0.0, np.multiply(a, b)), _floats(conditions)))


def either(*conditions: ArrayLike) -> Array:
    """Whether one of some conditions holds: 1 where one does, else NaN where one is NaN, else 0; of their common shape.

    By the same tables as `both`.
    """
    return denied(both(*(denied(each) for each in conditions)))


def denied(condition: ArrayLike) -> Array:
    """Whether a condition does not hold, of the same shape; NaN where it is NaN."""
    return np.asarray(1.0 - np.asarray(condition, float))


def _floats(conditions: Sequence[ArrayLike]) -> list[Array]:
    return [np.asarray(condition, float) for condition in conditions]


def choose(condition: ArrayLike, a: ArrayLike, b: ArrayLike) -> Array:
    """a where the condition holds, b where it does not, NaN where the condition is NaN; of the common shape of the three."""
    holds = np.asarray(condition, float)
    return np.where(np.isnan(holds), np.nan, np.where(holds > 0, a, b))


def segments(x: ArrayLike, xs: Sequence[ArrayLike], ys: Sequence[ArrayLike]) -> Array:
    """A points curve as its first value plus clipped segments, for anchors that vary by draw.

    Parameters
    ----------
    x : shape (draws or 1, products)
    xs, ys : the readings and ratings of the anchors, two or more; each a number or of shape (draws or 1, 1)

    Returns
    -------
    ndarray, shape (draws or 1, products); NaN where a draw puts its anchors out of order
    """
    value: Array = np.asarray(ys[0], float)
    for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
        run = np.subtract(x1, x0)
        slope = np.where(run > 0, np.subtract(y1, y0) / np.where(run > 0, run, 1.0), np.nan)
        value = np.asarray(value + slope * np.clip(np.subtract(x, x0), 0.0, run))
    held = np.clip(np.asarray(x, float), xs[0], xs[-1])
    for at, y in zip(xs, ys, strict=True):  # an anchor's own rating, to the last bit, and beyond the outermost
        value = np.where(np.equal(held, at) & ~np.isnan(value), y, value)
    return value


def beyond(x: ArrayLike, xs: Sequence[ArrayLike], ys: Sequence[ArrayLike]) -> Array:
    """What an extended points curve adds outside its anchors: the first and last slope carried on; shapes as in `segments`."""
    first = np.subtract(ys[1], ys[0]) / np.subtract(xs[1], xs[0])
    last = np.subtract(ys[-1], ys[-2]) / np.subtract(xs[-1], xs[-2])
    below = np.minimum(np.subtract(x, xs[0]), 0.0)
    above = np.maximum(np.subtract(x, xs[-1]), 0.0)
    return np.asarray(first * below + last * above)


def steps(x: ArrayLike, xs: Sequence[float], ys: Sequence[float]) -> Array:
    """The value of the last step that starts at or below x; the first value below them all.

    x and the edges stand for their decimals of 13 significant digits, as in `rounding`.

    Parameters
    ----------
    x : any shape, which is that of the result
    xs, ys : the edges, rising, and the value from each on, numbers; the first edge has no say
    """
    x, edges = np.asarray(x, float), np.asarray(xs[1:], float)
    place = np.searchsorted(edges, x, side="right")
    near = np.searchsorted(edges, x + APART * np.abs(x), side="right") != place
    if near.any():
        place = np.where(near, np.searchsorted(cleaned(edges), _cleaned_where(near, x), side="right"), place)
    return np.where(np.isnan(x), np.nan, np.asarray(ys, float)[place])


def varying_steps(x: ArrayLike, xs: Sequence[ArrayLike], ys: Sequence[ArrayLike]) -> Array:
    """`steps` for edges or values that vary by draw; NaN where a draw puts its edges out of order.

    Shapes are those of `segments`.
    """
    x = np.asarray(x, float)
    value = np.asarray(ys[0], float)
    for before, start, y in zip(xs, xs[1:], ys[1:], strict=False):
        value = np.where(reaches(x, start), y, value)
        value = np.where(np.less_equal(start, before), np.nan, value)
    return np.where(np.isnan(x), np.nan, value)


def monotone_slopes(xs: Sequence[ArrayLike], ys: Sequence[ArrayLike]) -> list[Array]:
    """The slopes at the anchors that keep a cubic monotone between them.

    Inside: 0 where neighbouring secants differ in sign, else their weighted harmonic mean; at the ends a three-point
    formula, held to keep the shape. Source: Fritsch and Butland, A method for constructing local monotone piecewise
    cubic interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304 (from memory); checked against scipy's
    PchipInterpolator in the tests.

    Parameters
    ----------
    xs, ys : the readings and ratings of the anchors, two or more; each a number or of shape (draws or 1, 1)

    Returns
    -------
    one slope an anchor, each of the common shape of the anchors that it comes of
    """
    runs = [np.subtract(b, a) for a, b in pairwise(xs)]
    secants = [np.subtract(b, a) / h for a, b, h in zip(ys, ys[1:], runs, strict=False)]
    if len(secants) == 1:
        return [secants[0], secants[0]]
    inner = []
    for h0, h1, d0, d1 in zip(runs, runs[1:], secants, secants[1:], strict=False):
        w0, w1 = 2 * h1 + h0, h1 + 2 * h0
        turn = d0 * d1 <= 0
        safe0, safe1 = np.where(turn, 1.0, d0), np.where(turn, 1.0, d1)
        inner.append(np.where(turn, 0.0, (w0 + w1) / (w0 / safe0 + w1 / safe1)))
    first = _end_slope(runs[0], runs[1], secants[0], secants[1])
    last = _end_slope(runs[-1], runs[-2], secants[-1], secants[-2])
    return [first, *inner, last]


def _end_slope(h0: Array, h1: Array, d0: Array, d1: Array) -> Array:
    """The slope at an end from the widths h and the secants d of the two pieces next to it, the nearer first.

    0 where its sign would not be that of the nearer secant; where the secants differ in sign, at most three times the nearer
    one. Each of a shape that broadcasts to that of the result.
    """
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    slope = np.where(np.sign(slope) != np.sign(d0), 0.0, slope)
    return np.where((np.sign(d0) != np.sign(d1)) & (np.abs(slope) > 3 * np.abs(d0)), 3 * d0, slope)


def smooth(x: ArrayLike, xs: Sequence[ArrayLike], ys: Sequence[ArrayLike]) -> Array:
    """The monotone cubic through the anchors, held outside them; anchors may vary by draw.

    Shapes are those of `segments`; NaN where a draw puts its anchors out of order.
    """
    slopes = monotone_slopes(xs, ys)
    held = np.clip(np.asarray(x, float), xs[0], xs[-1])
    value = np.full_like(held, np.nan)
    for index in range(len(xs) - 1):
        inside = (held >= xs[index]) & (held <= xs[index + 1])
        ends = ys[index], ys[index + 1]
        piece = hermite(held, xs[index], xs[index + 1], *ends, slopes[index], slopes[index + 1])
        value = np.where(inside, np.clip(piece, np.minimum(*ends), np.maximum(*ends)), value)
    for at, y in zip(xs, ys, strict=True):  # an anchor's own rating, to the last bit
        value = np.where(held == at, y, value)
    ordered = reduce(np.logical_and, (np.greater(b, a) for a, b in pairwise(xs)))  # each of a shape of its own
    return np.where(ordered, value, np.nan)


def hermite(x: Array, x0: ArrayLike, x1: ArrayLike, y0: ArrayLike, y1: ArrayLike, m0: Array, m1: Array) -> Array:
    """The cubic through (x0, y0) and (x1, y1) with slopes m0 and m1 there; of the common shape of all."""
    x0, x1, y0, y1 = (np.asarray(value, float) for value in (x0, x1, y0, y1))
    run = np.subtract(x1, x0)
    t = np.subtract(x, x0) / run
    u = 1 - t
    rise = t * t * (3 - 2 * t)
    return np.asarray(y0 * (1 - rise) + y1 * rise + run * t * u * (m0 * u - np.multiply(m1, t)))


def fixed_smooth(
    x: ArrayLike, xs: Sequence[float], ys: Sequence[float], coefficients: Sequence[Sequence[float]]
) -> Array:
    """`smooth` with its cubics worked out beforehand: the piece is looked up, then one Horner pass.

    Each piece is monotone, so that it lies between the ratings of its anchors, and at the last anchor it is that rating: what
    rounding makes of a cubic there is not let through.

    Parameters
    ----------
    x : any shape, which is that of the result
    xs, ys : the readings and ratings of the anchors, numbers
    coefficients : those of `cubic_coefficients`, shape (4, pieces)
    """
    held, ratings = np.clip(np.asarray(x, float), xs[0], xs[-1]), np.asarray(ys, float)
    place = np.searchsorted(np.asarray(xs[1:-1], float), held, side="right")
    c0, c1, c2, c3 = (np.asarray(c, float)[place] for c in coefficients)
    t = held - np.asarray(xs, float)[place]
    low, high = np.minimum(ratings[:-1], ratings[1:])[place], np.maximum(ratings[:-1], ratings[1:])[place]
    piece = np.clip(c0 + t * (c1 + t * (c2 + t * c3)), low, high)
    return np.asarray(np.where(held == xs[-1], ratings[-1], piece))


def cubic_coefficients(xs: Sequence[float], ys: Sequence[float]) -> tuple[tuple[float, ...], ...]:
    """Four rows of coefficients c0 to c3, shape (4, pieces), in powers of the distance from the piece's left anchor."""
    slopes = [float(m) for m in monotone_slopes(xs, ys)]
    rows = []
    for x0, x1, y0, y1, m0, m1 in zip(xs, xs[1:], ys, ys[1:], slopes, slopes[1:], strict=False):
        h = x1 - x0
        d = (y1 - y0) / h
        rows.append((y0, m0, (3 * d - 2 * m0 - m1) / h, (m0 + m1 - 2 * d) / h**2))
    return tuple(zip(*rows, strict=True))


def nonnegative(x: ArrayLike) -> Array:
    """x where it is 0 or more, and never -0.0, of the same shape.

    NaN below, where a geometric, harmonic or power mean has no meaning.
    """
    x = np.asarray(x, float)
    return np.where(x < 0, np.nan, x + 0.0)


def standing(x: ArrayLike, population: ArrayLike, ties: str) -> Array:
    """The share of the population that x stands above, 0 to 1.

    With L members below x and E equal to it, of n: `mean` (L + E/2)/n, `lowest` (L + 1)/n (L/n where none is equal to it, for
    then nobody holds that place), `highest` (L + E)/n. `lowest` is the percentile rank of the OECD/JRC Handbook on
    Constructing Composite Indicators (2008), Table 15. Values stand for their decimals of 13 significant digits, as in
    `rounding`.

    Parameters
    ----------
    x : array, shape (draws or 1, products)
    population : array, shape (draws or 1, members); NaN members do not count

    Returns
    -------
    ndarray, shape (draws or 1, products); NaN where x is
    """
    x, population = np.atleast_2d(cleaned(x)), np.atleast_2d(cleaned(population))
    draws = max(len(x), len(population))
    rows = np.broadcast_to(x, (draws, x.shape[1]))
    by_row = np.broadcast_to(population, (draws, population.shape[1]))
    share = np.empty(rows.shape)
    for row, own, out in zip(rows, by_row, share, strict=True):
        members = np.sort(own[~np.isnan(own)])
        below = np.searchsorted(members, row, side="left")
        equal = np.searchsorted(members, row, side="right") - below
        counted = {"mean": below + equal / 2, "lowest": below + np.minimum(equal, 1), "highest": below + equal}[ties]
        out[:] = np.where(np.isnan(row), np.nan, counted / max(len(members), 1))
    return share
