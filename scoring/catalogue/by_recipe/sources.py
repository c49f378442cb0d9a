"""The files that a recipe names: their bytes, their sheets, and the hash of them all."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Grid, Options, TableFile
from scoring.catalogue.sheet_file import only_sheet
from scoring.errors import CatalogueError, Place, Problem, nearest_file
from scoring.recipe import Recipe, Table, load_recipe
from scoring.table_formats import ENDINGS
from scoring.texts.file_limits import limits, too_many
from scoring.texts.input_files import TooLarge, file_bytes


@dataclass(slots=True, eq=False)
class Sources:
    """The files of a recipe, each read once: by their names in it, their bytes."""

    recipe: Recipe
    folder: Path
    contents: dict[str, bytes] = field(default_factory=dict)
    failed: set[str] = field(default_factory=set)

    def grids(self, table: Table, problems: list[Problem]) -> Sequence[Grid]:
        """The sheets that a table of the recipe is about."""
        name = table.file or (table.database.file if table.database else "")
        content = self._content(name, table, problems)
        if content is None:
            return ()
        options = Options(table.separator, table.encoding, table.sheets or (), table.query)
        n_before = len(problems)
        grids = read_grids(TableFile(str(self.folder / name), content, options), problems)
        if table.sheets is None:
            only = _only(grids, problems)
            return () if only is None else (only,)
        shown = [grid for grid in grids if table.sheets or not grid.is_hidden]
        if not shown and len(problems) == n_before:
            problems.append(Problem(Place(str(self.folder / name)), "no sheet that shows", "one or more"))
        return shown

    def sha256(self) -> str:
        """The SHA-256 of the lines that `sha256sum` prints for the recipe and the files it reads, by their names."""
        held = {Path(self.recipe.source).name: self.recipe.text.encode(), **self.contents}
        hashes = {Path(name).as_posix(): hashlib.sha256(content).hexdigest() for name, content in held.items()}
        lines = "".join(f"{hashes[name]}  {name}\n" for name in sorted(hashes))
        return hashlib.sha256(lines.encode()).hexdigest()

    def _content(self, name: str, table: Table, problems: list[Problem]) -> bytes | None:
        if name in self.contents or name in self.failed:
            return self.contents.get(name)
        file = self.folder / name
        try:
            self.contents[name] = file_bytes(file, limits().file_bytes)
        except TooLarge as fault:
            problems.append(too_many("file_bytes", fault.size, Place(str(file))))
        except (OSError, ValueError) as fault:
            reason = getattr(fault, "strerror", None) or str(fault)
            hint = nearest_file(file, ENDINGS) if isinstance(fault, FileNotFoundError) else ""
            found = f"the file `{name}`, which cannot be read ({reason})"
            problems.append(Problem(table.place, found, "a table file in the recipe's folder or below it", hint))
        if name not in self.contents:
            self.failed.add(name)
        return self.contents.get(name)


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
    named = [table.file or (table.database.file if table.database else "") for table in recipe.tables]
    return (path, *(path.parent / name for name in dict.fromkeys(named) if name))
