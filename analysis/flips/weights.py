"""The least change of weights that turns an order round: one weight, or all of them with their sum kept.

Where the score is linear in its weights, a product is at least equal to a rival if and only if w.d >= 0, d being the
difference of their parts. One weight: w_k changes by -(w.d)/d_k, the others as they stand (E. Triantaphyllou, A. Sanchez, A
sensitivity analysis approach for some deterministic multi-criteria decision-making methods, Decision Sciences 28, 1997; the
formula from memory). All weights: |w.d| / |d - mean(d)| from the stated ones where none turns negative (worked out here); else
a least-distance programme, solved by non-negative least squares (C. L. Lawson, R. J. Hanson, Solving Least Squares
Problems, 1974, ch. 23; from memory), and the least absolute change by a linear programme.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_FLOOR, Decimal

import numpy as np
import scipy

from analysis.flips.contest import TIE
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: Differences of parts below this are none.
DUST = 1e-12
#: What the optimality of a least-distance solution is checked to.
OPTIMAL = 1e-8
#: A search of all weights: rounds, directions a round, points along each.
ROUNDS, DIRECTIONS, POINTS = 8, 600, 24


def one_weight(weights: Array, gaps: Array, part: int) -> tuple[float | None, str]:
    """The least change of one weight, the others as they stand, after which gaps @ weights >= 0.

    Parameters
    ----------
    weights : ndarray, shape (n_parts,), 0 or more
    gaps : ndarray, shape (n_rivals, n_parts), or rows of any other condition gaps @ weights >= 0; some are below 0

    Returns
    -------
    change, None where there is none; and why there is none
    """
    leads, slopes = matrix_product(gaps, weights), gaps[:, part]
    flat = np.abs(slopes) <= DUST
    if (leads[flat] < 0).any():
        return None, "equal in this part"
    with np.errstate(divide="ignore", invalid="ignore"):
        ties = -leads / slopes
    least = max([-np.inf, *ties[~flat & (slopes > 0)]])
    most = min([np.inf, *ties[~flat & (slopes < 0)]])
    if most < -weights[part]:
        return None, f"it would have to be {weights[part] + most:.4g}, below 0"
    if least > most:
        return None, "one rival asks for more of it, another for less"
    change = float(min(max(0.0, least), most))  # the nearest to 0 that both ask for
    if weights.sum() + change <= DUST:
        return None, "no weight would be left"
    return change, ""


def mixture(gaps: Array) -> Array | None:
    """A mixture of rivals that is ahead in every part, so that no weights help; None where there is none.

    Returns
    -------
    ndarray, shape (n_rivals,), 0 or more with sum 1, with mixture @ gaps < 0 in every part

    Notes
    -----
    w >= 0, w != 0, gaps w >= 0 has a solution if and only if no such mixture exists (Ville's theorem of the alternative;
    from memory). The claim is checked by its arithmetic, not taken from the programme that finds it.
    """
    n_rivals, n_parts = gaps.shape
    shape = (*np.zeros(n_rivals), 1.0)
    above = np.hstack([gaps.T, -np.ones((n_parts, 1))])
    found = scipy.optimize.linprog(
        shape,
        A_ub=above,
        b_ub=np.zeros(n_parts),
        A_eq=[[*np.ones(n_rivals), 0.0]],
        b_eq=[1.0],
        bounds=[*[(0, None)] * n_rivals, (None, None)],
    )
    if found.status != 0:
        return None
    mixed = np.maximum(found.x[:-1], 0.0)
    mixed = mixed / mixed.sum()
    return np.asarray(mixed) if matrix_product(mixed, gaps).max() < -DUST else None


def middle(gaps: Array) -> Array | None:
    """The shares of weight (sum 1) at which the subject is furthest ahead of its nearest rival; None where it never is."""
    n_rivals, n_parts = gaps.shape
    found = scipy.optimize.linprog(
        [*np.zeros(n_parts), -1.0],
        A_ub=np.hstack([-gaps, np.ones((n_rivals, 1))]),
        b_ub=np.zeros(n_rivals),
        A_eq=[[*np.ones(n_parts), 0.0]],
        b_eq=[1.0],
        bounds=[*[(0, None)] * n_parts, (None, None)],
    )
    return np.asarray(found.x[:-1]) if found.status == 0 and found.x[-1] > DUST else None


def least_squares(weights: Array, gaps: Array) -> Array | None:
    """The weights nearest to the stated ones with the same sum, none below 0 and gaps @ weights >= 0.

    Returns
    -------
    ndarray, shape (n_parts,); None where no solution passes the check of optimality

    Notes
    -----
    min |x - w| subject to G x >= h. A solution is optimal if and only if x - w = G' u + a 1 with u >= 0 on the constraints
    that bind (Karush, Kuhn and Tucker). One rival and no weight at 0: x = w - (w.d) (d - mean d) / |d - mean d|^2.
    """
    total = weights.sum()
    scaled = weights / total
    sizes = np.maximum(np.abs(gaps).max(axis=1, keepdims=True), DUST)
    rows = np.vstack([gaps / sizes, np.eye(len(weights))])
    level = -matrix_product(rows, scaled)
    basis = np.linalg.svd(np.ones((1, len(weights))))[2][1:].T  # of all changes that keep the sum
    multipliers, _ = scipy.optimize.nnls(
        np.vstack([matrix_product(rows, basis).T, level]), np.array([*np.zeros(len(weights) - 1), 1.0])
    )
    active = multipliers > DUST
    binding = np.vstack([np.ones(len(weights)), rows[active]])
    change = np.linalg.lstsq(binding, np.array([0.0, *level[active]]), rcond=None)[0]
    forces = np.linalg.lstsq(binding.T, change, rcond=None)[0]
    optimal = (
        (matrix_product(rows, change) - level).min() > -OPTIMAL
        and np.abs(matrix_product(binding.T, forces) - change).max() < OPTIMAL
        and forces[1:].min(initial=0.0) > -OPTIMAL
        and np.abs(matrix_product(rows[active], change) - level[active]).max(initial=0.0) < OPTIMAL
    )
    return np.asarray(np.maximum(scaled + change, 0.0) * total) if optimal else None


def least_absolute(weights: Array, gaps: Array) -> Array | None:
    """The weights with the least sum of absolute changes, the same sum, none below 0 and gaps @ weights >= 0.

    Returns
    -------
    ndarray, shape (n_parts,); None where there are none. They need not be the only ones.
    """
    n_parts, total = len(weights), weights.sum()
    scaled = weights / total
    found = scipy.optimize.linprog(
        np.ones(2 * n_parts),
        A_ub=np.hstack([-gaps, gaps]),
        b_ub=matrix_product(gaps, scaled),
        A_eq=[[*np.ones(n_parts), *-np.ones(n_parts)]],
        b_eq=[0.0],
        bounds=[*[(0, None)] * n_parts, *((0, weight) for weight in scaled)],
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    if found.status != 0:
        return None
    return np.asarray(np.maximum(scaled + found.x[:n_parts] - found.x[n_parts:], 0.0) * total)


def search_weights(
    weights: Array, margins: Callable[[Array], Array], rng: np.random.Generator, norm: int, start: Array | None = None
) -> Array | None:
    """Weights near the stated ones, with the same sum, at which a tie is reached; by random directions, narrowed.

    Parameters
    ----------
    margins : of weights, shape (n, n_parts), to leads, shape (n,)
    norm : 1 or 2, of the change that is to be small
    start : a direction to look along too

    Returns
    -------
    ndarray, shape (n_parts,); None where none is found, which proves nothing
    """
    best, least, total = None, np.inf, weights.sum()
    for turn in range(ROUNDS):
        if best is None:
            ends = np.vstack([np.eye(len(weights)), rng.dirichlet(np.full(len(weights), 0.7), DIRECTIONS)]) * total
            directions = ends - weights
            if start is not None:
                directions = np.vstack([start - weights, directions])
        else:
            moved = (best - weights) + 0.6**turn * least * rng.standard_normal((DIRECTIONS, len(weights)))
            directions = np.vstack([best - weights, moved])
        found = _along(weights, directions, margins, norm, least)
        if found is not None and np.linalg.norm(found - weights, norm) < least:
            best, least = found, float(np.linalg.norm(found - weights, norm))
    return best


def _along(
    weights: Array, directions: Array, margins: Callable[[Array], Array], norm: int, most: float
) -> Array | None:
    """The nearest tie along any of some directions; each goes on to where a weight is 0, or as far as `most`."""
    directions = directions - directions.mean(axis=1, keepdims=True)
    lengths = np.linalg.norm(directions, norm, axis=1)
    directions = directions[lengths > DUST] / lengths[lengths > DUST, np.newaxis]
    with np.errstate(divide="ignore"):
        rooms = np.where(directions < -DUST, -weights / directions, np.inf).min(axis=1)
    reach = np.minimum(rooms, most)
    low, high = np.zeros(len(directions)), reach
    for _ in range(3):
        radii = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, POINTS + 1)[1:]
        at = np.maximum(weights + radii[:, :, None] * directions[:, None, :], 0.0)
        there = (margins(at.reshape(-1, len(weights))) >= TIE).reshape(radii.shape)
        kept = there.any(axis=1)
        if not kept.any():
            return None
        first = there.argmax(axis=1)[kept]
        radii, directions, low = radii[kept], directions[kept], low[kept]
        index = np.arange(len(radii))
        low, high = np.where(first > 0, radii[index, np.maximum(first - 1, 0)], low), radii[index, first]
    nearest = int(np.argmin(high))
    return np.asarray(np.maximum(weights + high[nearest] * directions[nearest], 0.0))


def to_decimals(weights: Array, stated: Array, decimals: int) -> list[str]:
    """Weights in so many decimals with the stated sum: rounded down, and the largest remainders up."""
    unit = Decimal(1).scaleb(-decimals)
    total = sum((Decimal(repr(weight)) for weight in stated.tolist()), Decimal(0))
    exact = [Decimal(repr(max(weight, 0.0))) / unit for weight in weights.tolist()]
    floors = [each.to_integral_value(rounding=ROUND_FLOOR) for each in exact]
    missing = int((total / unit - sum(floors)).to_integral_value())
    order = sorted(range(len(floors)), key=lambda i: floors[i] - exact[i])
    for i in order[: max(missing, 0)]:
        floors[i] += 1
    return [format(each * unit, "f") for each in floors]
