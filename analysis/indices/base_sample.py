"""Uniform points of two independent samples: blocks of Sobol' points, each block a scramble of its own.

scipy draws them (Joe and Kuo's directions; Matousek's linear scramble with a digital shift). What is drawn is kept and added
to, so that all scores of a study, and every doubling of its sample, take from one drawing.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]


class BaseSample:
    """Both samples of a study's uniform columns.

    Parameters
    ----------
    columns : of each of the two samples
    seed : 0 is a seed
    n_blocks : how many scrambles there are

    Notes
    -----
    A point of a block is one point of a sequence of twice as many columns, the first half being the first sample's. The
    first n points are the same however many are asked for in the end.
    """

    def __init__(self, columns: int, seed: int, n_blocks: int) -> None:
        self.columns, self.seed, self.n_blocks = columns, seed, n_blocks
        self._drawn = np.empty((n_blocks, 0, 2 * columns))

    def __reduce__(self) -> tuple[object, ...]:
        """What is drawn is drawn again where it arrives."""
        return BaseSample, (self.columns, self.seed, self.n_blocks)

    def upto(self, stop: int) -> tuple[Array, Array]:
        """Both samples' columns, shape (blocks, `stop` or more, columns)."""
        have = self._drawn.shape[1]
        if have < stop:
            more = (1 << (stop - 1).bit_length()) - have  # a sequence is even at powers of two
            self._drawn = np.concatenate([self._drawn, self._next(more)], axis=1)
        return self._drawn[..., : self.columns], self._drawn[..., self.columns :]

    def _next(self, points: int) -> Array:
        if self.columns == 0:
            return np.empty((self.n_blocks, points, 0))
        return np.stack([sequence.random(points) for sequence in self._sequences])

    @cached_property
    def _sequences(self) -> list[scipy.stats.qmc.Sobol]:
        seeds = np.random.SeedSequence([self.seed, 1]).generate_state(self.n_blocks)
        return [scipy.stats.qmc.Sobol(2 * self.columns, scramble=True, seed=int(seed)) for seed in seeds]
