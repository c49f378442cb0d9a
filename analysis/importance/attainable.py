"""Whether weights from 0 up give parts a wanted share, decided over all of them; and the shares that any weights can give.

With the parts scaled to standard deviation 1, C their correlations and a the scaled weights, u = C a is a part's correlation
with the score times the score's standard deviation. Two shares are asked for:

    variance   R_i^2 = u_i^2 / a'Ca          the share of the score's variance that part i explains by itself (a main effect)
    effects    R_i^2 / sum_j R_j^2           its share of all main effects added up

Both stay the same when a is stretched. So the weights that give the parts k their shares r are, for one pattern of signs, the
points of the polyhedron {a >= 0: u_k = +-sqrt(r_k)} at which a convex form is on a target: a'Ca on 1, or the squares of the
other parts' u added up on 1 - sum r. A polyhedron is connected and the form continuous: such a point is there if and only if
the target is between the least and the greatest value. The least is that of a convex programme, confirmed by a tangent below
it; the greatest is at a corner, or without bound along an edge. Every corner and every pattern of signs is gone through.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import comb

import numpy as np
import scipy
from numpy.typing import ArrayLike

from analysis.importance.importance import covariance_split
from analysis.importance.wanted import WORST_CONDITION
from scoring.numbers.array_types import Array, Indices
from scoring.numbers.ordered_sums import matrix_product

#: What a wanted share is a share of.
VARIANCE, EFFECTS = "variance", "effects"
#: More candidates for a corner than this, over all patterns of sign, are not gone through.
MOST_CORNERS = 500_000
#: How near a form's end is to its target where arithmetic does not tell them apart, in units of the target.
TOUCHING = 1e-9
#: How far a share may be from what was wanted.
NEAR = 1e-6
#: What arithmetic may make of a form that is 0, and of a slope; with the conditions that are let through, others are larger.
ROUNDING, LEVEL = 1e-14, 1e-12
#: A weight below 0 by less is 0; a corner this much further out than equations are large is none.
DUST, WORST_CORNER = 1e-10, 1e10
#: Steps of the bounded least squares; where they do not end at the least point, the bound below it is loose, never false.
MOST_STEPS = 2000
#: From so many points on, lines between them add no solution worth having.
MOST_POINTS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Decided:
    """Whether there are weights that give the wanted shares.

    state: "found"; "none", which is proved; or "open". weights: solutions, shape (solutions, parts), each adding to 1; signs:
    of the named parts in them, shape (named,).
    """

    state: str
    weights: Array
    signs: Array


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A polyhedron with the form that is to be on target, and the ends of the form on it.

    corners, edges: shape (points, directions); lowest: where the form is least, and least: its value there; low: what it is
    not below; high: its greatest value, infinite where an edge leads out.
    """

    corners: Array
    edges: Array
    form: Array
    lowest: Array
    least: float
    low: float
    high: float


def shares_of(weights: ArrayLike, covariance: ArrayLike, share_of: str) -> Array:
    """The share of each part in a weighted mean, shape (parts,); NaN for one that does not vary."""
    effects = covariance_split(weights, covariance).linear
    return effects if share_of == VARIANCE else effects / np.nansum(effects)


def decided(covariance: ArrayLike, wanted: ArrayLike, share_of: str, directions: ArrayLike | None = None) -> Decided:
    """Whether weights from 0 up give the wanted shares, and some that do.

    Parameters
    ----------
    covariance : array, shape (parts, parts), every part varying
    wanted : array, shape (parts,), shares from 0 to 1; NaN for a part of which nothing is asked
    directions : array, shape (parts, directions), from 0 up; weights are mixtures of these alone; all weights if not given

    Notes
    -----
    Patterns with every named part going along with the score come first: others are in the answer only where these are none.
    Nothing is proved of parts that all but determine each other, whose weights may cancel.
    """
    sigma, asked = np.asarray(covariance, float), np.asarray(wanted, float)
    sd = np.sqrt(np.diag(sigma))
    along = np.eye(len(sd)) if directions is None else np.asarray(directions, float)
    mixed = sd[:, None] * along
    named = np.flatnonzero(~np.isnan(asked))
    correlations = sigma / np.outer(sd, sd)
    rows = matrix_product(correlations, mixed)
    form, target = _form(mixed, rows, named, asked[named], share_of)
    few = _can_be_gone_through(len(named), mixed.shape[1])
    open_ = not few or not np.linalg.cond(correlations) <= WORST_CONDITION
    for signs in _patterns(asked[named]) if few else ():
        shape = _shape(rows[named], signs * np.sqrt(asked[named]), form)
        if shape is None or shape.low > target + TOUCHING or shape.high < target - TOUCHING:
            continue
        found = [
            weights
            for point in _on_target(shape, target)
            if (weights := _given(matrix_product(along, point), sigma, asked, share_of)) is not None
        ]
        if found:
            return Decided("found", np.unique(np.array(found), axis=0), signs)
        open_ = True
    return Decided("open" if open_ else "none", np.zeros((0, len(sd))), np.ones(len(named)))


