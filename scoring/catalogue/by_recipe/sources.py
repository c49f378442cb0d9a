"""The files that a recipe names: their bytes, their sheets, and the hash of them all."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from scoring.catalogue.files import read_file
from scoring.catalogue.formats.database import read_database
from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Grid, Options, TableFile, table_of
from scoring.catalogue.sheet_file import only_sheet
from scoring.catalogue.sheet_frame import digest_of
from scoring.errors import CatalogueError, Place, Problem
from scoring.recipe import Recipe, Table, load_recipe


@dataclass(slots=True, eq=False)
class Sources:
    """The files of a recipe, each read once: by their names in it, their bytes; and the hashes of all that was read."""

    recipe: Recipe
    folder: Path
    files: dict[str, TableFile | None] = field(default_factory=dict)
    hashes: dict[str, str] = field(default_factory=dict)

    def grids(self, table: Table, problems: list[Problem]) -> Sequence[Grid]:
        """The sheets that a table of the recipe is about."""
        if table.database is not None and table.database.variable:
            return self._of_database(table, problems)
        file = self._file(named_file(table), table, problems)
        if file is None:
            return ()
        options = Options(table.separator, table.encoding, table.sheets or (), table.query)
        n_before = len(problems)
        grids = read_grids(replace(file, options=options), problems)
        if table.sheets is None:
            only = _only(grids, problems)
            return () if only is None else (only,)
        shown = [grid for grid in grids if table.sheets or not grid.is_hidden]
        if not shown and len(problems) == n_before:
            problems.append(Problem(Place(file.source), "no sheet that shows", "one or more"))
        return shown

    def sha256(self) -> str:
        """The SHA-256 of the lines that `sha256sum` prints for the recipe and the files it reads, by their names."""
        own = {Path(self.recipe.source).name: hashlib.sha256(self.recipe.text.encode()).hexdigest()}
        hashes = own | self.hashes
        lines = "".join(f"{hashes[name]}  {name}\n" for name in sorted(hashes))
        return hashlib.sha256(lines.encode()).hexdigest()

    def _file(self, name: str, table: Table, problems: list[Problem]) -> TableFile | None:
        """A file by its name in the recipe; one that cannot be read is a fault once, where the recipe names it."""
        if name not in self.files:
            found: list[Problem] = []
            self.files[name] = file = read_file(self.folder / name, found)
            for one in found:
                problems.append(replace(one, place=table.place, found=f"`{name}`: {one.found}"))
            if file is not None:
                self.hashes[Path(name).as_posix()] = hashlib.sha256(file.content).hexdigest()
        return self.files[name]

    def _of_database(self, table: Table, problems: list[Problem]) -> Sequence[Grid]:
        """What a query gives; it is asked once, so that what is hashed is what is read."""
        assert table.database is not None  # only called where there is one
        grid = read_database(table.database.variable, table.query, problems)
        sheet = table_of(grid, problems) if grid is not None else None
        if grid is None or sheet is None:
            return ()
        number = sum(name.startswith(grid.source) for name in self.hashes)
        self.hashes[f"{grid.source}{f' ({number + 1})' if number else ''}"] = digest_of(sheet)
        return (replace(grid, whole=sheet),)


def named_file(table: Table) -> str:
    """The file that a table stands in, as the recipe names it; empty for a database elsewhere."""
    return table.file or (table.database.file if table.database is not None else "")


def _only(grids: Sequence[Grid], problems: list[Problem]) -> Grid | None:
    """The only sheet that shows, or the one called as the file."""
    shown = [grid for grid in grids if not grid.is_hidden] or list(grids)
    found: list[Problem] = []
    only = only_sheet(shown, found)
    for one in found:
        names = ", ".join(f'"{grid.sheet}"' if " " in grid.sheet else grid.sheet for grid in shown)
        hint = f"Write `sheets: [{names}]` in the recipe, those that hold readings; or `sheets: all`."
        problems.append(Problem(one.place, one.found, one.expected, hint))
    return only


def files_of(path: Path) -> tuple[Path, ...]:
    """A recipe and the files that it names, whether they are there or not; the recipe alone where it cannot be read."""
    try:
        recipe = load_recipe(path)
    except CatalogueError:
        return (path,)
    named = dict.fromkeys(named_file(table) for table in recipe.tables)
    return (path, *(path.parent / name for name in named if name))
