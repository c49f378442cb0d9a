"""Which products no weights put first, and who beats whom: about the weighted mean of the parts, without limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Flags, Indices
from scoring.numbers.ordered_sums import matrix_product

#: How near to 0 a margin or a weight counts as 0, as a share of the parts' range.
DUST = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class FirstPlace:
    """Whether some weights from 0 up put a product first, at least jointly.

    state: "can", with `weights` that do it, shape (parts,); "never", with `mix`, shape (products,): shares of other products
    whose mixture is better in every part by `margin` at least; or "undecided", where neither is confirmed by arithmetic.
    """

    state: str
    weights: Array
    mix: Array
    margin: float


def first_places(values: ArrayLike) -> tuple[FirstPlace, ...]:
    """Whether some weighting from 0 up puts each product first, with a certificate either way.

    Parameters
    ----------
    values : array, shape (products, parts), higher being better

    Notes
    -----
    For product k the linear programme: the greatest t with (x_k - x_j)' w >= t for every other j, w >= 0 and sum w = 1. By
    duality it is the least t for which some mixture of the others has no part more than -t above x_k's: below 0, the dual
    is a mixture that beats k in every part, hence under every weighting. Both certificates are worked through again in plain
    arithmetic before they are believed.
    """
    x = np.asarray(values, float)
    span = np.ptp(x, axis=0).max(initial=0.0) or 1.0
    front = np.array([i for i in range(len(x)) if not _beaten_by(x, i).any()], dtype=int)
    return tuple(_first_place(x, k, front[front != k], DUST * float(span)) for k in range(len(x)))


def _first_place(x: Array, k: int, rivals: Indices, dust: float) -> FirstPlace:
    n_parts = x.shape[1]
    nothing, nobody = np.full(n_parts, np.nan), np.zeros(len(x))
    if not len(rivals):
        return FirstPlace("can", np.full(n_parts, 1 / n_parts), nobody, 0.0)
    ahead = x[rivals] - x[k]
    bounds = [(0, None)] * n_parts + [(None, None)]
    found = scipy.optimize.linprog(
        np.append(np.zeros(n_parts), -1.0),
        A_ub=np.column_stack([ahead, np.ones(len(rivals))]),
        b_ub=np.zeros(len(rivals)),
        A_eq=np.append(np.ones(n_parts), 0.0)[None],
        b_eq=[1.0],
        bounds=bounds,
        method="highs",
    )
    if found.status != 0:
        return FirstPlace("undecided", nothing, nobody, float("nan"))
    weights = np.maximum(found.x[:-1], 0.0)
    weights = weights / weights.sum()
    if float(matrix_product(ahead, weights).max()) <= dust:
        return FirstPlace("can", weights, nobody, 0.0)
    mix = nobody.copy()
    mix[rivals] = np.maximum(-found.ineqlin.marginals, 0.0)
    mix = mix / mix.sum() if mix.sum() > 0 else mix
    margin = float((matrix_product(mix, x) - x[k]).min()) if mix.sum() > 0 else float("nan")
    if margin > dust:
        return FirstPlace("never", nothing, mix, margin)
    return FirstPlace("undecided", nothing, nobody, float("nan"))


def _beaten_by(x: Array, product_: int) -> Flags:
    """The products that are at least as good in every part and better in one, shape (products,)."""
    found: Flags = np.all(x >= x[product_], axis=1) & np.any(x > x[product_], axis=1)
    return found


def dominated(values: ArrayLike) -> tuple[tuple[int, ...], ...]:
    """For each product, those that it beats: it is at least as good in every part, and better in one.

    Parameters
    ----------
    values : array, shape (products, parts), higher being better
    """
    x = np.asarray(values, float)
    return tuple(tuple(np.flatnonzero(np.all(row >= x, axis=1) & np.any(row > x, axis=1)).tolist()) for row in x)
