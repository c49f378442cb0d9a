"""XLSX: one sheet of a workbook. The one owner of openpyxl."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from openpyxl.reader.excel import load_workbook

from scoring.catalogue.cells import text_of
from scoring.catalogue.sheets import Sheet, sheet_of
from scoring.errors import Place, Problem
from scoring.texts.file_limits import XLSX_OTHER_BYTES, over_limits

Row = tuple[Any, ...]

_CELLS, _PICTURES, _KINDS = "xl/worksheets/", "xl/media/", "[Content_Types].xml"
_PART = re.compile(
    r"<(?:\w+:)?Override\b(?=[^>]*\bPartName\s*=\s*[\"']/?([^\"']*))(?=[^>]*\bContentType\s*=\s*[\"']([^\"']*))"
)
_FORMULA = re.compile(rb"<(?:\w+:)?f[ >/]")
_PIECE = 1 << 20


def read_xlsx(content: bytes, source: str, problems: list[Problem]) -> Sheet | None:
    """Read the sheet called as the file, or the only sheet, as typed cells, formulas as their results.

    In a workbook of several sheets, the right one bears the file's name without its ending.
    A formula that was never calculated holds no result: that is a problem, not an empty cell.
    """
    try:
        with warnings.catch_warnings(), zipfile.ZipFile(io.BytesIO(content)) as archive:
            warnings.simplefilter("ignore")  # the library warns of the styles and validations that it drops
            many = _over_limits(archive, source)
            if many:
                problems += many
                return None
            rows = _rows(content, source, problems)
            if rows is not None and _has_formulas(archive):
                _check_formulas(content, source, rows, problems)
    except Exception as fault:  # a broken workbook makes the library raise nearly anything
        found = f"a file that cannot be read as XLSX ({type(fault).__name__})"
        problems.append(Problem(Place(source), found, "an XLSX workbook without a password"))
        return None
    return None if rows is None else _sheet(source, rows, problems)


def _over_limits(archive: zipfile.ZipFile, source: str) -> list[Problem]:
    """The limits that the archive oversteps by what its directory says; a part that is longer is broken and not read."""
    sizes = {part.filename: part.file_size for part in archive.infolist()}
    other = sizes.get(_KINDS, 0)
    if other <= XLSX_OTHER_BYTES:
        declared = _PART.findall(archive.read(_KINDS).decode("utf-8", "replace"))
        named = {name for name, _ in declared}
        formats = {name for name, kind in declared if not kind.endswith(("worksheet+xml", "sharedStrings+xml"))}
        formats |= {name for name in sizes if name not in named and not name.startswith(_PICTURES)}
        other = sum(size for name, size in sizes.items() if name in formats)
    if other > XLSX_OTHER_BYTES:
        hint = "Copy the cells alone into a new workbook, or save it as CSV."
        found = f"{other} bytes of formats and the like, once unpacked"
        return [Problem(Place(source), found, f"at most {XLSX_OTHER_BYTES}", hint)]
    return over_limits(Place(source), unpacked=sum(sizes.values()))


def _rows(content: bytes, source: str, problems: list[Problem], *, results: bool = True) -> list[Row] | None:
    """The rows of the sheet as tuples of cells, without the empty ones at their ends: formulas' results, or the formulas."""
    load: Any = load_workbook  # the library states no types of its own
    book = load(io.BytesIO(content), read_only=True, data_only=results, keep_links=False)
    names = [sheet.title for sheet in book.worksheets]
    wanted = Path(source).stem.lower()
    fitting = [name for name in names if name.lower() == wanted] or names
    if len(fitting) != 1:
        hint = f"Its sheets: {', '.join(names)}." if names else ""
        expected = f"one sheet, or one called `{wanted}`"
        problems.append(Problem(Place(source), f"{len(names)} sheets", expected, hint))
        return None
    sheet = book[fitting[0]]
    sheet.reset_dimensions()  # the size that a sheet claims may be a million empty rows
    rows, n_rows, n_cells = list[Row](), 0, 0
    for row in map(_trimmed, sheet.iter_rows(values_only=True)):
        rows.append(row)
        n_rows, n_cells = n_rows + bool(row), n_cells + len(row)
        many = over_limits(Place(source), so_far=True, rows=n_rows, cells=n_cells)
        if many:
            problems += many
            return None
    return rows


def _sheet(source: str, rows: Sequence[Row], problems: list[Problem]) -> Sheet | None:
    """Make the rows equally long: a sheet does not keep the empty cells at the end of a row."""
    filled = [(line, row) for line, row in enumerate(rows, start=1) if any(text_of(cell) for cell in row)]
    width = len(filled[0][1]) if filled else 0
    records = ((line, row + (None,) * (width - len(row))) for line, row in filled)
    return sheet_of(source, records, problems, "Every column with content needs a name in the header.")


def _trimmed(row: Row) -> Row:
    end = len(row)
    while end and row[end - 1] is None:
        end -= 1
    return row[:end]


def _has_formulas(archive: zipfile.ZipFile) -> bool:
    sheets = [name for name in archive.namelist() if name.startswith(_CELLS)]
    return any(_holds_formula(archive, name) for name in sheets)


def _holds_formula(archive: zipfile.ZipFile, name: str) -> bool:
    """Whether a sheet holds a formula; it is looked through a piece at a time."""
    with archive.open(name) as stream:
        end = b""
        while piece := stream.read(_PIECE):
            if _FORMULA.search(end + piece):
                return True
            end = piece[-64:]
    return False


def _check_formulas(content: bytes, source: str, rows: Sequence[Row], problems: list[Problem]) -> None:
    """Report every formula whose result is not stored in the workbook."""
    written = _rows(content, source, [], results=False) or []
    hint = "Open the workbook in a spreadsheet program and save it, or write the value."
    header: Row = next((row for row in rows if row), ())
    for line, (results, formulas) in enumerate(zip(rows, written, strict=True), start=1):
        for column, formula in enumerate(formulas):
            if formula is not None and (column >= len(results) or results[column] is None):
                name = text_of(header[column]) if column < len(header) else ""
                place = Place(source, line, column_name=name or str(column + 1))
                problems.append(Problem(place, "a formula without a stored result", "a value", hint))
