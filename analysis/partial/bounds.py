"""Where the place of a partial product may lie, whatever it lacks: at worst, at best, and stretch by stretch of one reading.

Nothing is taken for granted of a missing reading but that it lies in its plausible range (C. F. Manski, Partial
Identification of Probability Distributions, 2003, ch. 1; from memory), so that no model is needed. The ends are searched:
each missing reading is scanned on a grid, the others held, in turn and from several starts; curves may turn or jump, so
that the ends of a range need not be the worst or the best.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.partial.filling import Axis, Filled, Lacking
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.ranks import rank

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
    highest = filled.output.ranks.best.value == "highest"
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
    rules = filled.output.ranks
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
            ranks[side, product] = rank(held, rules.best.value, rules.ties.value)[product]
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


#: A change that begins and ends between two neighbours of the grid is not seen.
FINE_GRID = 2001
#: Into so many pieces is what lies between two points cut at a time, and so often at most: down to the last bits of a double.
PIECES, CUTS = 32, 16


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one reading up to the next at which the place changes; place: NaN where the product has none there.

    The place changes at `start` or within a last bit below it.
    """

    start: float
    stop: float
    place: float


def stretches_of(filled: Filled, lacks: Lacking, axis: Axis) -> tuple[Stretch, ...]:
    """The place over the range of one missing reading, whatever else the product lacks staying missing."""

    def place_at(readings: Array) -> Array:
        return filled.own_places(lacks, (axis,), readings[:, np.newaxis])

    return stretches(place_at, axis.low, axis.high)


def stretches(place_at: Callable[[Array], Array], low: float, high: float) -> tuple[Stretch, ...]:
    """Stretches of equal place from low to high: a grid of 2 001 points, then cut down between neighbours that differ.

    place_at : readings, shape (n,), to places, the same shape
    """
    grid = np.linspace(low, high, FINE_GRID)
    places = place_at(grid)
    starts, held = [low], [float(places[0])]
    waiting = [(int(i), grid[i], grid[i + 1]) for i in np.flatnonzero(~_same(places[:-1], places[1:]))]
    edges: list[tuple[float, float]] = []
    while waiting:
        found = _cut_down(place_at, np.array([a for _, a, _ in waiting]), np.array([b for _, _, b in waiting]))
        edges += found
        reached = place_at(np.array([edge for edge, _ in found]))
        waiting = [
            (i, edge, grid[i + 1])
            for (i, _, _), (edge, _), place in zip(waiting, found, reached, strict=True)
            if not _same(place, places[i + 1]) and edge < grid[i + 1]
        ]
    for edge, place in sorted(edges):
        if not _same(np.array(held[-1]), np.array(place)):
            starts.append(edge)
            held.append(place)
    return tuple(Stretch(a, b, p) for a, b, p in zip(starts, [*starts[1:], high], held, strict=True))


def _cut_down(place_at: Callable[[Array], Array], low: Array, high: Array) -> list[tuple[float, float]]:
    """For each pair of points whose places differ, the first one found that has not the lower one's place, and its place.

    low, high : shape (pairs,)
    """
    first, last = np.split(place_at(np.concatenate([low, high])), 2)
    pairs = np.arange(len(low))
    for _ in range(CUTS):
        points = np.linspace(low, high, PIECES + 1, axis=1)
        if ((points[:, 1] <= low) | (points[:, -2] >= high)).all():
            break
        places = place_at(points[:, 1:-1].ravel()).reshape(len(low), -1)
        places = np.concatenate([places, last[:, np.newaxis]], axis=1)
        left = np.argmax(~_same(places, first[:, np.newaxis]), axis=1)
        low, high, last = points[pairs, left], points[pairs, left + 1], places[pairs, left]
    return list(zip(high.tolist(), last.tolist(), strict=True))


def _same(one: Array | float, other: Array | float) -> Flags:
    """Whether places are the same, element by element, of their common shape; no place is the same as no place."""
    return np.asarray((np.asarray(one) == other) | (np.isnan(one) & np.isnan(other)))
