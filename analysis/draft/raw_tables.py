"""A sheet as it stands in a file, before anybody knows where its header is: numbered rows of cells."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from scoring.catalogue.cells import text_of

#: A row: its number as the file counts, and its cells.
RawRow = tuple[int, tuple[object, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class RawTable:
    """The rows of one sheet that hold anything, or of one table of a database.

    file : its path from the folder of the recipe; sheet : its name, "" where the format has none
    is_spreadsheet : its cells have addresses such as C7
    """

    file: str
    rows: tuple[RawRow, ...]
    sheet: str = ""
    is_spreadsheet: bool = False

    @property
    def called(self) -> str:
        """The sheet or table, or where there is none the file, as a sentence names it."""
        if not self.sheet:
            return self.file
        return f"{'sheet' if self.is_spreadsheet else 'table'} {self.sheet}"

    def cell(self, row: int, column: int, name: str = "") -> str:
        """The address of a cell: its row by number, its column counted from 0, or by its name where the format has no letters."""
        return f"{letters_of(column)}{row}" if self.is_spreadsheet else f"row {row}, column {name or column + 1}"


def letters_of(column: int) -> str:
    """A column's letters as a spreadsheet shows them.

    Examples
    --------
    >>> letters_of(0), letters_of(25), letters_of(26), letters_of(702)
    ('A', 'Z', 'AA', 'AAA')
    """
    letters, rest = "", column + 1
    while rest:
        rest, last = divmod(rest - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters


def raw_table(table: Sequence[Sequence[object]], file: str = "bench.xlsx", sheet: str = "") -> RawTable:
    """Rows numbered from 1 as a sheet; those without content are left out, as formats leave them out."""
    rows = [(number, tuple(cells)) for number, cells in enumerate(table, start=1)]
    filled = tuple((number, cells) for number, cells in rows if any(text_of(cell) for cell in cells))
    return RawTable(file, filled, sheet, is_spreadsheet=not file.endswith((".csv", ".tsv")))


def is_day(cell: object) -> bool:
    """Whether a typed cell is a date."""
    return isinstance(cell, datetime.date)
