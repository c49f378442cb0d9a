"""What a picture of a curve is drawn from: its values along the measure, its anchors, jumps and readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.numbers.array_types import Array, Flags


@dataclass(frozen=True, slots=True, eq=False)
class CurveTrack:
    """A part's curve over its measure.

    x, y: shape (n,), y the points, NaN where the pen is lifted; anchors: place, points there, and what it is; jumps, shape
    (jumps, 4): the place, then the points just before, at and just after it; ends: the outermost anchors, or ends of the
    reference population; readings: shape (readings,), of the products that have one; plausible: the measure's own range;
    window: from where to where on the measure the track runs; in_ratios: whether distances along the measure are ratios;
    unseen: how many more readings there are that have no place on such a measure, being 0 or less.
    """

    unit: str
    x: Array
    y: Array
    anchors: tuple[tuple[float, float, str], ...]
    jumps: Array
    ends: tuple[float, float] | None
    leans: bool
    readings: Array
    plausible: tuple[float, float] | None
    window: tuple[float, float]
    in_ratios: bool
    unseen: int

    @property
    def inside(self) -> Flags:
        """Which readings lie within the ends, shape (readings,); all of them where the curve has none."""
        low, high = self.ends if self.ends is not None else (-np.inf, np.inf)
        return np.asarray((self.readings >= low) & (self.readings <= high))

    def between(self) -> tuple[float, float]:
        """The lowest and highest points of the track."""
        return float(np.nanmin(self.y)), float(np.nanmax(self.y))