def attainable(covariance: ArrayLike, part: int, share_of: str) -> tuple[float, float]:
    """The least and the greatest share that any weights from 0 up give one part; every share between them is given by some.

    Parameters
    ----------
    covariance : array, shape (parts, parts), every part varying

    Returns
    -------
    low, high; NaN where there are too many parts to go through every corner, or they all but determine each other
    """
    sigma = np.asarray(covariance, float)
    sd = np.sqrt(np.diag(sigma))
    rows = sigma / np.outer(sd, sd)
    if not _can_be_gone_through(1, len(sd)) or not np.linalg.cond(rows) <= WORST_CONDITION:
        return float("nan"), float("nan")
    others = np.delete(rows, part, axis=0)
    form = rows if share_of == VARIANCE else matrix_product(others.T, others)
    added = 0.0 if share_of == VARIANCE else 1.0
    still = bool((_form_at(_corners(rows[[part]], np.zeros(1), whole=True), form) > ROUNDING).any())
    shapes = [_shape(rows[[part]], np.array([sign]), form) for sign in (1.0, -1.0)]
    there = [shape for shape in shapes if shape is not None]
    low = 0.0 if still else min(1 / (shape.high + added) for shape in there)
    return low, min(1.0, max(1 / (shape.least + added) for shape in there))


def _can_be_gone_through(named: int, directions: int) -> bool:
    candidates = max(comb(directions, named), comb(directions, named + 1))
    return bool(candidates << named <= MOST_CORNERS)


def _form(mixed: Array, rows: Array, named: Indices, asked: Array, share_of: str) -> tuple[Array, float]:
    """The convex form of the directions, and its target."""
    if share_of == VARIANCE:
        return matrix_product(mixed.T, rows), 1.0
    others = np.delete(rows, named, axis=0)
    return matrix_product(others.T, others), 1.0 - float(asked.sum())


def _patterns(asked: Array) -> Iterator[Array]:
    """Patterns of signs, the fewest parts against the score first; a share of 0 has no sign."""
    each = [(1.0, -1.0) if share > 0 else (1.0,) for share in asked]
    yield from sorted((np.array(signs) for signs in product(*each)), key=lambda signs: int(np.sum(signs < 0)))


def _shape(rows: Array, level: Array, form: Array) -> Shape | None:
    """The polyhedron of directions b >= 0 with rows b = level; None where it is empty."""
    corners = _corners(rows, level)
    if not len(corners):
        return None
    edges = _corners(rows, np.zeros(len(level)), whole=True)
    values, vectors = np.linalg.eigh(form)
    root = np.sqrt(np.maximum(values, 0))[:, None] * vectors.T
    points = np.concatenate([corners, edges])
    kept = np.repeat([1.0, 0.0], [len(corners), len(edges)])
    # least squares find the point of least form: the last row asks for corners that add up, at the scale of the form, and
    # every column has length 1, so that a corner far out does not end the search early
    scale = np.sqrt(max(float(_form_at(corners, form).min()), TOUCHING))
    columns = np.vstack([matrix_product(root, points.T), scale * kept])
    lengths = np.maximum(np.sqrt(np.sum(columns**2, axis=0)), TOUCHING)
    right = np.append(np.zeros(len(root)), scale)
    found = scipy.optimize.lsq_linear(
        columns / lengths, right, bounds=(0, np.inf), method="bvls", tol=1e-15, max_iter=MOST_STEPS
    )
    shares = found.x / lengths
    lowest = matrix_product(shares, points) / float(matrix_product(shares, kept))
    slope = matrix_product(form, lowest)
    least = float(matrix_product(lowest, slope))
    falls = matrix_product(edges, slope) < -LEVEL * max(1.0, float(np.abs(slope).max()))
    low = -np.inf if falls.any() else 2 * float(matrix_product(corners, slope).min()) - least
    leads_out = _form_at(edges, form) > ROUNDING
    high = np.inf if leads_out.any() else float(_form_at(corners, form).max())
    return Shape(corners, edges, form, lowest, least, low, high)


