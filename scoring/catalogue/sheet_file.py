"""Table files: the format is known by its ending."""

from __future__ import annotations

from pathlib import Path

from scoring.catalogue.sheet_csv import read_csv
from scoring.catalogue.sheets import Sheet, with_checked_names
from scoring.errors import Place, Problem

ENDINGS = (".csv", ".parquet", ".xlsx")


def read_sheet(content: bytes, source: str, problems: list[Problem]) -> Sheet | None:
    """Read one table file; faults go to `problems`, and None comes back where there is nothing to go on with.

    Parameters
    ----------
    content : the bytes of the file
    source : the file's name as messages give it; its ending, one of `ENDINGS`, says the format
    """
    if not content.strip():
        problems.append(Problem(Place(source), "an empty file", "a header row and rows below it"))
        return None
    n_before = len(problems)
    sheet = _read(content, source, problems)
    if sheet is None:
        return None
    if not sheet.lines.size:
        if len(problems) == n_before:
            problems.append(Problem(Place(source), "a header and no rows", "a row for every product or reading"))
        return None
    return with_checked_names(sheet, problems)


def _read(content: bytes, source: str, problems: list[Problem]) -> Sheet | None:
    """Read by the ending; the library of a format is loaded only where a file is written in it."""
    match Path(source).suffix.lower():
        case ".csv":
            return read_csv(content, source, problems)
        case ".parquet":
            from scoring.catalogue.sheet_parquet import read_parquet

            return read_parquet(content, source, problems)
        case ".xlsx":
            from scoring.catalogue.sheet_xlsx import read_xlsx

            return read_xlsx(content, source, problems)
    found = f"a file that ends in `{Path(source).suffix}`"
    problems.append(Problem(Place(source), found, f"one of {', '.join(ENDINGS)}"))
    return None
