"""Variance-based sensitivity: first-order and total indices of many outputs at once, with intervals.

They are estimated from sums by block of a design (`block_sums`): independent scrambles of the Sobol' sequence, so that the
scatter between blocks measures the error of the estimates. A bootstrap over the rows of one scrambled sequence does not: its
points are not independent, and its intervals come out far too wide for smooth outputs (a test records both).

References: [1] Saltelli, Annoni, Azzini, Campolongo, Ratto, Tarantola, Variance based sensitivity analysis of model output,
Computer Physics Communications 181, 2010, table 2 (b): first order. [2] Jansen, Analysis of variance designs for model
output, Computer Physics Communications 117, 1999, as table 2 (f) of [1]: total. [3] Saltelli, Making best use of model
evaluations to compute sensitivity indices, Computer Physics Communications 145, 2002: second order. [4] Hesterberg, What
teachers should know about the bootstrap, The American Statistician 69, 2015: percentile intervals widened for few blocks.
(All from memory; the tests hold the estimates to SALib's on the same sample and to closed forms.)
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from analysis.ordered_sums import matrix_product
from analysis.sensitivity.block_sums import BLOCKS, Sums, near_mean

__all__ = ["BLOCKS", "Indices", "Sums", "indices", "near_mean"]
Array = NDArray[np.float64]
#: An output whose variance is below this share of its squared size does not react.
STILL = 1e-20
#: A resample in which an output varies by less than this share of its whole variance holds one value and rounding.
DUST = 1e-9
#: So many resampled indices are held at a time.
HELD = 1 << 22


@dataclass(frozen=True, slots=True, eq=False)
class Indices:
    """Sensitivity indices, shape (swaps, q), with the ends of their intervals; NaN where an output does not react.

    second: shape (pairs, q), or None; reacts: shape (q,); lost: how many values of an output were not finite, shape (q,);
    variance and mean: of the outputs over both base samples, shape (q,); of an output that is lost in some draws there is no
    variance, and the mean is over the others, which are `known` of the draws, as a share.
    """

    first: Array
    first_low: Array
    first_high: Array
    total: Array
    total_low: Array
    total_high: Array
    second: Array | None
    second_low: Array | None
    second_high: Array | None
    mean: Array
    variance: Array
    reacts: NDArray[np.bool_]
    lost: NDArray[np.int64]
    known: Array
    rows: int


def indices(
    sums: Sums,
    *,
    design: str,
    resamples: int = 500,
    level: float = 0.95,
    rng: np.random.Generator,
    of: slice = slice(None),
) -> Indices:
    """The indices that sums stand for, with intervals by bootstrap over the blocks.

    Parameters
    ----------
    design : the hash of the design that the indices are wanted of
    resamples : how many times the blocks are drawn again; level : of the two-ended intervals, each output by itself
    of : the outputs looked at

    Raises
    ------
    ValueError
        The sums are of another design, or some swap has not been taken in for every row.

    Notes
    -----
    First order: mean of f(B) (f(AB) - f(A)) / V [1]; total: mean of (f(A) - f(AB))^2 / 2V [2]; outputs are centred by their
    mean over all rows, V is the variance over A and B together. The interval's percentiles are those of [4]: the
    normal probability of t sqrt(n / (n - 1)) with t from n - 1 degrees of freedom, n blocks. A resample in which an output
    does not move tells nothing of its indices: it counts as 0 at the low end and as 1 at the high end.

    Examples
    --------
    Of 3 x1 + 4 x2, with x1 and x2 independent and alike, x1 makes 9 / 25 of the variance and x2 the other 16 / 25.

    >>> from analysis.sensitivity.design import sobol_points
    >>> sums = Sums(np.array([3.5]), n_swaps=2, design="3 x1 + 4 x2")
    >>> blocks = [sobol_points(2, 256, seed) for seed in range(sums.n_blocks)]
    >>> a, b = (np.concatenate(sample) for sample in zip(*blocks, strict=True))
    >>> linear = np.array([[3.0], [4.0]])
    >>> base = sums.add_base(a @ linear, b @ linear, design="3 x1 + 4 x2")
    >>> for swap in (0, 1):
    ...     swapped = np.where(np.arange(2) == swap, b, a)
    ...     _ = sums.add_swap(swap, swapped @ linear, *base)
    >>> found = indices(sums, design="3 x1 + 4 x2", rng=np.random.default_rng(1))
    >>> found.first[:, 0].round(2), found.total[:, 0].round(2)
    (array([0.36, 0.64]), array([0.36, 0.64]))
    """
    sums.check(design)
    if sums.rows == 0 or (sums.taken != sums.rows).any():
        raise ValueError(f"{sums.rows} rows of each block, but {sums.taken.tolist()} of them with each swap")
    parts = {name: values[..., of] for name, values in sums.parts.items()}
    whole = np.ones((sums.n_blocks, 1))
    first, total, second, mean, variance = _estimates(parts, sums.rows, whole, sums.paired)
    middle, spread = mean[:, 0] + sums.shift[of], variance[:, 0]
    size = np.maximum(np.abs(middle), np.sqrt(np.maximum(spread, 0)))
    reacts = spread > STILL * np.maximum(size, 1e-300) ** 2
    counts = rng.multinomial(sums.n_blocks, np.full(sums.n_blocks, 1 / sums.n_blocks), size=resamples).T.astype(float)
    ends = _ends(parts, sums.rows, counts, level, sums.paired)
    found: dict[str, Any] = dict.fromkeys(("second", "second_low", "second_high"))
    for name, values, (low, high) in zip(("first", "total", "second"), (first, total, second), ends, strict=False):
        assert values is not None
        found |= {name: values[..., 0], f"{name}_low": low, f"{name}_high": high}
        for array in (values, low, high):
            array[:, ~reacts] = np.nan
    known = sums.known[of]
    with np.errstate(invalid="ignore"):
        middle = np.where(np.isnan(middle), sums.seen[of] / known + sums.shift[of], middle)
    share = known / (2 * sums.rows * sums.n_blocks)
    return Indices(
        **found, mean=middle, variance=spread, reacts=reacts, lost=sums.lost[of], known=share, rows=sums.rows
    )


def _estimates(
    parts: dict[str, Array], rows: int, weights: Array, paired: tuple[int, ...]
) -> tuple[Array, Array, Array | None, Array, Array]:
    """First, total, second, mean and variance for every column of weights (blocks, resamples), shape (..., q, resamples)."""
    n = weights.sum(axis=0) * rows
    mean, variance = _moments(parts, weights, n)
    whole = np.ones((len(weights), 1))
    moves = variance > DUST * _moments(parts, whole, whole.sum(axis=0) * rows)[1]
    centre = _centre(parts, rows)[:, np.newaxis]
    scale = n * np.where(moves & (variance > 0), variance, np.nan)
    d, bd, dd = (_weighted(parts[name], weights) for name in ("d", "bd", "dd"))
    first = (bd - centre * d) / scale
    total = dd / (2 * scale)
    if "cross" not in parts:
        return first, total, None, mean, variance
    cross, ba, a = (_weighted(parts[name], weights) for name in ("cross", "ba", "a"))
    own = np.array(paired, int)
    ab, alone = d[own] + a, first[own]
    j, k = np.array(list(combinations(range(len(paired)), 2)), int).reshape(-1, 2).T
    joint = (cross - centre * (ba[j] + ab[k] - 2 * n * mean)) / scale
    return first, total, joint - alone[j] - alone[k], mean, variance


def _moments(parts: dict[str, Array], weights: Array, n: Array) -> tuple[Array, Array]:
    """Mean (less the shift) and variance of every output over both base samples, shape (q, resamples)."""
    mean = _weighted(parts["a"] + parts["b"], weights) / (2 * n)
    return mean, _weighted(parts["aa"] + parts["bb"], weights) / (2 * n) - mean**2


def _weighted(sums: Array, weights: Array) -> Array:
    """Sums over blocks, shape (..., blocks, q), under weights (blocks, resamples): shape (..., q, resamples)."""
    flat = np.swapaxes(sums, -1, -2).reshape(-1, len(weights))
    return np.asarray(matrix_product(flat, weights).reshape(*sums.shape[:-2], sums.shape[-1], weights.shape[1]))


def _centre(parts: dict[str, Array], rows: int) -> Array:
    """The mean of every output over all rows of the design (less the shift), shape (q,)."""
    a, b = parts["a"].sum(axis=0), parts["b"].sum(axis=0)
    n_swaps, n_blocks, _ = parts["d"].shape
    total = a + b + parts["d"].sum(axis=(0, 1)) + n_swaps * a
    count = n_swaps + 2
    if "ba" in parts:
        total = total + parts["ba"].sum(axis=(0, 1))
        count += len(parts["ba"])
    return np.asarray(total / (count * n_blocks * rows))


def _ends(
    parts: dict[str, Array], rows: int, counts: Array, level: float, paired: tuple[int, ...]
) -> list[tuple[Array, Array]]:
    """Both ends of the intervals of first, total and (where there are pairs) second, in pieces of the outputs."""
    n_blocks, q = parts["a"].shape
    widest = max(len(parts["d"]), len(parts.get("cross", ())), 1)
    step = max(1, HELD // (counts.shape[1] * widest))
    probability = float(ndtr(stdtrit(n_blocks - 1, (1 + level) / 2) * np.sqrt(n_blocks / (n_blocks - 1))))
    pieces: list[list[tuple[Array, Array]]] = []
    for left in range(0, q, step):
        piece = {name: values[..., left : left + step] for name, values in parts.items()}
        found = _estimates(piece, rows, counts, paired)[:3]
        pieces.append([_quantiles(values, probability) for values in found if values is not None])
    return [
        (np.concatenate([low for low, _ in column], axis=1), np.concatenate([high for _, high in column], axis=1))
        for column in zip(*pieces, strict=True)
    ]


def _quantiles(values: Array, probability: float) -> tuple[Array, Array]:
    """The quantiles at 1 - probability and probability over the last axis, interpolated; NaN is 0 below and 1 above."""
    last = values.shape[-1] - 1
    place = probability * last
    inner, share = int(place), place - int(place)
    outer = min(inner + 1, last)
    unknown = np.isnan(values)
    if unknown.any():
        at_least, at_most = (np.sort(np.where(unknown, end, values)) for end in (0.0, 1.0))
    else:
        at_least = at_most = np.sort(values)
    high = at_most[..., inner] * (1 - share) + at_most[..., outer] * share
    low = at_least[..., last - inner] * (1 - share) + at_least[..., last - outer] * share
    return low, high
