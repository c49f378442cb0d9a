"""As read: what the cells of one measure say in a unit that is not the formula's, beside what was made of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scoring.numbers.array_types import Array, Flags, Indices

#: More digits than any bench reads, and fewer than the dust of a float has.
_DIGITS = 15


class Said(NamedTuple):
    """A number as it stands in its cell, and the unit that the table states for it."""

    number: float
    unit: str

    @property
    def figure(self) -> str:
        """The number alone, as a person writes it."""
        return f"{self.number:.{_DIGITS}g}"

    def __str__(self) -> str:
        return f"{self.figure} {self.unit}"


@dataclass(frozen=True, slots=True, eq=False)
class AsRead:
    """The converted readings of one measure, as their cells say them.

    Attributes
    ----------
    numbers : float64, shape (n_products, n_repeats): the number in the cell, of a reading below a limit that limit; NaN where
        nothing was converted
    codes : int16, the same shape: which of `units` the cell is in; -1 where it is in the formula's own, or holds no number
    units : as the table writes them
    """

    numbers: Array
    codes: NDArray[np.int16]
    units: tuple[str, ...]

    def __post_init__(self) -> None:
        for array in (self.numbers, self.codes):
            array.setflags(write=False)

    def at(self, product: int, repeat: int) -> Said | None:
        """What one cell says; None where it is in the formula's unit. Both indices count from 0."""
        code = int(self.codes[product, repeat])
        return Said(float(self.numbers[product, repeat]), self.units[code]) if code >= 0 else None

    def without(self, product: int, repeat: int) -> AsRead:
        """The same without one cell."""
        numbers, codes = self.numbers.copy(), self.codes.copy()
        numbers[product, repeat], codes[product, repeat] = np.nan, -1
        return AsRead(numbers, codes, self.units)


class AsReadCells:
    """Gathers what cells say while the readings of one measure, of shape (n_products, n_repeats), are put together.

    No array is made before the first cell in another unit comes: most catalogues have none.
    """

    def __init__(self, shape: tuple[int, int]) -> None:
        self._shape = shape
        self._units: dict[str, int] = {}
        self._numbers: Array | None = None
        self._codes: NDArray[np.int16] | None = None

    def put(self, cells: tuple[Indices, Indices], numbers: Array, unit: str) -> None:
        """Keep the numbers, shape (n_cells,), of cells in `unit`; NaN is no number, and is passed over."""
        if self._numbers is None or self._codes is None:
            self._numbers = np.full(self._shape, np.nan)
            self._codes = np.full(self._shape, -1, dtype=np.int16)
        code = self._units.setdefault(unit, len(self._units))
        self._numbers[cells] = numbers
        self._codes[cells] = np.where(np.isnan(numbers), -1, code)

    def take(self, source: AsRead | None, rows: Indices, at: Flags) -> None:
        """Keep rows of another table, `rows` of shape (n_taken,), at the products `at`, shape (n_products,)."""
        if source is None:
            return
        codes, numbers = source.codes[rows], source.numbers[rows]
        products = np.flatnonzero(at)
        for code, unit in enumerate(source.units):
            taken, repeats = np.nonzero(codes == code)
            if len(taken):
                self.put((products[taken], repeats), numbers[taken, repeats], unit)

    def gathered(self) -> AsRead | None:
        """What came; None where every cell is in the formula's unit."""
        if self._numbers is None or self._codes is None:
            return None
        return AsRead(self._numbers, self._codes, tuple(self._units))


def as_read_of(rows: Sequence[Sequence[Said | None]], shape: tuple[int, int]) -> AsRead | None:
    """What a record keeps, a row a product, in the shape (n_products, n_repeats); what lies past a row's end is left out."""
    gathered = AsReadCells(shape)
    for product, row in enumerate(rows):
        for repeat, said in enumerate(row[: shape[1]]):
            if said is not None:
                cell = np.array([product]), np.array([repeat])
                gathered.put(cell, np.array([said.number]), said.unit)
    return gathered.gathered()
