"""A table file as it stands, without a recipe: one sheet, whose first row is the header."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Grid, TableFile, table_of
from scoring.catalogue.sheets import Sheet, with_checked_names
from scoring.errors import Place, Problem
from scoring.table_formats import ENDINGS

__all__ = ["ENDINGS", "only_sheet", "read_sheet"]


def read_sheet(content: bytes, source: str, problems: list[Problem]) -> Sheet | None:
    """Read one table file; faults go to `problems`, and None comes back where there is nothing to go on with.

    Parameters
    ----------
    content : the bytes of the file
    source : the file's name as messages give it; its ending, one of `ENDINGS`, says the format
    """
    n_before = len(problems)
    grid = only_sheet(read_grids(TableFile(source, content), problems), problems)
    sheet = None if grid is None else table_of(grid, problems)
    if sheet is None:
        return None
    if not sheet.lines.size:
        if len(problems) == n_before:
            problems.append(Problem(Place(source), "a header and no rows", "a row for every product or reading"))
        return None
    return with_checked_names(sheet, problems)


def only_sheet(grids: Sequence[Grid], problems: list[Problem]) -> Grid | None:
    """The sheet called as the file is without its ending, or the only one."""
    if not grids:
        return None
    source = grids[0].source
    wanted = Path(source).stem.lower()
    fitting = [grid for grid in grids if grid.sheet.lower() == wanted] or list(grids)
    if len(fitting) == 1:
        return fitting[0]
    names = [grid.sheet for grid in grids]
    hint = f"Its sheets: {', '.join(names)}. A recipe names those to read: `sheets: [{names[0]}]`."
    expected = f"one sheet, or one called `{wanted}`"
    problems.append(Problem(Place(source), f"{len(grids)} sheets", expected, hint))
    return None
