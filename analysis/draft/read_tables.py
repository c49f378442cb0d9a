"""Files of a bench as sheets of cells, with no more said of them than their names."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.draft.raw_tables import RawTable
from analysis.draft.text_files import Written, how_written
from scoring.catalogue.cells import Fault
from scoring.catalogue.files import read_files
from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Grid, Options
from scoring.errors import CatalogueError, FileError, Place, Problem
from scoring.table_formats import format_of


@dataclass(frozen=True, slots=True, eq=False)
class BenchFiles:
    """The sheets of all files, in order; how each text file is written, by its path from the folder of the recipe."""

    tables: tuple[RawTable, ...]
    text_files: dict[str, Written]
    folder: Path


def read_tables(paths: Sequence[Path], folder: Path | None) -> BenchFiles:
    """Read every sheet of some files.

    Parameters
    ----------
    folder : that of the recipe, in which or below which the files must lie; None where no recipe is to be written

    Raises
    ------
    CatalogueError : a file cannot be read; FileError : it does not lie there
    """
    problems: list[Problem] = []
    tables: list[RawTable] = []
    written: dict[str, Written] = {}
    for path in paths:
        name = path.name if folder is None else _below(path, folder)
        file = read_files(path, problems).get("readings")
        if file is None:
            continue
        how = _how_written(path, file.content)
        if how != Written():
            written[name] = how
        told = replace(file, options=Options(separator=how.separator, encoding=how.encoding))
        tables += [_raw(grid, name, problems) for grid in read_grids(told, problems)]
    if problems:
        raise CatalogueError(problems)
    return BenchFiles(tuple(tables), written, folder or paths[0].parent)


def _below(path: Path, folder: Path) -> str:
    """The path of a file from a folder that it lies in, with slashes."""
    whole, base = Path(os.path.abspath(path)), Path(os.path.abspath(folder))
    if not whole.is_relative_to(base):
        found = f"a formula in `{folder}`, and the readings elsewhere"
        expected = "both in one folder, or the readings below it: a recipe names its files from its own folder"
        raise FileError([Problem(Place("--out"), found, expected, f"Write it to {whole.parent / 'beds.yaml'}.")])
    return whole.relative_to(base).as_posix()


def _how_written(path: Path, content: bytes) -> Written:
    """How a text file is written; nothing of any other."""
    format_ = format_of(str(path))
    if format_ is None or "separator" not in format_.takes:
        return Written()
    return how_written(content, "\t" if path.suffix.lower() == ".tsv" else ",")


def _raw(grid: Grid, name: str, problems: list[Problem]) -> RawTable:
    rows = tuple((line, tuple(map(_plain, cells))) for line, cells in grid.rows(problems))
    return RawTable(name, rows, grid.sheet, grid.is_spreadsheet)


def _plain(cell: object) -> object:
    """A cell that holds no value and says why is an empty one here; it is told of where it is read."""
    return None if isinstance(cell, Fault) else cell
