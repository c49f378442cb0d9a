"""Variance-based sensitivity: first-order and total indices of many outputs at once, with intervals.

They are estimated from sums by block of a design (`block_sums`): independent scrambles of the Sobol' sequence, so that the
scatter between blocks measures the error of the estimates. A bootstrap over the rows of one scrambled sequence does not: its
points are not independent, and its intervals come out far too wide for smooth outputs (a test records both).

References: [1] Azzini, Mara, Rosati, Comparison of two sets of Monte Carlo estimators of Sobol' indices, Environmental
Modelling & Software 144, 2021: first order and total (formulas read in the sources of the R package sensobol, R/sobol_indices.R,
commit 0ec2b4ed; the rest from memory). [2] Miller, The jackknife: a review, Biometrika 61, 1974: ratios of sums. [3] Garwood,
Fiducial limits for the Poisson distribution, Biometrika 28, 1936. ([2] and [3] from memory; the tests hold the sums to SALib's
estimates on the same sample, and what the intervals cover to closed forms.)
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, stdtrit

from analysis.indices.block_sums import BLOCKS, Sums, near_mean
from scoring.numbers.array_types import Array, Flags, Integers

__all__ = ["BLOCKS", "Indices", "Sums", "indices", "near_mean"]
Outputs = slice | NDArray[np.intp]
#: An output whose variance is below this share of its squared size does not react.
STILL = 1e-20
#: Blocks in which an output varies by less than this share of its whole variance hold one value and rounding.
DUST = 1e-9
#: Where a sum is that of fewer rows a block than these, blocks cannot tell how seldom such rows are.
SELDOM = 2
#: So many values without one block are held at a time.
HELD = 1 << 20


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
    reacts: Flags
    lost: Integers
    known: Array
    rows: int


def indices(sums: Sums, *, design: str, level: float = 0.95, of: Outputs = slice(None)) -> Indices:
    """The indices that sums stand for, with intervals of the error of the simulation.

    Parameters
    ----------
    design : the hash of the design that the indices are wanted of
    level : of the two-ended intervals, each output by itself
    of : the outputs looked at

    Raises
    ------
    ValueError
        The sums are of another design, or some swap has not been taken in for every row.

    Notes
    -----
    With D the mean of (A - B)^2 + (BA - AB)^2, four times the variance, first order is the mean of 2 (BA - B) (A - AB) over
    D, total that of (A - AB)^2 + (B - BA)^2 over D [1]. Of a pair j and k, AB_k, AB_j, BA_k and BA_j stand to each other
    as A, AB, B and BA do for a swap of both: its closed index follows from the same formula, with no run of its own, and
    second order is what that is more than the two by themselves.

    Intervals are Student's about the estimate with n - 1 degrees of freedom, n blocks, by leaving out one at a time [2]. An
    output that moves in one block alone has intervals that hold 0 and 1. A sum of rows' sizes s is as good as that of
    (sum s)^2 / sum s^2 rows of one size. Where A - B has fewer such rows than there are blocks, they give the degrees of
    freedom. Where a swap moves fewer than two a block, the interval also reaches as far as Poisson's law for their
    number leaves open [3]; where it moves none, as far as for rows of the mean size of A - B.

    Examples
    --------
    Of 3 x1 + 4 x2, with x1 and x2 independent and alike, x1 makes 9 / 25 of the variance and x2 the other 16 / 25.

    >>> from analysis.indices.design import BaseSample
    >>> sums = Sums(np.array([3.5]), n_swaps=2, design="3 x1 + 4 x2")
    >>> a, b = (blocks.reshape(-1, 2) for blocks in BaseSample(2, 0, sums.n_blocks).upto(256))
    >>> linear = np.array([[3.0], [4.0]])
    >>> base = sums.add_base(a @ linear, b @ linear, design="3 x1 + 4 x2")
    >>> for swap in (0, 1):
    ...     one, other = (np.where(np.arange(2) == swap, *sides) for sides in ((b, a), (a, b)))
    ...     _ = sums.add_swap(swap, one @ linear, other @ linear, *base)
    >>> found = indices(sums, design="3 x1 + 4 x2")
    >>> found.first[:, 0].round(2), found.total[:, 0].round(2)
    (array([0.36, 0.64]), array([0.36, 0.64]))
    """
    sums.check(design)
    if sums.rows == 0 or (sums.taken != sums.rows).any():
        raise ValueError(f"{sums.rows} rows of each block, but {sums.taken.tolist()} of them with each swap")
    parts = {name: values[..., of] for name, values in sums.parts.items()}
    mean, variance = _moments(parts, sums.rows)
    middle = mean + sums.shift[of]
    size = np.maximum(np.abs(middle), np.sqrt(np.maximum(variance, 0)))
    reacts = variance > STILL * np.maximum(size, 1e-300) ** 2
    rows = _alike(parts["apart"].sum(axis=0), sums.tails["apart4"][of])
    reach = stdtrit(np.maximum(np.minimum(rows, sums.n_blocks) - 1, 1), (1 + level) / 2)
    seldom = _seldom(sums, parts, level, of)
    found: dict[str, Any] = dict.fromkeys(("second", "second_low", "second_high"))
    for name, (values, low, high) in _estimates(parts, sums.paired, reach).items():
        if name in seldom:
            below, above = seldom[name]
            low, high = np.minimum(low, values - below), np.maximum(high, values + above)
        found |= {name: values, f"{name}_low": low, f"{name}_high": high}
        for array in (values, low, high):
            array[:, ~reacts] = np.nan
    known = sums.known[of]
    with np.errstate(invalid="ignore"):
        middle = np.where(np.isnan(middle), sums.seen[of] / known + sums.shift[of], middle)
    share = known / (2 * sums.rows * sums.n_blocks)
    return Indices(
        **found, mean=middle, variance=variance, reacts=reacts, lost=sums.lost[of], known=share, rows=sums.rows
    )


def _moments(parts: dict[str, Array], rows: int) -> tuple[Array, Array]:
    """Mean (less the shift) and variance of every output over both base samples, shape (q,)."""
    n = 2 * rows * len(parts["a"])
    mean = (parts["a"] + parts["b"]).sum(axis=0) / n
    return mean, (parts["aa"] + parts["bb"]).sum(axis=0) / n - mean**2


def _estimates(parts: dict[str, Array], paired: tuple[int, ...], reach: Array) -> dict[str, tuple[Array, Array, Array]]:
    """First, total and (where there are pairs) second order, each with both ends, `reach` errors away; in pieces."""
    widest = max(len(parts["alone"]), len(parts.get("pairs", ())), 1)
    n_blocks, q = parts["a"].shape
    step = max(1, HELD // (n_blocks * widest))
    pieces: list[dict[str, tuple[Array, Array, Array]]] = []
    for left in range(0, max(q, 1), step):
        piece = {name: values[..., left : left + step] for name, values in parts.items()}
        whole = _ratios({name: values.sum(axis=-2, keepdims=True) for name, values in piece.items()}, paired)
        without = _ratios({name: values.sum(axis=-2, keepdims=True) - values for name, values in piece.items()}, paired)
        far = reach[left : left + step]
        pieces.append({name: _with_ends(whole[name][..., 0, :], without[name], far) for name in whole})
    return {name: _joined([piece[name] for piece in pieces]) for name in pieces[0]}


def _joined(pieces: list[tuple[Array, Array, Array]]) -> tuple[Array, Array, Array]:
    value, low, high = (np.concatenate(column, axis=-1) for column in zip(*pieces, strict=True))
    return value, low, high


def _ratios(sums: dict[str, Array], paired: tuple[int, ...]) -> dict[str, Array]:
    """First, total and second order of sums of shape (..., n, q); NaN where what they are of does not move."""
    scale = sums["apart"] + sums["across"]
    first, total = 2 * sums["alone"], sums["moved"]
    scale = np.where(scale > DUST * scale.max(axis=-2, keepdims=True), scale, np.nan)
    found = {"first": first / scale, "total": total / scale}
    if "pairs" in sums:
        j, k = np.array(list(combinations(paired, 2)), int).reshape(-1, 2).T
        scale = sums["across"][j] + sums["across"][k]
        closed = 2 * sums["pairs"] / np.where(scale > 0, scale, np.nan)
        found["second"] = closed - found["first"][j] - found["first"][k]
    return found


def _with_ends(value: Array, without: Array, reach: Array) -> tuple[Array, Array, Array]:
    """An estimate with both ends of its interval, from estimates without each block, shape (..., blocks, q)."""
    half = reach * np.sqrt((without.shape[-2] - 1) * without.var(axis=-2))
    unknown = np.isnan(half)
    low = np.where(unknown, np.fmin(value, 0.0), value - half)
    high = np.where(unknown, np.fmax(value, 1.0), value + half)
    return value, low, high


def _alike(sizes: Array, squares: Array) -> Array:
    """Of how many rows of one size a sum is, by the sum of their squares; 0 where it is of none."""
    return np.asarray(np.divide(sizes**2, squares, out=np.zeros_like(sizes), where=squares > 0))


def _size(sizes: Array, squares: Array, otherwise: Array) -> Array:
    """The size of these rows."""
    return np.asarray(np.divide(squares, sizes, out=np.array(np.broadcast_to(otherwise, sizes.shape)), where=sizes > 0))


def _seldom(sums: Sums, parts: dict[str, Array], level: float, of: Outputs) -> dict[str, tuple[Array, Array]]:
    """How far first order and total reach below and above their estimates where a swap moved few rows; 0 elsewhere."""
    tails = {name: values[..., of] for name, values in sums.tails.items()}
    apart, moved = parts["apart"].sum(axis=0), parts["moved"].sum(axis=1)
    scale = apart + parts["across"].sum(axis=1)
    scale = np.where(scale > 0, scale, np.nan)
    of_any = _size(moved, tails["moved4"], apart / np.maximum(sums.differing[of], 1))
    of_both = _size(tails["alone1"], tails["alone2"], of_any)
    below, above = _left_open(_alike(moved, tails["moved4"]), level, sums.n_blocks)
    _, either = _left_open(_alike(tails["alone1"], tails["alone2"]), level, sums.n_blocks)
    either = 2 * either * of_both / scale
    return {"first": (either, either), "total": (below * of_any / scale, above * of_any / scale)}


def _left_open(rows: Array, level: float, n_blocks: int) -> tuple[Array, Array]:
    """By how many fewer and more rows the mean may lie beside their number, by Poisson's law; 0 where they are many."""
    tail = (1 - level) / 2
    low = np.where(rows > 0, gammaincinv(np.maximum(rows, 1e-9), tail), 0.0)
    high = gammaincinv(rows + 1, 1 - tail)
    few = rows < SELDOM * n_blocks
    return np.where(few, rows - low, 0.0), np.where(few, high - rows, 0.0)
