"""Cells of repeats: the counted readings of one measure, a row a product, or a product and session."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, State

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Readings of one measure, a row a cell: a product, or a product and session where sessions are named.

    names: the ids of the catalogue's products; products: each cell's place among them, rising; sessions: a text a cell, empty
    where none is named; values: (n_cells, n_repeats), repeat 1 in column 0, NaN where the cell has no counted reading;
    counts, means, sds: (n_cells,), the last in the unit or as a share of the mean's size, NaN where there is none.
    """

    measure: str
    names: tuple[str, ...]
    products: Indices
    sessions: tuple[str, ...]
    values: Array
    counts: Indices
    means: Array
    sds: Array

    def __post_init__(self) -> None:
        for array in (self.products, self.values, self.counts, self.means, self.sds):
            array.setflags(write=False)


def cells_of(name: str, catalogue: Catalogue, is_share: bool) -> Cells:
    """The counted readings of a measure, a row a product and session; those below the limit are left out."""
    readings = catalogue.readings[name]
    texts = catalogue.extras.get("session", {}).get(name, np.full(readings.values.shape, "", dtype=object))
    labels, codes = np.unique(texts.astype(str), return_inverse=True)
    there = (readings.states == State.VALUE) & np.isfinite(readings.values)
    rows, columns = np.nonzero(there)
    n_labels = max(len(labels), 1)
    keys, cell = np.unique(rows * n_labels + codes.reshape(there.shape)[there], return_inverse=True)
    values = np.full((len(keys), there.shape[1]), np.nan)
    values[cell, columns] = readings.values[there]
    counts = np.isfinite(values).sum(axis=1)
    means = np.nansum(values, axis=1) / np.maximum(counts, 1)
    sds = np.sqrt(np.nansum((values - means[:, np.newaxis]) ** 2, axis=1) / np.maximum(counts - 1, 1))
    size = np.abs(means) if is_share else np.ones_like(means)
    known = (counts >= 2) & (size > 0)
    sds = np.where(known, sds / np.where(known, size, 1.0), np.nan)
    sessions = tuple(str(labels[key]) for key in (keys % n_labels).tolist())
    return Cells(name, catalogue.products, keys // n_labels, sessions, values, counts, means, sds)
