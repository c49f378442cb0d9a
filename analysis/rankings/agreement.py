"""How far rankings agree with a reference ranking: one number for each draw.

Ranks are places, 1 for the best; only their order matters, but for `mean_shift`. NaN is a product that has no place. Each draw
is compared over the products that have a place in both rankings, `compared` says how many those are, and a number that they do
not define (fewer than two of them, or all tied) is NaN.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Integers
from scoring.numbers.ordered_sums import matrix_product

#: Numbers in one block of draws: about a megabyte, so that it stays in the cache.
BLOCK = 2**17


def compared(reference: ArrayLike, ranks: ArrayLike) -> Integers:
    """How many products have a place both in the reference and in each draw; shape (draws,)."""
    _, common = _common(reference, ranks)
    return np.asarray((~np.isnan(common)).sum(axis=1), np.int64)


def kendall_tau_b(reference: ArrayLike, ranks: ArrayLike) -> Array:
    """Kendall's rank correlation with ties, tau-b; -1 to 1.

    Parameters
    ----------
    reference : array, shape (products,)
    ranks : array, shape (draws, products)

    Returns
    -------
    array, shape (draws,); NaN where either ranking ties all that are compared

    Raises
    ------
    ValueError
        Where the shapes do not fit or a rank is infinite; so do all functions here.

    Notes
    -----
    (C - D) / sqrt(A B): concordant less discordant pairs, over the pairs not tied in the reference and in the draw.
    Source: M. G. Kendall, The treatment of ties in ranking problems, Biometrika 33, 1945 (from memory).

    Examples
    --------
    Of three pairs none, all, or one stands in the other order: (3 - 0) / 3, (0 - 3) / 3, (2 - 1) / 3.

    >>> kendall_tau_b([1, 2, 3], [[1, 2, 3], [3, 2, 1], [1, 3, 2]]).round(4)
    array([ 1.    , -1.    ,  0.3333])
    """
    return kendall(reference, ranks)[0]


def partial_kendall(reference: ArrayLike, ranks: ArrayLike, p: float = 0.5) -> Array:
    """Kendall's distance between rankings with ties, K^(p): the number of pairs in the other order, a tie counting p.

    Parameters
    ----------
    reference, ranks : as for `kendall_tau_b`
    p : 0 to 1, what a pair counts that is tied in one of the two rankings; it is a metric for 0.5 and more

    Returns
    -------
    array, shape (draws,), 0 or more

    Notes
    -----
    A pair in opposite order counts 1, one tied in exactly one ranking p, one tied in both 0.
    Source: R. Fagin, R. Kumar, M. Mahdian, D. Sivakumar and E. Vee, Comparing partial rankings, SIAM J. Discrete Math. 20(3),
    2006 (from memory).
    """
    return kendall(reference, ranks, p)[1]


def kendall(reference: ArrayLike, ranks: ArrayLike, p: float = 0.5) -> tuple[Array, Array]:
    """`kendall_tau_b` and `partial_kendall`, from one count of the pairs."""
    if not 0 <= p <= 1:
        raise ValueError(f"p: found {p}, must be 0 to 1")
    balance, both_untied, reference_untied, draw_untied = _pairs(*_common(reference, ranks))
    tau = _ratio(balance, np.sqrt(reference_untied * draw_untied))
    return tau, (both_untied - balance) / 2 + p * (reference_untied + draw_untied - 2 * both_untied)


def spearman(reference: ArrayLike, ranks: ArrayLike) -> Array:
    """Spearman's rank correlation: Pearson's, of the mean places of ties; -1 to 1.

    Parameters, returns and errors are those of `kendall_tau_b`. Places are taken anew among the products compared.
    """

    def correlation(expected: Array, found: Array) -> Array:
        x, y = _centred(_places(expected)[1]), _centred(_places(found)[1])
        return _ratio((x * y).sum(axis=1), np.sqrt((x * x).sum(axis=1) * (y * y).sum(axis=1)))

    return _by_block(correlation, *_common(reference, ranks))


def mean_shift(reference: ArrayLike, ranks: ArrayLike) -> Array:
    """Mean number of places by which a product's rank differs from the reference, R_S; shape (draws,).

    Ranks are taken as they stand: where a product has left the table, the shift of those behind it counts, and so does another
    rule for ties.

    Source: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, eq. 38.

    Examples
    --------
    >>> mean_shift([1, 2, 3, 4], [[2, 1, 3, 4]])
    array([0.5])
    """

    def shift(expected: Array, found: Array) -> Array:
        present = ~np.isnan(found)
        total = np.where(present, np.abs(expected - found), 0.0).sum(axis=1)
        return _ratio(total, present.sum(axis=1).astype(float))

    return _by_block(shift, *_common(reference, ranks))


def top_overlap(reference: ArrayLike, ranks: ArrayLike, k: int) -> Array:
    """Share of the first k products in common; 0 to 1, shape (draws,).

    The first k are those with fewer than k better ones, so that all that tie at the edge are in. As the two may then differ
    in number, the share is 2 |A and B| / (|A| + |B|): |A and B| / k without such ties.
    """
    return depth_overlaps(reference, ranks, k)[:, k - 1]


def average_overlap(reference: ArrayLike, ranks: ArrayLike, depth: int) -> Array:
    """Mean of the shares of the first 1, 2, ..., `depth` products in common (`top_overlap`); 0 to 1, shape (draws,)."""
    return np.asarray(depth_overlaps(reference, ranks, depth).mean(axis=1))


def depth_overlaps(reference: ArrayLike, ranks: ArrayLike, depth: int) -> Array:
    """`top_overlap` at each depth 1, ..., `depth`; shape (draws, depth).

    Beyond the number of products compared it is 1, and NaN where there are none.
    """
    expected, found = _common(reference, ranks)
    if not 1 <= depth <= np.size(reference):
        raise ValueError(f"depth: found {depth}, must be 1 to the number of products, {np.size(reference)}")

    def overlaps(expected: Array, found: Array) -> Array:
        first, second = _places(expected)[0], _places(found)[0]
        sizes = _counts(first, depth) + _counts(second, depth)
        return _ratio(2 * _counts(np.maximum(first, second), depth), sizes)

    return _by_block(overlaps, expected, found)


def _common(reference: ArrayLike, ranks: ArrayLike) -> tuple[Array, Array]:
    """Reference and draws over the products that the reference has."""
    expected, found = np.asarray(reference, float), np.asarray(ranks, float)
    if expected.ndim != 1 or found.ndim != 2 or found.shape[1] != len(expected):
        raise ValueError(
            f"ranks: found shape {found.shape} for a reference of shape {expected.shape}, must be (draws, products)"
        )
    for name, values in (("reference", expected), ("ranks", found)):
        if np.isinf(values).any():
            raise ValueError(f"{name}: an infinite rank, must be finite or NaN")
    known = ~np.isnan(expected)
    return expected[known], found[:, known]


def _pairs(reference: Array, ranks: Array) -> tuple[Array, Array, Array, Array]:
    """Counts of pairs of each draw: concordant less discordant, untied in both, in the reference, in the draw."""
    counts = np.zeros((4, len(ranks)))
    for part in _blocks(ranks.shape):
        columns = np.ascontiguousarray(ranks[part].T)
        present = (~np.isnan(columns)).astype(float)
        gaps = not present.all()
        for product in range(len(reference) - 1):
            rest = slice(product + 1, None)
            order = np.sign(reference[product] - reference[rest])
            signs = np.sign(columns[product] - columns[rest])
            if gaps:
                np.nan_to_num(signs, copy=False)  # a pair with an absent product counts for nothing
            untied = np.abs(signs)
            counts[0, part] += matrix_product(order, signs)
            counts[1, part] += matrix_product(np.abs(order), untied)
            counts[2, part] += present[product] * matrix_product(np.abs(order), present[rest])
            counts[3, part] += untied.sum(axis=0)
    return counts[0], counts[1], counts[2], counts[3]


def _places(rows: Array) -> tuple[Array, Array]:
    """Best and mean place of each value in its row; NaN for NaN."""
    order = np.argsort(rows, axis=1)
    ordered = np.take_along_axis(rows, order, axis=1)
    changes = ordered[:, 1:] != ordered[:, :-1]
    edge = np.ones((len(rows), 1), bool)
    position = np.arange(rows.shape[1])
    first = np.maximum.accumulate(np.where(np.hstack([edge, changes]), position, 0), axis=1)
    ends = np.where(np.hstack([changes, edge]), position, rows.shape[1])
    last = np.minimum.accumulate(ends[:, ::-1], axis=1)[:, ::-1]
    best, mean = np.empty(rows.shape), np.empty(rows.shape)
    np.put_along_axis(best, order, np.where(np.isnan(ordered), np.nan, first + 1.0), axis=1)
    np.put_along_axis(mean, order, np.where(np.isnan(ordered), np.nan, (first + last) / 2 + 1.0), axis=1)
    return best, mean


def _counts(places: Array, depth: int) -> Array:
    """How many of a row's places are 1, at most 2, ..., at most `depth`; shape (rows, depth)."""
    bins = np.where(places <= depth, places, depth + 1).astype(np.int64)
    keys = bins + np.arange(len(places))[:, None] * (depth + 2)
    counts = np.bincount(keys.ravel(), minlength=len(places) * (depth + 2)).reshape(len(places), depth + 2)
    return np.cumsum(counts[:, 1 : depth + 1], axis=1).astype(float)


def _centred(values: Array) -> Array:
    """Values less their mean, 0 for NaN."""
    present = ~np.isnan(values)
    filled = np.where(present, values, 0.0)
    mean = filled.sum(axis=1, keepdims=True) / np.maximum(present.sum(axis=1, keepdims=True), 1)
    return np.where(present, filled - mean, 0.0)


def _ratio(above: Array, below: Array) -> Array:
    return np.asarray(np.divide(above, below, out=np.full(above.shape, np.nan), where=below > 0))


def _by_block(measure: Callable[[Array, Array], Array], reference: Array, ranks: Array) -> Array:
    """The measure of all draws, block by block; it takes the reference as rows, NaN where the draw has no place."""
    parts = [measure(np.where(np.isnan(ranks[part]), np.nan, reference), ranks[part]) for part in _blocks(ranks.shape)]
    return np.concatenate(parts)


def _blocks(shape: tuple[int, ...]) -> Iterator[slice]:
    """Slices of the draws; one that is empty where there are none."""
    length = max(1, BLOCK // max(1, shape[1]))
    for start in range(0, max(1, shape[0]), length):
        yield slice(start, min(start + length, shape[0]))
