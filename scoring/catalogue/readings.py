"""Readings: what the bench read of one measure, product by product and repeat by repeat."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from scoring.errors import Place
from scoring.numbers.array_types import Array, Integers, Texts


class State(enum.IntEnum):
    """What stands in one cell."""

    VALUE = 0
    BELOW = 1
    MISSING = 2
    NOT_APPLICABLE = 3
    NONE = 4


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The readings of one measure, as written and as they count.

    Every array has the shape (n_products, n_repeats); repeat 1 stands in column 0.

    Attributes
    ----------
    values : float64, in the form's unit; NaN where the state holds no number; BELOW holds what it counts as
    states : uint8, a `State`; NONE where the product has no such repeat
    reasons : (product, repeat) index -> why the reading is missing or not applicable, where that is said
    written : float64, in the form's unit: the number in the cell before the reporting limit had its say
    marks : uint8, the `State` that the cell itself states
    rows : int64, the row of the source, its header being row 1; 0 where there is none
    columns : the name of the source's column, one a repeat
    source : the file
    origin, origins : where cells stand that have no one file and one column a repeat: the index of each in the places of columns
    """

    values: Array
    states: NDArray[np.uint8]
    reasons: Mapping[tuple[int, int], str]
    written: Array
    marks: NDArray[np.uint8]
    rows: Integers
    columns: tuple[str, ...]
    source: str
    origin: Integers | None = None
    origins: tuple[Place, ...] = ()

    def __post_init__(self) -> None:
        for array in (self.values, self.states, self.written, self.marks, self.rows):
            array.setflags(write=False)

    def place(self, product: int, repeat: int) -> Place:
        """Where a cell stands in its file; both indices count from 0."""
        if self.origin is not None and self.rows[product, repeat]:
            column = self.origins[int(self.origin[product, repeat])]
            return replace(column, line=int(self.rows[product, repeat]))
        return Place(self.source, int(self.rows[product, repeat]), column_name=self.columns[repeat])


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """What one table of readings holds of what the formula declares; `source` is what it stands in.

    `unused` names the measures that it does not declare, `left_out` the columns of words.
    `extras` holds, for "operator", "session", "specimen" and "date" where the file has them, a text for every cell
    of every measure, in arrays of the readings' shape.
    """

    source: str
    products: tuple[str, ...]
    attributes: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, Readings]
    unused: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    extras: Mapping[str, Mapping[str, Texts]] = field(default_factory=dict)
