"""Pairs of outputs that share some inputs: what their correlation is, by set of groups, block of draws and output.

Nothing here grows with the number of draws: what is kept of the pairs is their sums.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.runs import Block
from analysis.study.gaussian_copula import Conditional, GaussianCopula, members, uniforms
from scoring.numbers.array_types import Array, Integers
from scoring.numbers.ordered_sums import matrix_product

Model = Callable[[Array], Array]
#: What varies by less than this share of its size is one value with rounding on it.
DUST = 1e-12


@dataclass(slots=True, eq=False)
class Tally:
    """Sums over the pairs (Y, Y^u), by block and set, shape (blocks, sets, outputs), Y counted from `centre`.

    both: of Y + Y^u; squares: of Y^2 + (Y^u)^2; halves: of (Y - Y^u)^2 / 2; n_points: base points, shape (blocks,); the others
    of shape (outputs,).
    """

    both: Array
    squares: Array
    halves: Array
    centre: Array
    least: Array
    greatest: Array
    n_nonfinite: Integers
    evaluations: int = 0
    n_points: Integers = field(default_factory=lambda: np.zeros(1, np.int64))

    def see(self, values: Array, *, counted: bool = True) -> None:
        """Take note of new values of the outputs, shape (n, outputs)."""
        self.least = np.fmin(self.least, np.fmin.reduce(values, axis=0))
        self.greatest = np.fmax(self.greatest, np.fmax.reduce(values, axis=0))
        self.n_nonfinite += np.isnan(values).sum(axis=0) if counted else 0
        self.evaluations += len(values)

    def add(self, place: int, blocks: Integers, values: Array, others: Array) -> None:
        """Add pairs of one set; blocks, shape (n,), never falls."""
        here, starts = np.unique(blocks, return_index=True)
        y, other = values - self.centre, others - self.centre
        self.both[here, place] += np.add.reduceat(y + other, starts, axis=0)
        self.squares[here, place] += np.add.reduceat(y**2 + other**2, starts, axis=0)
        self.halves[here, place] += np.add.reduceat((y - other) ** 2 / 2, starts, axis=0)

    def merge(self, after: Tally) -> Tally:
        """With the sums of later points, counted from this one's centre."""
        off, n_points = after.centre - self.centre, after.n_points[:, np.newaxis, np.newaxis]
        return Tally(
            both=self.both + (after.both + 2 * n_points * off),
            squares=self.squares + (after.squares + 2 * off * after.both + 2 * n_points * off**2),
            halves=self.halves + after.halves,
            n_points=self.n_points + after.n_points,
            centre=self.centre,
            least=np.fmin(self.least, after.least),
            greatest=np.fmax(self.greatest, after.greatest),
            n_nonfinite=self.n_nonfinite + after.n_nonfinite,
            evaluations=self.evaluations + after.evaluations,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Redrawn:
    """The model at points from the `first` on, shape (n, outputs), and with each set kept, the rest drawn anew, as asked for."""

    first: int
    values: Array
    others: Iterator[Array]


@dataclass(frozen=True, slots=True, eq=False)
class Redraws:
    """Base points, and for some sets of groups the points that share the set with them.

    rows: how many the model is given at a time; seeds: of the normal values of each block, the same for every set.
    """

    model: Model
    copula: GaussianCopula
    sets: range
    rows: int
    seeds: Sequence[int]

    def pieces(self, block: Block) -> Iterator[Redrawn]:
        """A block's points."""
        rng, n_groups = np.random.default_rng(self.seeds[block.number]), len(self.copula.groups)
        laws = [self.copula.given(self.copula.columns_of(members(index, n_groups))) for index in self.sets]
        start = self.copula.given(())
        for top in range(block.first, block.last, self.rows):
            n = min(self.rows, block.last - top)
            normals = rng.standard_normal((n, 2, len(self.copula.correlation)))
            scores = start.redraw(normals[:, 0], normals[:, 0])
            yield Redrawn(top, _run(self.model, scores), self._others(laws, scores, normals[:, 1]))

    def _others(self, laws: Sequence[Conditional], scores: Array, normals: Array) -> Iterator[Array]:
        for law in laws:
            yield _run(self.model, law.redraw(scores, normals))


@dataclass(frozen=True, slots=True, eq=False)
class PairSums:
    """Sums over pairs by block of the jackknife.

    edges: where the jackknife's blocks begin, and the last ends; counts: whether values at base points that are not finite
    count, which they do once.
    """

    edges: Integers
    n_sets: int
    counts: bool

    def start(self) -> Tally | None:
        """No block."""
        return None

    def add(self, sums: Tally | None, piece: Redrawn) -> Tally:
        """Take in some points of one block."""
        tally = sums or _empty(piece.values[0].copy(), len(self.edges) - 1, self.n_sets)
        points = np.arange(piece.first, piece.first + len(piece.values))
        blocks = np.searchsorted(self.edges, points, side="right") - 1
        tally.n_points += np.bincount(blocks, minlength=len(tally.n_points))
        tally.see(piece.values, counted=self.counts)
        for place, others in enumerate(piece.others):
            tally.see(others)
            tally.add(place, blocks, piece.values, others)
        return tally

    def merge(self, sums: Tally | None, after: Tally | None) -> Tally | None:
        """The sums of both."""
        return after if sums is None or after is None else sums.merge(after)

    def finish(self, sums: Tally | None) -> Tally:
        """Those of all blocks."""
        assert sums is not None  # there are two blocks or more, with two points or more
        return sums


def _run(model: Model, scores: Array) -> Array:
    """The model's outputs, NaN where they are not finite."""
    values = np.asarray(model(uniforms(scores)), float)
    if values.ndim != 2 or len(values) != len(scores):
        raise ValueError(
            f"a model that answers {len(scores)} points with shape {values.shape}; (points, outputs) is needed"
        )
    return np.where(np.isfinite(values), values, np.nan)


def _empty(centre: Array, n_blocks: int, n_sets: int) -> Tally:
    """Sums over no pairs."""
    both, squares, halves = np.zeros((3, n_blocks, n_sets, len(centre)))
    unseen, none = np.full(len(centre), np.nan), np.zeros(len(centre), np.int64)
    return Tally(both, squares, halves, centre, unseen, unseen, none, n_points=np.zeros(n_blocks, np.int64))


def correlations_of(tally: Tally, edges: Integers) -> tuple[Array, Array]:
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
