"""What study commands share: the study as asked for, and where results go."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.cli.inputs import scored
from analysis.json_text import json_bytes
from analysis.outputs.guard import Guard
from analysis.outputs.table_files import table_bytes
from analysis.outputs.whole_files import write_whole
from analysis.outputs.whole_folders import check_folder_of_output, write_folder
from analysis.report.studied import AskedOfStudy, study_of
from analysis.study import Study
from scoring.errors import FileError, Place, Problem
from scoring.table.table import ScoreTable

TABLE_ENDINGS = (".json", ".csv", ".parquet", ".xlsx")


def load_for_study(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    only: Sequence[str],
    pairs: Sequence[str],
    top: int | None,
) -> tuple[Study, ScoreTable]:
    """The study as asked for, and the scores as published.

    Raises
    ------
    SteelyardError : anything asked for that is not there
    """
    table = scored(formula, catalogue, settings)
    asked = AskedOfStudy(only, [[part.strip() for part in pair.split(",")] for pair in pairs], top)
    return study_of(study, table, asked), table


def is_table(out: Path, endings: Sequence[str] = TABLE_ENDINGS) -> bool:
    """Whether results go to one file of a table or document; else they go to a folder. Asked before the work is done.

    Raises
    ------
    FileError : an ending that is neither, or a place where nothing can be written
    """
    expected = "a folder" + (f", or a file ending in {' '.join(endings)}" if endings else "")
    try:
        is_folder = out.is_dir()
        to_table = out.suffix.lower() in endings and not is_folder
        above = out.parent if to_table else next(folder for folder in (out, *out.parents) if folder.exists())
        found = "" if above.is_dir() and os.access(above, os.W_OK) else f"{above} is no folder that can be written"
    except OSError as fault:
        found, to_table, is_folder = fault.strerror or "a path that cannot be", True, False
    if not to_table and out.suffix and not is_folder:
        found = f"the ending `{out.suffix}`"
    if found:
        raise FileError([Problem(Place(str(out)), found, expected)])
    return to_table


def check_output(out: Path, guard: Guard, *, by: str, endings: Sequence[str] = TABLE_ENDINGS) -> None:
    """Refuse a file or folder of results where something stands that must stay. Asked before the work is done.

    Raises
    ------
    FileError : something that must stay
    """
    if is_table(out, endings):
        guard.check(out)
    else:
        check_folder_of_output(out, guard, by=by)


def write_results(
    out: Path,
    name: str,
    document: dict[str, Any],
    frame: pd.DataFrame,
    figures: Callable[[], dict[str, bytes]],
    guard: Guard,
) -> None:
    """One file by its ending, or a folder with the document, the table and what `figures` draws.

    Raises
    ------
    FileError : a file cannot be written, or the folder not made
    """
    if is_table(out):
        ending = out.suffix.lower()
        write_whole(out, json_bytes(document) if ending == ".json" else table_bytes(frame, ending), guard)
        return
    files = {f"{name}.json": json_bytes(document), f"{name}.csv": table_bytes(frame, ".csv")}
    write_folder(out, files | figures(), guard, by=name)
