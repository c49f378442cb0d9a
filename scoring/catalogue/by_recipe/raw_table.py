"""A table as a recipe cuts it out of its sheet, and how its columns are found by name."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scoring.catalogue.by_recipe.header import header_name, one_line
from scoring.catalogue.column_names import ColumnName
from scoring.catalogue.corrected import CorrectedCell
from scoring.catalogue.formats.grid import Grid
from scoring.catalogue.sheets import Sheet
from scoring.errors import Place, column_letters
from scoring.numbers.array_types import Integers
from scoring.recipe import Table


@dataclass(frozen=True, slots=True, eq=False)
class RawTable:
    """A table as the recipe cuts it out of a sheet.

    sheet : its columns, named as the file does, repeated and empty names included
    names : what each column is called without unit and repeat, and these; the unit of a row of units included
    beside : columns with content beyond the header, by their letters or numbers
    corrected : the cells that the recipe corrects
    below : the numbers of all rows below the header, those that are not of the table too
    met : by key of the recipe and column, the words of it that cells say, in small letters
    """

    table: Table
    grid: Grid
    sheet: Sheet
    names: tuple[ColumnName, ...]
    beside: tuple[str, ...] = ()
    below: Integers = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    corrected: tuple[CorrectedCell, ...] = ()
    met: dict[tuple[str, str], frozenset[str]] = field(default_factory=dict)

    def find(self, column: str) -> int | None:
        """The index of the column of a name: the one written just so, or the only one once unit and repeat are taken out.

        A column without a name is called by its letters, `column A`; of a text file, by its number.
        """
        wanted = one_line(column)
        if wanted in self.sheet.header:
            return self.sheet.header.index(wanted)
        unnamed = [index for index, text in enumerate(self.sheet.header) if not text]
        letters = {f"column {column_letters(index + 1)}": index for index in unnamed}
        numbers = {f"column {index + 1}": index for index in unnamed}
        if wanted in letters or wanted in numbers:
            return letters.get(wanted, numbers.get(wanted))
        bare = header_name(wanted).name
        alike = [index for index, name in enumerate(self.names) if name.name == bare and self.sheet.header[index]]
        return alike[0] if len(alike) == 1 else None

    def header_place(self) -> Place:
        """Where the header stands."""
        return Place(self.sheet.source, self.sheet.header_line, sheet=self.sheet.sheet)
