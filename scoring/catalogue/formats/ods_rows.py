"""The rows of an OpenDocument sheet, read a piece at a time, however often it says that a row or a cell is repeated.

The XML is read by expat, which fetches nothing from elsewhere; a document type, without which no entity can be declared, is
refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import IO, Any
from xml.parsers import expat

from scoring.catalogue.cells import text_of
from scoring.catalogue.formats.grid import Row
from scoring.catalogue.formats.ods_cells import OFFICE, TABLE, TEXT, typed_cell
from scoring.errors import CatalogueError, Place
from scoring.texts.file_limits import over_limits

_PIECE = 1 << 16
_MOST_BLANKS = 1000
_BLANKS = re.compile(r"[ \t\r\n]+")
_TABLE, _ROW = f"{TABLE}table", f"{TABLE}table-row"
_CELLS = frozenset({f"{TABLE}table-cell", f"{TABLE}covered-table-cell"})
_NAME, _ROWS_REPEATED, _CELLS_REPEATED = (
    f"{TABLE}name",
    f"{TABLE}number-rows-repeated",
    f"{TABLE}number-columns-repeated",
)
_PARAGRAPH = f"{TEXT}p"
#: Signs within a paragraph that are elements.
_SIGNS = {f"{TEXT}s": " ", f"{TEXT}tab": "\t", f"{TEXT}line-break": "\n"}
#: What holds texts or tables that are no cells of the sheet: comments, notes, what was deleted, copies of other files.
_ASIDE = frozenset(
    {f"{OFFICE}annotation", f"{TEXT}note", f"{TABLE}tracked-changes", f"{TABLE}dde-links", f"{TABLE}shapes"}
)
_STYLE = "urn:oasis:names:tc:opendocument:xmlns:style:1.0 "
_DRAWING = "urn:oasis:names:tc:opendocument:xmlns:drawing:1.0 "
#: How a spreadsheet program calls its copies of sheets of other files.
_COPY = re.compile(r"'file:.*'#\$.*", re.DOTALL)


def sheets_of(stream: IO[bytes]) -> list[tuple[str, bool]]:
    """The sheets of a document, in order: each one's name, and whether the document keeps it from view."""
    names = _Names()
    for _ in _parsed(stream, names.start, names.end):
        pass
    return [(name, style in names.hidden) for name, style in names.found]


def sheet_rows(stream: IO[bytes], number: int, source: str) -> Iterator[Row]:
    """The rows that hold anything of one sheet, by its number from 0, without the empty cells at their ends.

    Raises
    ------
    CatalogueError : there are more rows or cells than the limits say
    expat.ExpatError, ValueError : the document is broken
    """
    rows = _Rows(number, source)
    for _ in _parsed(stream, rows.start, rows.end, rows.text):
        yield from rows.taken()
        if rows.is_done:
            return


def _parsed(stream: IO[bytes], start: Any, end: Any, text: Any = None) -> Iterator[None]:
    """Go through a document; after each piece, what its handlers made can be taken."""
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, text
    parser.StartDoctypeDeclHandler = _refuse
    while piece := stream.read(_PIECE):
        parser.Parse(piece)
        yield
    parser.Parse(b"", True)
    yield


def _refuse(*_declared: object) -> None:
    raise ValueError("a document type")


class _Names:
    """What finds sheets: tables that stand in no other and are none set aside; and the styles that hide a sheet."""

    def __init__(self) -> None:
        self.found: list[tuple[str, str]] = []
        self.hidden: set[str] = set()
        self._style = ""
        self._depth = 0  # of tables and what is set aside, in each other

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == f"{_STYLE}style":
            self._style = attributes.get(f"{_STYLE}name", "")
        elif name == f"{_STYLE}table-properties" and attributes.get(f"{TABLE}display") == "false":
            self.hidden.add(self._style)
        elif name == _TABLE and not self._depth and is_sheet(attributes):
            self.found.append((attributes.get(_NAME, ""), attributes.get(f"{TABLE}style-name", "")))
        self._depth += name == _TABLE or name in _ASIDE

    def end(self, name: str) -> None:
        self._depth -= name == _TABLE or name in _ASIDE


