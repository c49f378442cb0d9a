"""How a file says that steelyard wrote it: by something in it, never by its name."""

from __future__ import annotations

import csv
import re
import zipfile
from pathlib import Path

#: What a document of results opens with.
WRITTEN_BY = {"written_by": "steelyard"}
#: The same in a page's head, in the properties of a sheet, and in the footer of a Parquet file.
PAGE_MARK = '<meta name="generator" content="steelyard">'
CREATOR = "steelyard"
DOCUMENT_MARK = re.compile(rb'"written_by"\s*:\s*"steelyard"')
#: The first line of a page in a language of plain text, and the keyword of a PDF.
TEXT_MARKS = {
    "md": b"<!-- written by steelyard -->\n",
    "tex": b"% written by steelyard\n",
    "typ": b"// written by steelyard\n",
}
PDF, PDF_MARK = b"%PDF", b"/Keywords(written by steelyard)"
#: What the key `record` of a record holds.
RECORD = "steelyard record of a publication"
#: A record's own mark, which may stand at either end of the file: its keys may have been sorted since.
RECORD_MARK = re.compile(rb'"record"\s*:\s*"' + re.escape(RECORD.encode()) + b'"')
MARKED_WITHIN = 4_096
#: Columns that every table of results ends with: the formula's hash among the last, the cautions last.
HASH, LAST = "formula_sha256", "cautions"
LONGEST_HEADER = 1_000_000
#: The last eight bytes of a Parquet file: how long its footer is, and the format's name.
PARQUET_END, PARQUET = 8, b"PAR1"


def is_ours(path: Path) -> bool:
    """Whether the file at `path` says of itself that steelyard wrote it; an empty one is nobody's, and may be filled.

    A table whose last column is another, a sheet that another program saved, or a file that cannot be read does not.
    """
    if path.stat().st_size == 0:
        return True
    try:
        with path.open("rb") as stream:
            head = stream.read(MARKED_WITHIN)
        if head.startswith(b"PK"):
            return _sheet_is_ours(path)
        if head.startswith(PARQUET):
            return _parquet_is_ours(path)
        if head.startswith(PDF):
            return PDF_MARK in path.read_bytes()
        if head.startswith(b"{"):
            return DOCUMENT_MARK.search(head) is not None
        if head.startswith(tuple(TEXT_MARKS.values())):
            return True
        return PAGE_MARK.encode() in head or _table_is_ours(path)
    except (OSError, ValueError, zipfile.BadZipFile, KeyError):
        return False


def marked(page: bytes, language: str) -> bytes:
    """A page in a language of plain text, with the line that says whose it is."""
    return TEXT_MARKS[language] + page


def is_record(path: Path) -> bool:
    """Whether a record stands at `path`, by its mark; what cannot be read is none."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            head = stream.read(MARKED_WITHIN)
            stream.seek(max(path.stat().st_size - MARKED_WITHIN, 0))
            return any(RECORD_MARK.search(part) for part in (head, stream.read(MARKED_WITHIN)))
    except OSError:
        return False


def _table_is_ours(path: Path) -> bool:
    with path.open(encoding="utf-8", newline="") as stream:
        header = next(csv.reader([stream.readline(LONGEST_HEADER)]), [])
    return bool(header) and header[-1] == LAST and any(name.endswith(HASH) for name in header)


def _sheet_is_ours(path: Path) -> bool:
    with zipfile.ZipFile(path) as archive:
        properties = archive.read("docProps/core.xml").decode()
    creator = re.search(r"<dc:creator>([^<]*)</dc:creator>", properties)
    last = re.search(r"<cp:lastModifiedBy>([^<]*)</cp:lastModifiedBy>", properties)
    return creator is not None and creator[1] == CREATOR and (last is None or last[1] == CREATOR)


def _parquet_is_ours(path: Path) -> bool:
    with path.open("rb") as stream:
        end = stream.seek(-PARQUET_END, 2)
        length = int.from_bytes(stream.read(4), "little")
        stream.seek(max(end - length, 0))
        return DOCUMENT_MARK.search(stream.read(length).replace(b'\\"', b'"')) is not None
