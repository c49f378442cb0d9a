"""Where a product's place changes as one missing reading takes any value: stretches of the reading, each with its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.partial.filling import Axis, Filled
from analysis.partial.lacking import Lacking

Array = NDArray[np.float64]
#: A change that begins and ends between two neighbours of the grid is not seen.
GRID = 2001
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
    grid = np.linspace(low, high, GRID)
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


def _same(one: Array | float, other: Array | float) -> NDArray[np.bool_]:
    """Whether places are the same, element by element, of their common shape; no place is the same as no place."""
    return np.asarray((np.asarray(one) == other) | (np.isnan(one) & np.isnan(other)))
