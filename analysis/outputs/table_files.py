"""Tables to files: CSV, Parquet, XLSX. The same tables give the same bytes, and no cell can run in a spreadsheet."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from analysis.outputs.guard import CREATOR, WRITTEN_BY
from scoring.errors import FileError, Place, Problem

if TYPE_CHECKING:
    import pandas as pd

#: What makes a spreadsheet take a text for a formula.
RUNS = ("=", "+", "-", "@", "\t", "\r")
EPOCH = (1980, 1, 1, 0, 0, 0)
#: The sheet that the one table of a workbook stands on, before any other.
FIRST_SHEET = "scores"
#: The widest column of a sheet, in characters, and how many of its cells are looked at.
WIDEST, MOST_MEASURED = 40, 200


#: What a sheet holds at most, by its format (ECMA-376, ISO/IEC 29500, as spreadsheet programs state it; from memory); and
#: how many cells are made, each of which takes some 400 bytes of memory.
MOST_ROWS, MOST_COLUMNS, MOST_CHARACTERS = 1_048_576, 16_384, 32_767
MOST_CELLS = 5_000_000


def csv_bytes(frame: pd.DataFrame) -> bytes:
    """The table as CSV in UTF-8, with line feeds."""
    return _safe(frame).to_csv(index=False, lineterminator="\n").encode("utf-8")


def parquet_bytes(frame: pd.DataFrame) -> bytes:
    """The table as Parquet; its footer says whose it is."""
    stream = io.BytesIO()
    marked = frame.copy(deep=False)
    marked.attrs |= WRITTEN_BY
    marked.to_parquet(stream, index=False)
    return stream.getvalue()


def xlsx_bytes(frame: pd.DataFrame, beside: Mapping[str, pd.DataFrame] = MappingProxyType({})) -> bytes:
    """The table as the first sheet of a workbook.

    Parameters
    ----------
    beside : the sheets after it by name, in order; each name is one that a sheet may have

    Raises
    ------
    FileError : more than a sheet can hold
    """
    sheets = {FIRST_SHEET: frame, **beside}
    for one in sheets.values():
        problem = sheet_problem(one)
        if problem is not None:
            raise FileError([problem])
    return _xlsx_bytes({name: _safe(one) for name, one in sheets.items()})


#: What makes the file of each ending; a new format is its function, and its line here.
TABLES: Mapping[str, Callable[[pd.DataFrame], bytes]] = {
    ".csv": csv_bytes,
    ".parquet": parquet_bytes,
    ".xlsx": xlsx_bytes,
}


def _safe(frame: pd.DataFrame) -> pd.DataFrame:
    """The table without a text that a spreadsheet would run."""
    return frame.map(neutral).rename(columns=neutral)


def _longest_text(column: pd.Series[Any]) -> int:
    return max((len(cell) for cell in column if isinstance(cell, str)), default=0)


def sheet_problem(frame: pd.DataFrame) -> Problem | None:
    """Why a sheet cannot hold the table: too many rows, columns or cells, or a text that is too long; None where it can."""
    rows, columns = frame.shape
    longest = max((_longest_text(frame[column]) for column in frame), default=0)
    for found, count, most in (
        ("rows", rows + 1, MOST_ROWS),
        ("columns", columns, MOST_COLUMNS),
        ("cells", cells_of(rows, columns), MOST_CELLS),
        ("characters in one cell", longest, MOST_CHARACTERS),
    ):
        if count > most:
            hint = "Write it as .csv or .parquet."
            return Problem(Place("the sheet"), f"{count:,} {found}", f"at most {most:,}", hint)
    return None


def cells_of(rows: int, columns: int) -> int:
    """How many cells a sheet has, with its head."""
    return (rows + 1) * columns


def neutral(cell: object) -> object:
    """A text cell that a spreadsheet would run gets an apostrophe before it; anything else stays."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(RUNS) else cell


def _xlsx_bytes(sheets: Mapping[str, pd.DataFrame]) -> bytes:
    import pandas as pd  # slow to import, and most commands make no frame

    stream = io.BytesIO()
    with pd.ExcelWriter(stream, engine="openpyxl") as writer:
        writer.book.properties.creator = CREATOR
        for name, frame in sheets.items():
            frame.to_excel(writer, index=False, sheet_name=name, freeze_panes=(1, 1))
            _finish(writer.sheets[name])
    return _undated(stream.getvalue())


def _finish(sheet: Any) -> None:
    """Columns as wide as their cells, nothing where there is nothing, and every text a text: not a formula, not an error."""
    for column in sheet.iter_cols():
        longest = max(len(str(cell.value or "")) for cell in column[:MOST_MEASURED])
        sheet.column_dimensions[column[0].column_letter].width = min(longest + 2, WIDEST)
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == "":
                cell.value = None  # an empty text among numbers is one that a spreadsheet cannot add up
            elif isinstance(cell.value, str):
                cell.data_type = "s"


def _undated(archive: bytes) -> bytes:
    """The zip archive with every date at its epoch, so that the same content gives the same bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(archive)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = _undated_properties(content)
            new.writestr(zipfile.ZipInfo(name, EPOCH), content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def _undated_properties(content: bytes) -> bytes:
    """openpyxl stamps the moment of saving; the stamp is put back to the epoch."""
    stamp = b"1980-01-01T00:00:00Z"
    return re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
