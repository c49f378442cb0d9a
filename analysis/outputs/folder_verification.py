"""Whether a folder of output is as it was written, by its manifest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from analysis.outputs.manifest import NAME, Written, fingerprint_of, read_manifest

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
