"""Where results go, by the path that was asked for: one file by its ending, or a folder. Asked before the work is done."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from analysis.outputs.guard import Guard
from analysis.outputs.table_files import TABLES
from analysis.outputs.whole_folders import check_folder_of_output
from scoring.errors import FileError, Place, Problem

#: Files of figures, and pages.
FIGURES = (".json", *TABLES)
ENDINGS = (*FIGURES, ".html", ".md", ".tex", ".typ", ".pdf")


def is_one_file(out: Path, endings: Sequence[str] = ENDINGS) -> bool:
    """Whether results go to one file; else they go to a folder.

    Raises
    ------
    FileError : an ending that is neither, or a place where nothing can be written
    """
    expected = "a folder" + (f", or a file ending in {' '.join(endings)}" if endings else "")
    try:
        is_folder = out.is_dir()
        to_file = out.suffix.lower() in endings and not is_folder
        above = out.parent if to_file else next(folder for folder in (out, *out.parents) if folder.exists())
        found = "" if above.is_dir() and os.access(above, os.W_OK) else f"{above} is no folder that can be written"
    except OSError as fault:
        found, to_file, is_folder = fault.strerror or "a path that cannot be", True, False
    if not to_file and out.suffix and not is_folder:
        found = f"the ending `{out.suffix}`"
    if found:
        raise FileError([Problem(Place(str(out)), found, expected)])
    return to_file


def check_output(out: Path, guard: Guard, *, by: str, endings: Sequence[str] = ENDINGS) -> None:
    """Refuse a file or folder of results where something stands that must stay.

    Raises
    ------
    FileError : something that must stay
    """
    if is_one_file(out, endings):
        guard.check(out)
    else:
        check_folder_of_output(out, guard, by=by)
