"""ODS: the sheets of an OpenDocument spreadsheet, read as it lies in its archive.

No library is taken for it: the one that there is (python-calamine, a megabyte) gives an empty cell for a formula that was
never calculated, and holds a sheet whole, with its repetitions, to a limit of its own. Tests take it as a second opinion.
"""

from __future__ import annotations

import io
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from xml.parsers.expat import ExpatError

from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.catalogue.formats.ods_rows import sheet_rows, sheets_of
from scoring.errors import CatalogueError, Place, Problem
from scoring.texts.file_limits import over_limits

_CONTENT = "content.xml"
#: What a broken archive or document is raised as.
_BROKEN_ARCHIVE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    LookupError,
    OSError,
    EOFError,
    RuntimeError,
)
_BROKEN = (*_BROKEN_ARCHIVE, ValueError, ExpatError)


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """The sheets of a spreadsheet as typed cells, formulas as their results.

    A formula that was never calculated holds no result: that is a faulty cell, not an empty one.
    """
    book = _Book(file.content, file.source)
    try:
        with zipfile.ZipFile(io.BytesIO(file.content)) as archive:
            many = over_limits(Place(file.source), unpacked=sum(part.file_size for part in archive.infolist()))
            if many:
                problems += many
                return []
            with archive.open(_CONTENT) as stream:
                sheets = sheets_of(stream)
    except _BROKEN as fault:
        problems.append(_unreadable(file.source, fault))
        return []
    if not sheets:
        problems.append(Problem(Place(file.source), "0 sheets", "one sheet, or several"))
    too_long = "Every column with content needs a name in the header."
    return [
        Grid(file.source, partial(book.rows, number), name, is_spreadsheet=True, is_hidden=is_hidden, too_long=too_long)
        for number, (name, is_hidden) in enumerate(sheets)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Book:
    """A spreadsheet within the limits: its bytes and its file."""

    content: bytes
    source: str

    def rows(self, number: int, _problems: list[Problem]) -> Iterator[Row]:
        """The rows of a sheet that hold anything; what is broken is raised as ours."""
        try:
            with zipfile.ZipFile(io.BytesIO(self.content)) as archive, archive.open(_CONTENT) as stream:
                yield from sheet_rows(stream, number, self.source)
        except _BROKEN as fault:
            raise CatalogueError([_unreadable(self.source, fault)]) from fault


def _unreadable(source: str, fault: Exception) -> Problem:
    found = f"a file that cannot be read as ODS ({type(fault).__name__})"
    return Problem(Place(source), found, "an ODS spreadsheet without a password")
