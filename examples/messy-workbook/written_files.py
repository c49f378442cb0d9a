"""Tables as the bytes of files: a workbook in two formats, separated text, a database. The same tables, the same bytes."""

from __future__ import annotations

import csv
import datetime
import io
import re
import sqlite3
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

from openpyxl import Workbook

Cell = str | float | datetime.date | None
Table = Sequence[Sequence[Cell]]

EPOCH = (1980, 1, 1, 0, 0, 0)
_STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_NAMESPACE = "urn:oasis:names:tc:opendocument:xmlns"
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_ODS_HEAD = f"""<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="{_NAMESPACE}:office:1.0" xmlns:table="{_NAMESPACE}:table:1.0" \
xmlns:text="{_NAMESPACE}:text:1.0" office:version="1.2"><office:body><office:spreadsheet>
"""
_ODS_END = "</office:spreadsheet></office:body></office:document-content>\n"
_ODS_MANIFEST = f"""<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="{_NAMESPACE}:manifest:1.0" manifest:version="1.2">
<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS_TYPE}"/>
<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>
</manifest:manifest>
"""
#: A sheet of this format goes on with blanks to its last row and column, which are written once with a count.
_LAST_ROW, _LAST_COLUMN = 1_048_576, 1024


def xlsx_bytes(sheets: Mapping[str, Table]) -> bytes:
    """A workbook, every date of the archive at its epoch; a title goes over several columns."""
    book = Workbook()
    book.remove(book.active)
    for name, table in sheets.items():
        sheet = book.create_sheet(name)
        for row in table:
            sheet.append([_typed(cell) for cell in row])
        if len(table[0]) == 1 and len(table) > 4:
            sheet.merge_cells(start_row=1, end_row=1, start_column=1, end_column=6)
    stream = io.BytesIO()
    book.save(stream)
    return _undated(stream.getvalue())


def _typed(cell: Cell) -> object:
    """A whole number as one, as a spreadsheet shows it."""
    return int(cell) if isinstance(cell, float) and cell.is_integer() else cell


def _undated(archive: bytes) -> bytes:
    parts = {}
    with zipfile.ZipFile(io.BytesIO(archive)) as old:
        for name in old.namelist():
            parts[name] = _STAMP.sub(rb"\g<1>1980-01-01T00:00:00Z", old.read(name))
    return _zipped(parts)


def _zipped(parts: Mapping[str, bytes]) -> bytes:
    """An archive; the type of a document, where it has one, stands first and unpacked."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in parts.items():
            packing = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            new.writestr(zipfile.ZipInfo(name, EPOCH), content, packing)
    return stream.getvalue()


def ods_bytes(sheets: Mapping[str, Table]) -> bytes:
    """A workbook in the OpenDocument format, written by hand as office programs write it."""
    tables = "".join(_ods_table(name, table) for name, table in sheets.items())
    content = (_ODS_HEAD + tables + _ODS_END).encode()
    return _zipped(
        {"mimetype": _ODS_TYPE.encode(), "content.xml": content, "META-INF/manifest.xml": _ODS_MANIFEST.encode()}
    )


def _ods_table(name: str, table: Table) -> str:
    rows = "".join(f"<table:table-row>{_ods_cells(row)}</table:table-row>\n" for row in table)
    rest = (
        f'<table:table-row table:number-rows-repeated="{_LAST_ROW - len(table)}">'
        f'<table:table-cell table:number-columns-repeated="{_LAST_COLUMN}"/></table:table-row>\n'
    )
    return f"<table:table table:name={quoteattr(name)}>\n{rows}{rest}</table:table>\n"


def _ods_cells(row: Sequence[Cell]) -> str:
    blanks = f'<table:table-cell table:number-columns-repeated="{_LAST_COLUMN - len(row)}"/>'
    return "".join(map(_ods_cell, row)) + blanks


def _ods_cell(cell: Cell) -> str:
    if cell is None:
        return "<table:table-cell/>"
    if isinstance(cell, datetime.date):
        kind, shown = f'date" office:date-value="{cell.isoformat()}', cell.isoformat()
    elif isinstance(cell, float):
        kind, shown = f'float" office:value="{_plain(cell)}', _plain(cell)
    else:
        kind, shown = "string", cell
    return f'<table:table-cell office:value-type="{kind}"><text:p>{escape(shown)}</text:p></table:table-cell>'


def csv_bytes(table: Table, separator: str, encoding: str, point: str) -> bytes:
    """Separated text, every row as long as the longest, as a spreadsheet exports it; days are written 9.3.2026."""
    width = max(map(len, table))
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=separator, lineterminator="\r\n")
    for row in table:
        cells = [_text(cell, point) for cell in row]
        writer.writerow(cells + [""] * (width - len(cells)))
    return text.getvalue().encode(encoding)


def _text(cell: Cell, point: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime.date):
        return f"{cell.day}.{cell.month}.{cell.year}"
    if isinstance(cell, float):
        return _plain(cell).replace(".", point)
    return cell.replace(".", point) if cell.startswith("<") else cell


def sqlite_bytes(tables: Mapping[str, Table]) -> bytes:
    """A database of one page size; the version of the library that wrote it is taken out of its head."""
    base = sqlite3.connect(":memory:")
    base.execute("PRAGMA page_size = 4096")
    for name, (head, *rows) in tables.items():
        columns = ", ".join(f'"{column}"' for column in head)
        base.execute(f'CREATE TABLE "{name}" ({columns})')
        marks = ", ".join("?" for _ in head)
        base.executemany(f'INSERT INTO "{name}" VALUES ({marks})', ([_stored(cell) for cell in row] for row in rows))
    base.commit()
    content = bytearray(base.serialize())
    content[96:100] = bytes(4)  # https://www.sqlite.org/fileformat.html, section 1.3: SQLITE_VERSION_NUMBER
    return bytes(content)


def _stored(cell: Cell) -> str | float | None:
    return cell.isoformat() if isinstance(cell, datetime.date) else cell


def _plain(number: float) -> str:
    return str(int(number)) if number.is_integer() else repr(number)
