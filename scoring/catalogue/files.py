"""The files of a catalogue: one file, or a folder with `readings.*` and perhaps `items.*`; and their hash."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

from scoring.catalogue.formats.grid import AS_IT_IS, Options, TableFile
from scoring.errors import Place, Problem, nearest_file
from scoring.recipe import NAMES as RECIPES
from scoring.recipe import is_recipe
from scoring.table_formats import ENDINGS, ONE_OF_ENDINGS, format_of
from scoring.texts.file_limits import limits, too_many
from scoring.texts.input_files import TooLarge, file_bytes


def read_files(path: Path, problems: list[Problem]) -> dict[str, TableFile]:
    """The files of the catalogue at `path` by their role, "readings" and "items"."""
    try:
        chosen = _chosen(path, problems)
    except OSError as fault:
        reason = fault.strerror or str(fault)
        found, expected = f"it cannot be looked into ({reason})", "a folder or file that can be read"
        problems.append(Problem(Place(str(path)), found, expected))
        return {}
    files = {role: read_file(file, problems) for role, file in chosen.items() if file}
    return {role: file for role, file in files.items() if file}


def _chosen(path: Path, problems: list[Problem]) -> dict[str, Path | None]:
    """The file of each role; None where there is none."""
    chosen: dict[str, Path | None]
    if path.is_dir():
        chosen = {role: _only(path, role, problems) for role in ("readings", "items")}
        if chosen["readings"] is None and not problems:
            expected = f"a file called readings in it, with the ending {ONE_OF_ENDINGS}"
            problems.append(Problem(Place(str(path)), "a folder without readings", expected, _beside(path)))
    elif path.suffix.lower() in ENDINGS:
        chosen = {"readings": path}
    else:
        chosen = {}
        expected = f"a folder, or a file with the ending {ONE_OF_ENDINGS}"
        problems.append(Problem(Place(str(path)), *_no_table(path, expected)))
    return chosen


def recipe_at(path: Path, problems: list[Problem]) -> Path | None:
    """The recipe that a path names: its own file, or the one in a folder; None where the path is of another catalogue."""
    if not os.path.isdir(path):
        return path if is_recipe(path) else None
    there = [path / name for name in RECIPES if os.path.isfile(path / name)]
    if len(there) > 1:
        found = f"{' and '.join(file.name for file in there)} side by side"
        problems.append(Problem(Place(str(path)), found, "one recipe of the folder", "Keep the one that holds."))
        return None
    return there[0] if there else None


def digest(files: Mapping[str, TableFile], *, is_folder: bool) -> str:
    """The SHA-256 of a file, or for a folder that of the lines which `sha256sum` prints for its files by name."""
    hashes = {Path(file.source).name: hashlib.sha256(file.content).hexdigest() for file in files.values()}
    if not is_folder:
        return next(iter(hashes.values()))
    lines = "".join(f"{hashes[name]}  {name}\n" for name in sorted(hashes))
    return hashlib.sha256(lines.encode()).hexdigest()


def _only(folder: Path, role: str, problems: list[Problem]) -> Path | None:
    """The one file of a role in a folder."""
    files = [folder / f"{role}{ending}" for ending in ENDINGS if (folder / f"{role}{ending}").exists()]
    if len(files) > 1:
        found = f"{' and '.join(file.name for file in files)} side by side"
        problems.append(Problem(Place(str(folder)), found, f"one file of {role}", "Keep the one that holds."))
        return None
    return files[0] if files else None


def read_file(file: Path, problems: list[Problem], options: Options = AS_IT_IS) -> TableFile | None:
    """The bytes of a table file, with how to read it; None where it cannot be read, or is not all there."""
    try:
        unfinished = _unfinished(file)
        if unfinished is not None:
            problems.append(unfinished)
            return None
        return TableFile(str(file), file_bytes(file, limits().file_bytes), options)
    except TooLarge as fault:
        problems.append(too_many("file_bytes", fault.size, Place(str(file))))
        return None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        hint = nearest_file(file, ENDINGS) if isinstance(fault, FileNotFoundError) else ""
        problems.append(Problem(Place(str(file)), f"a file that cannot be read ({reason})", "a table file", hint))
        return None


def _unfinished(file: Path) -> Problem | None:
    """The fault of a file of whose changes some still stand in another beside it."""
    format_ = format_of(file.name)
    beside = [file.with_name(file.name + ending) for ending in (format_.unfinished if format_ else ())]
    held = next((other for other in beside if other.is_file() and other.stat().st_size), None)
    if held is None:
        return None
    found = f"changes that are not in the file yet (they stand in {held.name})"
    return Problem(Place(str(file)), found, "all of it in one file", "Close the program that has it open.")


def _no_table(path: Path, expected: str) -> tuple[str, str, str]:
    """What a path is that is no catalogue: found, expected, hint."""
    if not path.exists():
        return "no such file or folder", expected, nearest_file(path, ENDINGS)
    if path.suffix.lower() in {".yaml", ".yml"}:
        return (
            "a YAML file, where the readings belong",
            expected,
            "A formula? Give the file of readings here, or a recipe (`readings: ...`).",
        )
    hint = "Open it in a spreadsheet program and save it as .xlsx or .csv."
    return f"a file with the ending `{path.suffix}`", expected, hint


def _beside(folder: Path) -> str:
    """A hint at the table files that a folder holds under other names."""
    names = sorted(file.name for file in folder.iterdir() if file.suffix.lower() in ENDINGS)
    if not names:
        return "It holds no table file."
    shown = ", ".join(names[:5]) + (", ..." if len(names) > 5 else "")
    return f"It holds {shown}: give that file, or rename it."
