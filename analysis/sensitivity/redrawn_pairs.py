"""Pairs of outputs that share some inputs: what their correlation is, by set of groups, block of draws and output.

Nothing here grows with the number of draws: what is kept of the pairs is their sums.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.study.gaussian_copula import GaussianCopula, members, uniforms
from scoring.ordered_sums import matrix_product

Array = NDArray[np.float64]
Model = Callable[[Array], Array]
#: What varies by less than this share of its size is one value with rounding on it.
DUST = 1e-12


@dataclass(slots=True, eq=False)
class Tally:
    """Sums over the pairs (Y, Y^u), by block and set, shape (blocks, sets, outputs), Y counted from `centre`.

    both: of Y + Y^u; squares: of Y^2 + (Y^u)^2; halves: of (Y - Y^u)^2 / 2; the others of shape (outputs,).
    """

    both: Array
    squares: Array
    halves: Array
    centre: Array
    least: Array
    greatest: Array
    n_nonfinite: NDArray[np.int64]
    evaluations: int = 0

    def see(self, values: Array, *, counted: bool = True) -> None:
        """Take note of new values of the outputs, shape (n, outputs)."""
        self.least = np.fmin(self.least, np.fmin.reduce(values, axis=0))
        self.greatest = np.fmax(self.greatest, np.fmax.reduce(values, axis=0))
        self.n_nonfinite += np.isnan(values).sum(axis=0) if counted else 0
        self.evaluations += len(values)

    def add(self, place: int, blocks: NDArray[np.int64], values: Array, others: Array) -> None:
        """Add pairs of one set; blocks, shape (n,), never falls."""
        here, starts = np.unique(blocks, return_index=True)
        y, other = values - self.centre, others - self.centre
        self.both[here, place] += np.add.reduceat(y + other, starts, axis=0)
        self.squares[here, place] += np.add.reduceat(y**2 + other**2, starts, axis=0)
        self.halves[here, place] += np.add.reduceat((y - other) ** 2 / 2, starts, axis=0)


def tally_pairs(
    model: Model, copula: GaussianCopula, sets: range, edges: NDArray[np.int64], rows: int, rng: np.random.Generator
) -> Tally:
    """One pass over the base points, for some of the sets."""
    laws = [copula.given(copula.columns_of(members(index, len(copula.groups)))) for index in sets]
    start, n_points = copula.given(()), int(edges[-1])
    tally: Tally | None = None
    for top in range(0, n_points, rows):
        points = np.arange(top, min(top + rows, n_points))
        normals = rng.standard_normal((len(points), 2, len(copula.correlation)))
        scores = start.redraw(normals[:, 0], normals[:, 0])
        values = _run(model, scores)
        tally = tally or _empty(values, len(edges) - 1, len(sets))
        tally.see(values, counted=sets.start == 0)
        for place, law in enumerate(laws):
            others = _run(model, law.redraw(scores, normals[:, 1]))
            tally.see(others)
            tally.add(place, np.searchsorted(edges, points, side="right") - 1, values, others)
    assert tally is not None
    return tally


def _run(model: Model, scores: Array) -> Array:
    """The model's outputs, NaN where they are not finite."""
    values = np.asarray(model(uniforms(scores)), float)
    if values.ndim != 2 or len(values) != len(scores):
        raise ValueError(
            f"a model that answers {len(scores)} points with shape {values.shape}; (points, outputs) is needed"
        )
    return np.where(np.isfinite(values), values, np.nan)


def _empty(values: Array, n_blocks: int, n_sets: int) -> Tally:
    n_outputs = values.shape[1]
    both, squares, halves = np.zeros((3, n_blocks, n_sets, n_outputs))
    unseen = np.full(n_outputs, np.nan)
    return Tally(both, squares, halves, values[0].copy(), unseen, unseen, np.zeros(n_outputs, np.int64))


def correlations_of(tally: Tally, edges: NDArray[np.int64]) -> tuple[Array, Array]:
    """Correlation and sum of squares about the mean of the pairs of each set: first of all blocks, then without each.

    Both of shape (1 + blocks, sets, outputs); NaN where the pairs hold one value only.
    """
    n_blocks = len(edges) - 1
    kept = np.concatenate([np.ones((1, n_blocks)), 1 - np.eye(n_blocks)])
    count = matrix_product(kept, np.diff(edges))[:, None, None]
    both, squares, halves = (np.einsum("kb,bso->kso", kept, sums) for sums in (tally.both, tally.squares, tally.halves))
    spread = squares / 2 - both**2 / (4 * count)
    size = np.fmax(np.abs(tally.least), np.abs(tally.greatest))
    moves = (spread > DUST * squares) & (spread > count * (DUST * size) ** 2)
    spread = np.where(moves, spread, np.nan)
    return 1 - halves / spread, spread
