"""Tables to files: CSV, Parquet, XLSX. The same table gives the same bytes, and no cell can run in a spreadsheet."""

from __future__ import annotations

import io
import json
import os
import re
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.record.record import KIND
from scoring.errors import Place, Problem, SteelyardError

ENDINGS = (".csv", ".parquet", ".xlsx", ".json")
#: What makes a spreadsheet take a text for a formula.
RUNS = ("=", "+", "-", "@", "\t", "\r")
EPOCH = (1980, 1, 1, 0, 0, 0)
#: The widest column of a sheet, in characters, and how many of its cells are looked at.
WIDEST, MOST_MEASURED = 40, 200
#: How a record says that it is one, and how many bytes at either end of a file are searched for it.
RECORD_MARK = re.compile(rb'"record"\s*:\s*"' + re.escape(KIND.encode()) + b'"')
MARKED_WITHIN = 4_096


class FileError(SteelyardError):
    """A file cannot be written."""


def ending_of(path: Path) -> str:
    """The file's ending, one of `ENDINGS`.

    Raises
    ------
    FileError
        Any other ending.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        found = f"the ending `{ending}`" if ending else "no ending"
        raise FileError([Problem(Place(str(path)), found, "one of " + " ".join(ENDINGS))])
    return ending


def json_bytes(document: Any) -> bytes:
    """A document as a file's bytes: what `--json` prints."""
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def table_bytes(frame: pd.DataFrame, ending: str) -> bytes:
    """The table in the format of `ending` (".csv", ".parquet" or ".xlsx")."""
    if ending == ".parquet":
        stream = io.BytesIO()
        frame.to_parquet(stream, index=False)
        return stream.getvalue()
    safe = frame.map(neutral).rename(columns=neutral)
    if ending == ".csv":
        return safe.to_csv(index=False, lineterminator="\n").encode("utf-8")
    return _xlsx_bytes(safe)


def neutral(cell: object) -> object:
    """A text cell that a spreadsheet would run gets an apostrophe before it; anything else stays."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(RUNS) else cell


def _xlsx_bytes(frame: pd.DataFrame) -> bytes:
    stream = io.BytesIO()
    with pd.ExcelWriter(stream, engine="openpyxl") as writer:
        frame.to_excel(writer, index=False, sheet_name="scores", freeze_panes=(1, 1))
        for column in writer.sheets["scores"].iter_cols():
            longest = max(len(str(cell.value or "")) for cell in column[:MOST_MEASURED])
            writer.sheets["scores"].column_dimensions[column[0].column_letter].width = min(longest + 2, WIDEST)
        for row in writer.sheets["scores"].iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    cell.data_type = "s"
    return _undated(stream.getvalue())


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


def write_whole(path: Path, content: bytes, *, over_record: bool = False) -> None:
    """Write a file whole or not at all: the old one stays until the new one is complete.

    Parameters
    ----------
    over_record : whether `content` is a record with a correction more, which alone may take a record's place

    Raises
    ------
    FileError
        The folder is not there, a record stands in the way, or the file cannot be written.
    """
    check_folder(path)
    if not over_record:
        check_no_record(path)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            os.chmod(name, 0o666 & ~_umask())
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as fault:
        reason = fault.strerror or str(fault)
        raise FileError(
            [Problem(Place(str(path)), f"it cannot be written ({reason})", "a file that can be written")]
        ) from None


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


def check_no_record(path: Path) -> None:
    """Refuse a path where a record of a publication stands: what was published is never written over.

    Raises
    ------
    FileError : a record stands there
    """
    if _is_record(path):
        hint = "Use another name; only `steelyard record --corrects` adds to a record."
        raise FileError([Problem(Place(str(path)), "a steelyard record stands there", "a path that is free", hint)])


def _is_record(path: Path) -> bool:
    """By the first or (its keys may have been sorted since) the last bytes of a file; one that cannot be read is none."""
    if not os.path.isfile(path):
        return False
    try:
        with path.open("rb") as stream:
            head = stream.read(MARKED_WITHIN)
            stream.seek(max(path.stat().st_size - MARKED_WITHIN, 0))
            return any(RECORD_MARK.search(part) for part in (head, stream.read(MARKED_WITHIN)))
    except OSError:
        return False


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
