"""From a table file to its grids, by the module of its format."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Protocol

from scoring.catalogue.formats.grid import Grid, TableFile
from scoring.errors import Place, Problem, nearest
from scoring.table_formats import FORMATS, ONE_OF_ENDINGS, Format, format_of


class Reader(Protocol):
    """The function `read` of a format's module.

    It gives a grid a sheet, all of them, in the file's order; faults go to `problems`, and where there is nothing to go on with
    there is no grid.
    """

    def __call__(self, file: TableFile, problems: list[Problem], /) -> Sequence[Grid]: ...


#: An option that a format does not take, as a fault calls it.
_CALLED = {"separator": "a separator", "encoding": "an encoding", "sheets": "sheets", "query": "a query"}


def read_grids(file: TableFile, problems: list[Problem]) -> tuple[Grid, ...]:
    """The sheets of a file, those that are wanted; nothing is read of a sheet before it is walked through.

    Parameters
    ----------
    file : its ending, one of `table_formats.ENDINGS`, says the format
    problems : faults go here; where the file cannot be read at all, nothing comes back
    """
    format_ = format_of(file.source)
    if format_ is None:
        found = f"a file that ends in `{Path(file.source).suffix}`"
        problems.append(Problem(Place(file.source), found, ONE_OF_ENDINGS))
        return ()
    if not file.content.strip():
        problems.append(Problem(Place(file.source), "an empty file", "a header row and rows below it"))
        return ()
    not_taken = _not_taken(format_, file)
    if not_taken:
        problems += not_taken
        return ()
    return _wanted(reader_of(format_)(file, problems), file.options.sheets, problems)


def reader_of(format_: Format) -> Reader:
    """What reads a format; its library is loaded only where a file is written in it."""
    reader: Reader = import_module(f"scoring.catalogue.formats.{format_.module}").read
    return reader


def _not_taken(format_: Format, file: TableFile) -> list[Problem]:
    """Options that are given and that the format cannot follow."""
    given = [name for name in _CALLED if getattr(file.options, name) and name not in format_.takes]
    takers = {name: " or ".join(other.name for other in FORMATS if name in other.takes) for name in given}
    found = {name: f"{_CALLED[name]} for a file of {format_.name}" for name in given}
    return [Problem(Place(file.source), found[name], f"`{name}` for {takers[name]} alone") for name in given]


def _wanted(grids: Sequence[Grid], names: Sequence[str], problems: list[Problem]) -> tuple[Grid, ...]:
    """The sheets of these names, in their order; all where there are none. Capitals do not count, as in spreadsheets."""
    if not names:
        return tuple(grids)
    by_name = {grid.sheet.casefold(): grid for grid in grids}
    known = [grid.sheet for grid in grids]
    for name in [name for name in names if name.casefold() not in by_name and grids]:
        found, hint = f"no sheet called `{name}`", nearest(name, known)
        problems.append(Problem(Place(grids[0].source), found, f"one of its {len(known)} sheets", hint))
    return tuple(by_name[name.casefold()] for name in names if name.casefold() in by_name)
