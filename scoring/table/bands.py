"""The band of each product: by its figure, and no better than a condition allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.form import NO_BAND, BandLimit, Output
from scoring.numbers.array_types import Array, Flags, Integers
from scoring.numbers.rounding import cleaned
from scoring.table.evaluate import Evaluation


@dataclass(frozen=True, slots=True, eq=False)
class Banded:
    """The bands of one output; arrays of one shape, (products,) or (draws, products).

    by_figure: the place of the band that each figure lies in, -1 for none; band: that which is given; by: the place of the
    limit of bands that lowered it, -1 where none did; known: whether the condition of that limit is known to hold.
    """

    by_figure: Integers
    band: Integers
    by: Integers
    known: Flags

    def first(self) -> Banded:
        """The first draw, of shape (products,)."""
        return Banded(self.by_figure[0], self.band[0], self.by[0], self.known[0])


def banded(output: Output, judged: Array, evaluation: Evaluation) -> Banded:
    """The band of every product.

    Parameters
    ----------
    judged : shape (draws, products), the figures that bands go by; NaN where there is none
    """
    by_figure = band_of(output, judged)
    band, by, known = by_figure.copy(), np.full(judged.shape, -1), np.ones(judged.shape, bool)
    for place, limit in enumerate(output.band_limits):
        best = _place_of(output, limit)
        met, unknown = _met(limit, evaluation, judged.shape)
        lowers = (met | unknown) & _is_better(output, band, best)
        band[lowers], by[lowers], known[lowers] = best, place, met[lowers]
    return Banded(by_figure, band, by, known)


def band_of(output: Output, judged: Array) -> Integers:
    """The place of each figure's band, of the shape of `judged`; -1 below them all, and where there is no figure."""
    edges = np.array([band.edge.value for band in output.bands.edges])
    found = np.searchsorted(cleaned(edges), cleaned(judged), side="right") - 1
    return np.where(np.isnan(judged), -1, found)


def _place_of(output: Output, limit: BandLimit) -> int:
    """The place of the best band that a limit lets through, -1 for no band."""
    names = [band.name for band in output.bands.edges]
    return -1 if limit.no_better_than.value == NO_BAND else names.index(limit.no_better_than.value)


def _is_better(output: Output, band: Integers, best: int) -> Flags:
    """Whether each band is better than that at the place `best`; any band is better than none."""
    if best < 0:
        return np.asarray(band >= 0)
    above = band > best if output.ranks.best.value == "highest" else band < best
    return np.asarray((band >= 0) & above)


def _met(limit: BandLimit, evaluation: Evaluation, shape: tuple[int, ...]) -> tuple[Flags, Flags]:
    """Whether a limit's condition holds, and whether nothing says so: it hangs on what is missing, or it has no value.

    Where it hangs on what does not apply to the product, neither is so. Both of the shape (draws, products).
    """
    answer = np.broadcast_to(evaluation.values[f"gate {limit.condition}"], shape)
    applies = np.ones(shape, bool)
    for name in limit.when.names:
        applies &= evaluation.presence.applies.get(name, True)  # what no kernel takes the presence of is there for all
    return np.asarray(answer > 0.5), np.asarray(applies & np.isnan(answer))
