"""XLSX: the sheets of a workbook. The one owner of openpyxl."""

from __future__ import annotations

import io
import itertools
import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from openpyxl.reader.excel import load_workbook

from scoring.catalogue.cells import Fault, text_of
from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.errors import CatalogueError, Place, Problem
from scoring.texts.file_limits import XLSX_OTHER_BYTES, over_limits

Cells = tuple[Any, ...]

_CELLS, _PICTURES, _KINDS = "xl/worksheets/", "xl/media/", "[Content_Types].xml"
_PART = re.compile(
    r"<(?:\w+:)?Override\b(?=[^>]*\bPartName\s*=\s*[\"']/?([^\"']*))(?=[^>]*\bContentType\s*=\s*[\"']([^\"']*))"
)
_FORMULA = re.compile(rb"<(?:\w+:)?f[ >/]")
_PIECE = 1 << 20
_ROWS = 300  # rows read at a time
_UNSTORED = Fault(
    "a formula without a stored result",
    "a value",
    "Open the workbook in a spreadsheet program and save it, or write the value.",
)


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """The sheets of a workbook as typed cells, formulas as their results.

    A formula that was never calculated holds no result: that is a faulty cell, not an empty one.
    """
    content, source = file.content, file.source
    try:
        with warnings.catch_warnings(), zipfile.ZipFile(io.BytesIO(content)) as archive:
            warnings.simplefilter("ignore")  # the library warns of the styles and validations that it drops
            many = _over_limits(archive, source)
            if many:
                problems += many
                return []
            results = _opened(content, results=True)
            formulas = _opened(content, results=False) if _has_formulas(archive) else None
        book = _Book(source, results, formulas)
        hidden = {one.title: one.sheet_state != "visible" for one in results.worksheets}
    except Exception as fault:  # a broken workbook makes the library raise nearly anything
        problems.append(_unreadable(source, fault))
        return []
    if not hidden:
        problems.append(Problem(Place(source), "0 sheets", "one sheet, or several"))
    too_long = "Every column with content needs a name in the header."
    return [
        Grid(source, partial(book.rows, name), name, is_spreadsheet=True, is_hidden=is_hidden, too_long=too_long)
        for name, is_hidden in hidden.items()
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Book:
    """A workbook within the limits: its file, and it with the results of its formulas, and with the formulas if it has any."""

    source: str
    results: Any
    formulas: Any

    def rows(self, name: str, _problems: list[Problem]) -> Iterator[Row]:
        """The rows of a sheet that hold anything, without the empty cells at their ends."""
        n_rows, n_cells = 0, 0
        for line, row in enumerate(self._all_rows(name), start=1):
            n_rows, n_cells = n_rows + bool(row), n_cells + len(row)
            many = over_limits(Place(self.source), so_far=True, rows=n_rows, cells=n_cells)
            if many:
                raise CatalogueError(many)
            if any(text_of(cell) for cell in row):
                yield line, row

    def _all_rows(self, name: str) -> Iterator[Cells]:
        """Every row of a sheet, also the empty ones; what the library says of a broken one is raised as ours."""
        walk = _walk(self.results[name]) if self.formulas is None else self._with_formulas(name)
        while True:
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    some = list(itertools.islice(walk, _ROWS))
            except Exception as fault:  # as above: nearly anything
                raise CatalogueError([_unreadable(self.source, fault)]) from fault
            if not some:
                return
            yield from some

    def _with_formulas(self, name: str) -> Iterator[Cells]:
        """The rows of results, with a fault in the place of a result that is not stored."""
        for results, written in zip(_walk(self.results[name]), _walk(self.formulas[name]), strict=True):
            padded = results + (None,) * (len(written) - len(results))
            yield tuple(
                _UNSTORED if result is None and formula is not None else result
                for result, formula in zip(padded, written, strict=True)
            )


def _opened(content: bytes, *, results: bool) -> Any:
    """The workbook with its formulas' results, or with the formulas."""
    load: Any = load_workbook  # the library states no types of its own
    return load(io.BytesIO(content), read_only=True, data_only=results, keep_links=False)


def _walk(sheet: Any) -> Iterator[Cells]:
    """Every row of a sheet, without the empty cells at its end."""
    sheet.reset_dimensions()  # the size that a sheet claims may be a million empty rows
    yield from map(_trimmed, sheet.iter_rows(values_only=True))


def _unreadable(source: str, fault: Exception) -> Problem:
    found = f"a file that cannot be read as XLSX ({type(fault).__name__})"
    return Problem(Place(source), found, "an XLSX workbook without a password")


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


def _trimmed(row: Cells) -> Cells:
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
