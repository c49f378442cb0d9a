"""Cells of repeats: the counted readings of one measure, a row a product, session and specimen, as far as they are named."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue, State
from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.numbers.array_types import Array, Flags, Integers, Texts


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Readings of one measure, a row a cell: a product, or a product and session (and specimen) where they are named.

    names: the ids of the catalogue's products; products: each cell's place among them, rising; sessions, specimens: a text a
    cell, empty where none is named; values: (n_cells, n_repeats), repeat 1 in column 0, NaN where the cell has no counted
    reading; counts, means, sds: (n_cells,), the last in the unit or as a share of the mean's size, NaN where there is none.
    """

    measure: str
    names: tuple[str, ...]
    products: Integers
    sessions: tuple[str, ...]
    specimens: tuple[str, ...]
    values: Array
    counts: Integers
    means: Array
    sds: Array

    def __post_init__(self) -> None:
        for array in (self.products, self.values, self.counts, self.means, self.sds):
            array.setflags(write=False)


def named_beside(kind: str, name: str, catalogue: Catalogue) -> Texts | None:
    """The session or specimen beside each reading of a measure, in the shape of its readings; None where there is none."""
    texts = getattr(conditions_of(catalogue, name), f"{kind}s")
    return texts if (texts != "").any() else None


def cells_of(name: str, catalogue: Catalogue, is_share: bool) -> Cells:
    """The counted readings of a measure, a row a cell; those below the limit are left out."""
    readings = catalogue.readings[name]
    there = (readings.states == State.VALUE) & np.isfinite(readings.values)
    rows, columns = np.nonzero(there)
    sessions, in_session = _labels(named_beside("session", name, catalogue), there)
    specimens, in_specimen = _labels(named_beside("specimen", name, catalogue), there)
    keys, cell = np.unique(np.stack([rows, in_session, in_specimen]), axis=1, return_inverse=True)
    values = np.full((keys.shape[1], there.shape[1]), np.nan)
    values[cell.reshape(-1), columns] = readings.values[there]
    counts = np.isfinite(values).sum(axis=1)
    means = np.nansum(values, axis=1) / np.maximum(counts, 1)
    sds = np.sqrt(np.nansum((values - means[:, np.newaxis]) ** 2, axis=1) / np.maximum(counts - 1, 1))
    size = np.abs(means) if is_share else np.ones_like(means)
    known = (counts >= 2) & (size > 0)
    sds = np.where(known, sds / np.where(known, size, 1.0), np.nan)
    return Cells(
        measure=name,
        names=catalogue.products,
        products=keys[0],
        sessions=tuple(sessions[code] for code in keys[1].tolist()),
        specimens=tuple(specimens[code] for code in keys[2].tolist()),
        values=values,
        counts=counts,
        means=means,
        sds=sds,
    )


def _labels(texts: Texts | None, there: Flags) -> tuple[list[str], Integers]:
    """The names that occur, and the place among them of each reading's."""
    if texts is None:
        return [""], np.zeros(int(there.sum()), dtype=np.int64)
    labels, codes = np.unique(texts[there].astype(str), return_inverse=True)
    return [str(label) for label in labels], codes.reshape(-1)
