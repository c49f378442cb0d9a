"""OpenDocument spreadsheets written by hand, for tests: rows of values, or the XML of rows."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

_NAMES = ("office", "table", "text", "draw")
_SPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{"drawing" if name == "draw" else name}:1.0"'
    for name in _NAMES
)
_CALC = 'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
MIMETYPE = "application/vnd.oasis.opendocument.spreadsheet"


def cell(value: object) -> str:
    """A value as a cell's element."""
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, bool):
        kind, text = f'boolean" office:boolean-value="{str(value).lower()}', str(value).upper()
    elif isinstance(value, int | float):
        kind, text = f'float" office:value="{value!r}', str(value)
    elif isinstance(value, datetime.date):
        kind, text = f'date" office:date-value="{value.isoformat()}', value.isoformat()
    else:
        kind, text = "string", str(value)
    return f'<table:table-cell office:value-type="{kind}"><text:p>{escape(text)}</text:p></table:table-cell>'


def row(values: Iterable[object]) -> str:
    """Values as a row's element."""
    return f"<table:table-row>{''.join(map(cell, values))}</table:table-row>"


def ods_of_xml(before: str = "", **sheets: str) -> bytes:
    """A spreadsheet of sheets by name, each the XML of its rows; `before` stands ahead of the document's element."""
    tables = "".join(f'<table:table table:name="{name}">{rows}</table:table>' for name, rows in sheets.items())
    body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
    content = f'<?xml version="1.0" encoding="UTF-8"?>{before}<office:document-content {_SPACES} {_CALC}>{body}</office:document-content>'
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", MIMETYPE)
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", _MANIFEST)
    return stream.getvalue()


_MANIFEST = (
    '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
    f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{MIMETYPE}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
)


def ods(
    folder: Path, rows: Sequence[Sequence[object]], name: str = "bench.ods", **others: Sequence[Sequence[object]]
) -> Path:
    """A spreadsheet file with `Sheet` and perhaps other sheets."""
    sheets = {title: "".join(map(row, table)) for title, table in {"Sheet": rows, **others}.items()}
    path = folder / name
    path.write_bytes(ods_of_xml(**sheets))
    return path
