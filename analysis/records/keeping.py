"""Records on the disk: a new one where nothing is, a correction in the place of what was read, and of nothing else."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from analysis.outputs.guard import check_writable, told_as_faults
from analysis.outputs.locks import locked
from analysis.outputs.whole_files import create_whole, replace_whole
from analysis.records.document import RecordError, read_record, record_bytes
from analysis.records.record import Record
from scoring.errors import Place, Problem

NEW_NAME = "Use a new name; for a correction of it, `--corrects` it, with a `--cause`."


def keep_new(path: Path, document: dict[str, Any]) -> None:
    """Write a record where nothing is, even where somebody else is writing one there at the same moment.

    Raises
    ------
    FileError : something stands there, or nothing can be written
    """
    create_whole(path, record_bytes(document), NEW_NAME)


def keep_corrected(path: Path, document: dict[str, Any], before: Record) -> None:
    """Write a correction of the record `before`, which was read from `path`, into its place.

    A link stays one, mode and owner are kept.

    Raises
    ------
    RecordError : the record is another than was read: somebody else corrected it meanwhile
    FileError : it is read-only, or cannot be written
    """
    with told_as_faults(path), locked(Path(os.path.realpath(path))):
        check_writable(path)
        there = read_record(path)
        if there.fingerprint != before.fingerprint:
            found = (
                f"it was corrected meanwhile (its fingerprint is {there.fingerprint[:12]}..., and not as it was read)"
            )
            hint = "Nothing was written; run the same command again."
            raise RecordError([Problem(Place(str(path)), found, "the record as it was read", hint)])
        replace_whole(path, record_bytes(document))
