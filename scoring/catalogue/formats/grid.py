"""Grids: what a format makes of a file, one a sheet: numbered rows of cells, made as they are walked through."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from scoring.catalogue.cells import Fault, text_of
from scoring.catalogue.sheets import Sheet, sheet_of
from scoring.errors import CatalogueError, Place, Problem

#: A row: its number as the file counts, and its cells.
Row = tuple[int, Sequence[object]]


@dataclass(frozen=True, slots=True)
class Options:
    """How a file is to be read where it does not say so itself; what is empty is left to the format.

    separator : one character between cells, or `tab`; encoding : one that Python knows; sheets : those wanted, by name, in this
    order; query : one statement of SQL that reads
    """

    separator: str = ""
    encoding: str = ""
    sheets: tuple[str, ...] = ()
    query: str = ""


#: Nothing said of how to read a file.
AS_IT_IS = Options()


@dataclass(frozen=True, slots=True)
class TableFile:
    """One table file: its path as messages give it, and its bytes, read once so that the hash is of what was read.

    `options` say how to read it.
    """

    source: str
    content: bytes
    options: Options = AS_IT_IS


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """One sheet of a file.

    source : the file, as messages name it
    rows : a new walk through the rows that hold anything, whenever it is called. Faults of single rows go to the list that it
        takes; what ends the walk early, such as a limit, is raised as a CatalogueError.
    sheet : its name, "" where the format has none
    is_spreadsheet : its cells have addresses such as C7, and a row ends with its last filled cell. A cell of type `Fault` holds
        no value, and says why: it is a fault only where it is read.
    is_hidden : whether the file keeps it from view
    too_long : what to try where a row has more cells than the header
    whole : the same as a table with its first row as the header, where the format has this without a walk
    """

    source: str
    rows: Callable[[list[Problem]], Iterator[Row]]
    sheet: str = ""
    is_spreadsheet: bool = False
    is_hidden: bool = False
    too_long: str = ""
    whole: Sheet | None = None


def table_of(grid: Grid, problems: list[Problem], rows: Iterator[Row] | None = None) -> Sheet | None:
    """A grid as a table of named columns; faults go to `problems`, and None comes back where there is nothing to go on with.

    Parameters
    ----------
    rows : the header and the rows below it, where these are not simply the rows of the grid
    """
    if rows is None and grid.whole is not None:
        return grid.whole
    walked = grid.rows(problems) if rows is None else rows
    n_before = len(problems)
    try:
        equal = _equally_long(grid, walked, problems) if grid.is_spreadsheet else walked
        sheet = sheet_of(grid.source, equal, problems, grid.too_long)
        return replace(sheet, sheet=grid.sheet) if sheet is not None and grid.is_spreadsheet else sheet
    except CatalogueError as fault:
        problems += fault.problems
        return None
    finally:
        if grid.is_spreadsheet:
            on_sheet = [replace(one, place=replace(one.place, sheet=grid.sheet)) for one in problems[n_before:]]
            problems[n_before:] = on_sheet


def _equally_long(grid: Grid, rows: Iterator[Row], problems: list[Problem]) -> Iterator[Row]:
    """Rows as long as the header: a spreadsheet does not keep the empty cells at the end of a row. Faulty cells are told."""
    header: Sequence[object] = ()
    for line, cells in rows:
        header = header or cells
        if Fault in map(type, cells):
            cells = _without_faults(grid, (line, cells), () if header is cells else header, problems)
        yield line, (*cells, *[None] * (len(header) - len(cells)))


def _without_faults(grid: Grid, row: Row, header: Sequence[object], problems: list[Problem]) -> list[object]:
    """The cells of a row, its faulty ones told and empty."""
    line, cells = row
    kept = list(cells)
    for column, cell in enumerate(cells):
        if isinstance(cell, Fault):
            name = text_of(header[column]) if column < len(header) else ""
            place = Place(grid.source, line, column + 1, name)
            problems.append(Problem(place, cell.found, cell.expected, cell.hint))
            kept[column] = None
    return kept
