"""By how much the variance of a score falls when readings are repeated, and how readings of one product are best shared out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Counts = NDArray[np.int64]
#: What one reading helps more than the one before it, as a share of the largest part, is dust below this.
DUST = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Falling:
    """The part of each score's variance that further readings of each measure take away.

    measures : their names; readings : there are now, shape (measures, products)
    parts : the variance of each score that comes of the repeats of each measure, (c_i u_i)^2, shape (measures, products);
        0 where a product has no reading of it
    kept : what is left of that part after 0, 1, ..., n further readings, from 1 down, shape (measures, products, n + 1)
    """

    measures: tuple[str, ...]
    readings: Counts
    parts: Array
    kept: Array

    @property
    def most(self) -> int:
        """So many further readings are foreseen of one measure and product."""
        return int(self.kept.shape[2]) - 1

    def fall(self, further: Counts) -> Array:
        """By how much the variance of each score falls, shape (products,), for further readings of shape (measures, products)."""
        left = np.take_along_axis(self.kept, further[:, :, np.newaxis], axis=2)[:, :, 0]
        return np.asarray((self.parts * (1 - left)).sum(axis=0))

    def shared_out(self, product: int, total: int) -> Shares:
        """The best use of 0 to `total` further readings of one product.

        Notes
        -----
        Best is what takes most of the variance away. Where each further reading of a measure helps less than the one before it,
        the readings that help most are taken one by one; else (a median of two and of three) dynamic programming over the
        measures looks at every share.
        """
        gains = self.parts[:, product, np.newaxis] * (1 - self.kept[:, product, : total + 1])
        steps = np.diff(gains, axis=1)
        if (np.diff(steps, axis=1) <= DUST * self.parts[:, product].max(initial=0.0)).all():
            return _one_by_one(steps)
        return _by_every_share(gains)


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """falls : of the variance of a product's score by 0, 1, ..., total readings, shape (total + 1,);
    counts : how many of them go to each measure, shape (measures, total + 1)."""

    falls: Array
    counts: Counts

    def readings(self, total: int) -> Counts:
        """How many of `total` readings go to each measure, shape (measures,)."""
        return np.asarray(self.counts[:, total])


def _one_by_one(steps: Array) -> Shares:
    """steps : what each further reading of a measure takes away, never more than the one before it, shape (measures, total)."""
    n_measures, total = steps.shape
    flat = steps.ravel()
    order = np.argsort(-flat, kind="stable")[:total]
    taken = (order // max(total, 1))[np.newaxis] == np.arange(n_measures)[:, np.newaxis]
    counts = np.hstack([np.zeros((n_measures, 1), np.int64), np.cumsum(taken, axis=1)])
    return Shares(np.concatenate([[0.0], np.cumsum(flat[order])]), counts)


def _by_every_share(gains: Array) -> Shares:
    """gains : what 0, 1, ..., total readings of a measure take away, shape (measures, total + 1)."""
    n = np.arange(gains.shape[1])
    best, counts = np.zeros(len(n)), np.zeros(gains.shape, np.int64)
    for row, gain in enumerate(gains):
        # [n, r]: r readings of this measure, and n - r of those before it
        both = np.where(n <= n[:, np.newaxis], gain + best[np.maximum(n[:, np.newaxis] - n, 0)], -np.inf)
        chosen = np.argmax(both, axis=1)
        best = np.max(both, axis=1)
        counts = counts[:, n - chosen]
        counts[row] = chosen
    return Shares(best, counts)