def is_sheet(attributes: dict[str, str]) -> bool:
    """Whether a table is a sheet of this file, and no copy of another's."""
    return _COPY.fullmatch(attributes.get(_NAME, "")) is None


class _Rows:
    """What gathers the rows of one sheet, as its elements begin and end."""

    def __init__(self, number: int, source: str) -> None:
        self.is_done = False
        self._rows: list[Row] = []
        self._source, self._left = source, number + 1
        self._tables = self._aside = 0  # how deep in tables, and in what is set aside
        self._line, self._n_rows, self._n_cells = 1, 0, 0
        self._cells: list[object] = []
        self._repeated, self._blank = 1, 0
        self._cell: dict[str, str] | None = None
        self._paragraphs: list[str] = []
        self._words: list[str] | None = None
        self._ends_written = False  # a blank at a paragraph's edge is one only where it is an element

    def taken(self) -> list[Row]:
        """The rows since this was last asked."""
        rows, self._rows = self._rows, []
        return rows

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name in _ASIDE or name.startswith(_DRAWING):
            self._aside += 1
        elif name == _TABLE:
            self._left -= not self._tables and not self._aside and is_sheet(attributes)
            self._tables += 1
        elif self._left or self._aside or self._tables != 1:
            return
        elif name in _CELLS:
            self._cell, self._paragraphs = attributes, []
        elif name == _ROW:
            self._cells, self._blank = [], 0
            self._repeated = _times(attributes.get(_ROWS_REPEATED))
        elif name == _PARAGRAPH and self._cell is not None:
            self._words, self._ends_written = [], False
        elif name in _SIGNS and self._words is not None:
            self._words.append(_SIGNS[name] * min(_times(attributes.get(f"{TEXT}c")), _MOST_BLANKS))
            self._ends_written = False

    def text(self, data: str) -> None:
        if self._words is None or self._aside:
            return
        words = _BLANKS.sub(" ", data)
        self._words.append(words.lstrip(" ") if not self._words else words)
        self._ends_written = True

    def end(self, name: str) -> None:
        if name in _ASIDE or name.startswith(_DRAWING):
            self._aside -= 1
        elif name == _TABLE:
            self._tables -= 1
            self.is_done = self.is_done or (not self._tables and not self._left)
        elif self.is_done or self._left or self._aside or self._tables != 1:
            return
        elif name in _CELLS and self._cell is not None:
            self._end_cell(self._cell)
            self._cell = None
        elif name == _PARAGRAPH and self._words is not None:
            words = "".join(self._words)
            self._paragraphs.append(words.rstrip(" ") if self._ends_written else words)
            self._words = None
        elif name == _ROW:
            self._end_row()

    def _end_cell(self, attributes: dict[str, str]) -> None:
        """Keep a cell as often as it is repeated; of empty ones only how many there are, until one follows that is not."""
        cell, times = typed_cell(attributes, "\n".join(self._paragraphs)), _times(attributes.get(_CELLS_REPEATED))
        if cell is None:
            self._blank += times
            return
        self._hold(self._n_rows + 1, self._n_cells + len(self._cells) + self._blank + times)
        self._cells += [None] * self._blank
        self._cells += [cell] * times
        self._blank = 0

    def _end_row(self) -> None:
        """Keep a row as often as it is repeated; of an empty one only its number."""
        line, self._line = self._line, self._line + self._repeated
        if not any(map(text_of, self._cells)):
            return
        self._n_rows += self._repeated
        self._n_cells += self._repeated * len(self._cells)
        self._hold(self._n_rows, self._n_cells)
        self._rows += ((line + ahead, self._cells) for ahead in range(self._repeated))

    def _hold(self, rows: int, cells: int) -> None:
        many = over_limits(Place(self._source), so_far=True, rows=rows, cells=cells)
        if many:
            raise CatalogueError(many)


def _times(written: str | None) -> int:
    """How often something is repeated."""
    if written is None:
        return 1
    if not (written.isascii() and written.isdigit() and 0 < len(written) <= 10 and int(written)):
        raise ValueError("a repetition that is no number")
    return int(written)
