"""The draws of a sensitivity study: blocks of Sobol' points in two base samples, and the swaps between them.

SALib draws the points (Joe and Kuo's directions, Owen's scrambling by way of scipy); every block is a scramble of its own. A
design has a hash of all that it is made of, and outputs that do not carry it are refused.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from SALib.sample import sobol as salib_sobol

from analysis.sobol import BLOCKS
from analysis.study import Draws, Study

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Swap:
    """Factors that are taken from the other sample together: one factor, or a group; `level` says which."""

    name: str
    factors: tuple[str, ...]
    level: str


@dataclass(frozen=True, eq=False)
class Design:
    """Which swaps are made of a study's draws, and from which points.

    points: how many a block has at most, a power of two; seed: of everything random in it.
    """

    study: Study
    swaps: tuple[Swap, ...]
    points: int
    seed: int
    n_blocks: int = BLOCKS

    @cached_property
    def sha256(self) -> str:
        """The hash of everything that the draws follow from."""
        said = [self.study.sha256, str(self.points), str(self.seed), str(self.n_blocks)]
        said += [f"{f.name} {f.says} {f.columns}" for f in self.study.factors]
        said += [f"{swap.level} {swap.name}: {' '.join(swap.factors)}" for swap in self.swaps]
        return hashlib.sha256("\n".join(said).encode()).hexdigest()

    @cached_property
    def base(self) -> tuple[Array, Array]:
        """Uniform columns of both samples, shape (blocks, points, columns)."""
        seeds = np.random.SeedSequence([self.seed, 1]).generate_state(self.n_blocks)
        both = [sobol_points(self.study.n_columns, self.points, int(seed)) for seed in seeds]
        return np.stack([a for a, _ in both]), np.stack([b for _, b in both])

    def pieces(self, start: int, stop: int, rows: int) -> Iterator[tuple[Draws, Draws]]:
        """Both samples from point `start` to `stop` of every block, some points at a time; block after block."""
        for first in range(start, stop, rows):
            last = min(first + rows, stop)
            yield self._draws(0, first, last), self._draws(1, first, last)

    def _draws(self, side: int, first: int, last: int) -> Draws:
        unit = self.base[side][:, first:last].reshape(-1, self.study.n_columns)
        rng = np.random.default_rng([self.seed, 2, side, first])
        return Draws(unit, self.study.streams(len(unit), rng))

    def mixed(self, base: Draws, other: Draws, swap: Swap) -> Draws:
        """One sample with a swap from the other."""
        return self.study.mixed(base, other, swap.factors)


def sobol_points(columns: int, points: int, seed: int) -> tuple[Array, Array]:
    """Two base samples of a scrambled Sobol' sequence, each of shape (points, columns), by SALib.

    SALib gives them within a whole design; with two groups that is four rows a point, the first and last being ours.
    """
    if columns == 0:
        return np.empty((points, 0)), np.empty((points, 0))
    problem = {"num_vars": columns, "names": [f"x{i}" for i in range(columns)], "bounds": [[0.0, 1.0]] * columns}
    if columns > 1:
        problem["groups"] = ["first"] + ["rest"] * (columns - 1)
    rows = salib_sobol.sample(problem, points, calc_second_order=False, scramble=True, seed=seed)
    step = 4 if columns > 1 else 3
    return rows[::step], rows[step - 1 :: step]
