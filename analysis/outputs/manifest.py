"""The manifest of a folder of output: each file with its size and SHA-256, which command wrote it, and whether it still holds."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from analysis.json_shapes import each, found, keyed, misfits, number, one_of, text, too_deep
from analysis.json_text import digest_of, json_bytes
from scoring.errors import FileError, Place, Problem

NAME = "manifest.json"
KIND = "steelyard manifest of a folder of output"
FORMAT = 1
MOST_BYTES = 50_000_000
SHAPE = keyed(
    "The manifest of a folder of output.",
    {
        "manifest": one_of("What the file is.", (KIND,)),
        "format": number("The format of the manifest."),
        "fingerprint": text("The SHA-256 over all its lines."),
        "files": each(
            "The files, in order of name.",
            keyed(
                "A file.",
                {
                    "name": text("Its name."),
                    "by": text("The command that wrote it."),
                    "bytes": number("Its size."),
                    "sha256": text("The SHA-256 of what it holds."),
                },
            ),
        ),
    },
)
KEEP = "Take the folder from where it was kept, or write it anew."


@dataclass(frozen=True, slots=True)
class Written:
    """A file of a folder: its name, the command that wrote it, its size, its hash."""

    name: str
    by: str
    bytes: int
    sha256: str

    def stands_in(self, folder: Path) -> bool:
        """Whether the folder holds the file as it was written."""
        path = folder / self.name
        return path.is_file() and path.stat().st_size == self.bytes and hash_of(path) == self.sha256


def written(name: str, by: str, content: bytes) -> Written:
    """The line of a file."""
    return Written(name, by, len(content), hashlib.sha256(content).hexdigest())


def hash_of(path: Path) -> str:
    """The SHA-256 of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def fingerprint_of(files: Iterable[Written]) -> str:
    """The hash over all lines: a copy of it, kept elsewhere, finds a manifest that was made to fit."""
    return digest_of([asdict(one) for one in files])


def manifest_bytes(files: Iterable[Written]) -> bytes:
    """The manifest of these files, in order of name."""
    lines = sorted(files, key=lambda one: one.name)
    document = {"manifest": KIND, "format": FORMAT, "fingerprint": fingerprint_of(lines)}
    return json_bytes({**document, "files": [asdict(one) for one in lines]})


def has_manifest(folder: Path) -> bool:
    """Whether a folder holds a file of the manifest's name and kind."""
    path = folder / NAME
    try:
        with path.open("rb") as stream:
            return f'"manifest": "{KIND}"'.encode() in stream.read(4_096)
    except OSError:
        return False


def read_manifest(folder: Path) -> tuple[Written, ...]:
    """The files that a folder's manifest lists.

    Raises
    ------
    FileError : it cannot be read, is none, or was edited
    """
    path = folder / NAME
    document = _parsed(path)
    fault = next(misfits(SHAPE, document, "manifest"), None)
    if fault is not None:
        raise _refused(path, f"at {fault.where}: {fault.found}", fault.expected)
    if document["format"] != FORMAT:
        raise _refused(path, f"a manifest of format {found(document['format'])}", f"format {FORMAT}")
    files = tuple(Written(**line) for line in document["files"])
    strange = [one.name for one in files if Path(one.name).name != one.name or one.name in ("", NAME)]
    if strange:
        raise _refused(path, f"the file name `{strange[0][:40]}`", "names of files in this folder")
    if fingerprint_of(files) != document["fingerprint"]:
        raise _refused(path, "a manifest that is not as it was written", "one whose fingerprint holds")
    return files


def _parsed(path: Path) -> Mapping[str, Any]:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _refused(path, f"a file over {MOST_BYTES:_} bytes", "a manifest")
        document: Mapping[str, Any] = json.loads(path.read_bytes())
        if too_deep(document):
            raise ValueError("nested too deep")
    except (OSError, ValueError, RecursionError) as fault:
        reason = getattr(fault, "strerror", None) or "it is no JSON"
        raise _refused(path, f"a manifest that cannot be read ({reason})", "a manifest") from None
    return document


def _refused(path: Path, found: str, expected: str) -> FileError:
    return FileError([Problem(Place(str(path)), found, expected, KEEP)])


WHOLE, CHANGED, MISSING = "whole", "changed", "missing"


@dataclass(frozen=True, slots=True)
class FolderVerification:
    """What was found: of each listed file whether it is "whole", "changed" or "missing"; and what no line lists."""

    files: tuple[Written, ...]
    states: tuple[str, ...]
    not_listed: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether every listed file is as it was written; others may stand beside them."""
        return all(state == WHOLE for state in self.states)

    @property
    def fingerprint(self) -> str:
        """The hash over all lines of the manifest."""
        return fingerprint_of(self.files)


def verify_folder(folder: Path) -> FolderVerification:
    """Hold every file of a folder against its manifest.

    Raises
    ------
    FileError : the manifest cannot be read, or was edited
    """
    files = read_manifest(folder)
    listed = {NAME, *(one.name for one in files)}
    others = sorted(entry.name for entry in folder.iterdir() if entry.name not in listed)
    return FolderVerification(files, tuple(_states(files, folder)), tuple(others))


def _states(files: Sequence[Written], folder: Path) -> list[str]:
    there = [CHANGED if (folder / one.name).exists() else MISSING for one in files]
    return [WHOLE if one.stands_in(folder) else state for one, state in zip(files, there, strict=True)]


def folder_document(found: FolderVerification) -> dict[str, Any]:
    """Everything found, ready for JSON."""
    return {
        "holds": found.holds,
        "fingerprint": found.fingerprint,
        "files": [{**asdict(one), "state": state} for one, state in zip(found.files, found.states, strict=True)],
        "not_listed": list(found.not_listed),
    }
