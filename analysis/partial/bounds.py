"""Bounds that need no model: the score and place of a partial product with what it lacks at its worst and at its best.

Nothing is taken for granted of a missing reading but that it lies in its plausible range (C. F. Manski, Partial Identification of
Probability Distributions, 2003, ch. 1; from memory). The ends are searched: each missing reading is scanned on a grid, the others
held, in turn and from several starts; curves may turn or jump, so that the ends of a range need not be the worst or the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.partial.filling import Axis, Filled
from analysis.partial.lacking import Lacking
from scoring.numbers.ranks import rank

Array = NDArray[np.float64]
GRID = 401
ROUNDS = 3
#: How often the neighbourhood of the best point of a grid is cut down.
ZOOMS = 3


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """What is missing at its worst or at its best.

    readings: of each axis; value, place: of the product; others: products whose own place differs from the published one,
    and the place they would hold
    """

    readings: tuple[float, ...]
    value: float
    place: float
    others: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """A partial product's score and place, whatever its missing readings are.

    axes: what may take any value; worst, best: None where the product has no score at any value that was looked at;
    may_be_withheld: whether some value leaves it without a score; unbounded: measures that nothing bounds, still missing
    """

    lacks: Lacking
    axes: tuple[Axis, ...]
    worst: End | None
    best: End | None
    may_be_withheld: bool
    unbounded: tuple[str, ...]


def bounds_of(filled: Filled, lacks: Lacking) -> Bounds:
    """The bounds of one partial product, all other products as published."""
    axes, unbounded = filled.axes(lacks)
    highest = filled.table.form.ranks.best.value == "highest"
    search = _Search(filled, lacks, axes)
    worst, gone = search.least(1.0 if highest else -1.0)
    best, gone_too = search.least(-1.0 if highest else 1.0)
    return Bounds(lacks, axes, worst, best, gone or gone_too, unbounded)


def joint_places(filled: Filled, bounds: Sequence[Bounds]) -> tuple[Array, Array]:
    """The best and the worst place of every product, all partial ones given at their worst or best at once.

    Returns
    -------
    best, worst : ndarray, shape (n_products,), NaN for a product without a place

    Notes
    -----
    A product's best place has itself at its best and all others at their worst. Where the formula leans on the catalogue itself
    a reading moves other products' scores too, which this does not reckon with.
    """
    form = filled.table.form
    values = filled.table.column(filled.output.name).value
    worst, best = values.copy(), values.copy()
    for one in bounds:
        if one.worst is not None and one.best is not None:
            worst[one.lacks.product], best[one.lacks.product] = one.worst.value, one.best.value
    ranks = np.full((2, len(values)), np.nan)
    for side, (own, others) in enumerate(((best, worst), (worst, best))):
        for product in filled.quantities.products.tolist():
            held = others.copy()
            held[product] = own[product]
            ranks[side, product] = rank(held, form.ranks.best.value, form.ranks.ties.value)[product]
    return ranks[0], ranks[1]


@dataclass(slots=True, eq=False)
class _Search:
    filled: Filled
    lacks: Lacking
    axes: tuple[Axis, ...]

    def least(self, sign: float) -> tuple[End | None, bool]:
        """The end at which sign times the score is least, and whether some point that was tried leaves it without a score."""
        low, high = (np.array([getattr(axis, end) for axis in self.axes]) for end in ("low", "high"))
        best, gone = None, False
        starts = (low, high, (low + high) / 2) if len(self.axes) > 1 else (low,)
        for start in starts:
            point, value, without = self._down_from(start, low, high, sign)
            gone = gone or without
            if point is not None and (best is None or value < best[1]):
                best = point, value
        return (self._end(best[0]) if best is not None else None), gone

    def _down_from(self, start: Array, low: Array, high: Array, sign: float) -> tuple[Array | None, float, bool]:
        """Down from one point, axis by axis: where it ends, sign times the score there, and whether a point tried had no score.

        start, low, high : shape (axes,), as the point where it ends; None where no point had a score
        """
        at, least, gone = start.copy(), np.inf, False
        for _ in range(ROUNDS if len(self.axes) > 1 else 1):
            before = least
            for axis in range(len(self.axes)):
                ends = low[axis], high[axis]
                for _ in range(ZOOMS):
                    grid = np.linspace(*ends, GRID)
                    rows = np.repeat(at[np.newaxis], GRID, axis=0)
                    rows[:, axis] = grid
                    found = sign * self.filled.own(self.lacks, self.axes, rows)
                    gone = gone or bool(np.isnan(found).any())
                    if np.isnan(found).all():
                        break
                    here = int(np.nanargmin(found))
                    at[axis], least = grid[here], min(least, float(found[here]))
                    ends = grid[max(here - 1, 0)], grid[min(here + 1, GRID - 1)]
            if not least < before:
                break
        return (at if np.isfinite(least) else None), least, gone

    def _end(self, at: Array) -> End:
        """An end of the range, at a point of shape (axes,): the score and place there, and the other products that it moves."""
        values = self.filled.values(self.lacks, self.axes, at)
        places = self.filled.places(values)[0]
        published = self.filled.table.column(self.filled.output.name).rank
        moved = (places != published) & ~(np.isnan(places) & np.isnan(published))
        moved[self.lacks.product] = False
        others = tuple((product, float(places[product])) for product in np.flatnonzero(moved).tolist())
        product = self.lacks.product
        return End(tuple(at.tolist()), float(values[0, product]), float(places[product]), others)
