"""What a command must leave alone: the files that it read, records, and files that steelyard did not write."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from analysis.outputs.marks import is_ours, is_record
from scoring.errors import FileError, Place, Problem

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
