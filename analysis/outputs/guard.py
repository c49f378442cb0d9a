"""What a command must leave alone: the files that it read, records, and files that steelyard did not write.

A file says that steelyard wrote it by something in it, never by its name.
"""

from __future__ import annotations

import csv
import os
import re
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from scoring.errors import FileError, Place, Problem

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


ANOTHER = "Name another file."
WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH


@dataclass(frozen=True, slots=True)
class Guard:
    """What stands before every output.

    read : the files that the command read, which are never written over
    force : whether a file that steelyard did not write may be written over
    """

    read: tuple[Path, ...] = ()
    force: bool = False

    def check(self, path: Path) -> None:
        """Refuse a path that holds what must stay.

        Raises
        ------
        FileError : its folder is not there; or something stands there that may not be written over
        """
        check_folder(path)
        with told_as_faults(path):
            problem = self.problem(path)
        if problem is not None:
            raise FileError([problem])

    def problem(self, path: Path) -> Problem | None:
        """Why the file at `path` may not be written over; None where it may, or nothing is there."""
        place = Place(str(path))
        if not path.exists():
            return None
        if not path.is_file():
            what = "a folder stands there" if path.is_dir() else "what stands there is no regular file"
            return Problem(place, what, "a file", ANOTHER)
        if self.was_read(path):
            return Problem(place, "it is a file that this command reads", "a file of its own", ANOTHER)
        if is_record(path):
            hint = "Use another name; only `steelyard record --corrects` adds to a record."
            return Problem(place, "a steelyard record stands there", "a path that is free", hint)
        if not _is_writable(path):
            return _read_only(path)
        if not self.force and not is_ours(path):
            found, expected = "a file that steelyard did not write, or that was changed since", "a path that is free"
            return Problem(place, found, expected, "Name another file, or say `--force` to write over it.")
        return None

    def was_read(self, path: Path) -> bool:
        """Whether `path`, which is there, is one of the files that were read, under whatever name."""
        return any(one.exists() and path.samefile(one) for one in self.read)


def check_writable(path: Path) -> None:
    """Refuse a file that nobody, or not this user, may write.

    Raises
    ------
    FileError : it is read-only
    """
    if not _is_writable(path):
        raise FileError([_read_only(path)])


def _is_writable(path: Path) -> bool:
    return bool(path.stat().st_mode & WRITABLE) and os.access(path, os.W_OK)


def _read_only(path: Path) -> Problem:
    hint = "Make it writable first, if it is meant to change."
    return Problem(Place(str(path)), "a file that is read-only", "a file that can be written", hint)


def check_folder(path: Path) -> None:
    """Refuse a file whose folder is not there.

    Raises
    ------
    FileError : the folder is not there, or is a file
    """
    folder = path.parent
    if not os.path.isdir(folder):
        found = f"{folder} is no folder" if os.path.lexists(folder) else f"the folder {folder} is not there"
        hint = "Make the folder first, or name a file in one that is there."
        raise FileError([Problem(Place(str(path)), found, "a folder to write the file into", hint)])


@contextmanager
def told_as_faults(path: Path, expected: str = "a file that can be written") -> Iterator[None]:
    """What the system refuses at `path` ends as one fault of it.

    Raises
    ------
    FileError : the system's reason
    """
    try:
        yield
    except OSError as fault:
        reason = fault.strerror or str(fault)
        raise FileError([Problem(Place(str(path)), f"it cannot be written ({reason})", expected)]) from None