def _form_at(points: Array, form: Array) -> Array:
    return np.asarray(np.sum(matrix_product(points, form) * points, axis=1))


def _corners(rows: Array, level: Array, *, whole: bool = False) -> Array:
    """The corners of {b >= 0: rows b = level}, with b adding to 1 where it is `whole`; shape (corners, directions)."""
    equations = np.vstack([rows, np.ones(rows.shape[1])]) if whole else rows
    right = np.append(level, 1.0) if whole else level
    basis, sizes, _ = np.linalg.svd(equations)
    rank = int(np.sum(sizes > DUST * max(sizes.max(initial=0.0), 1.0)))
    turned, against = matrix_product(basis.T, equations), matrix_product(basis.T, right)
    if np.any(np.abs(against[rank:]) > TOUCHING):
        return np.zeros((0, rows.shape[1]))
    sets = np.array(list(combinations(range(rows.shape[1]), rank)), dtype=int).reshape(-1, rank)
    squares = np.moveaxis(turned[:rank][:, sets], 1, 0)
    least = np.linalg.svd(squares, compute_uv=False).min(axis=1, initial=np.inf)
    regular = least * WORST_CORNER >= sizes.max(initial=0.0)
    solved = np.linalg.solve(squares[regular], np.broadcast_to(against[:rank, None], (int(regular.sum()), rank, 1)))[
        ..., 0
    ]
    inside = np.all(solved >= -DUST, axis=1)
    found = np.zeros((int(inside.sum()), rows.shape[1]))
    np.put_along_axis(found, sets[regular][inside], np.maximum(solved[inside], 0), axis=1)
    return np.unique(found.round(14), axis=0)


def _on_target(shape: Shape, target: float) -> Iterator[Array]:
    """Points of the polyhedron at which the form is on target: on lines between its corners, and out along its edges."""
    points = [shape.lowest, *shape.corners[:MOST_POINTS]]
    for index, point in enumerate(points):
        yield from _crossings(point, [other - point for other in points[index + 1 :]], 1.0, shape.form, target)
        yield from _crossings(point, shape.edges[:MOST_POINTS], np.inf, shape.form, target)
        yield point


def _crossings(start: Array, ways: Sequence[Array] | Array, end: float, form: Array, target: float) -> Iterator[Array]:
    """Where the form crosses its target on each way from a point, up to `end` times the way."""
    level = float(matrix_product(matrix_product(form, start), start))
    for way in ways:
        slope = matrix_product(form, way)
        bend, tilt = float(matrix_product(slope, way)), float(matrix_product(slope, start))
        inner = tilt**2 - bend * (level - target)
        if bend > DUST and inner >= 0:
            for step in ((-tilt - np.sqrt(inner)) / bend, (-tilt + np.sqrt(inner)) / bend):
                if 0 <= step <= end:
                    yield start + step * way


def _given(weights: Array, sigma: Array, asked: Array, share_of: str) -> Array | None:
    """The weights, adding to 1, where they are found to give what was asked when it is worked out again; else None."""
    there = np.maximum(weights, 0.0)  # on a line between corners a weight of 0 may be dust
    if not there.sum() > 0:
        return None
    shares = there / there.sum()
    found = shares_of(shares, sigma, share_of)
    named = ~np.isnan(asked)
    return shares if bool(np.all(np.abs(found - asked)[named] <= NEAR)) else None
