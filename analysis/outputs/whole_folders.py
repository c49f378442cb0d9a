"""Folders of output, written whole or not at all: made beside the old one, which then gives way in one step.

A folder belongs to steelyard once its manifest says so. What another command wrote into it, and what somebody put there,
stays; what the same command wrote before goes. Two folders change names in one step where the system can do that.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from analysis.outputs.guard import Guard, told_as_faults
from analysis.outputs.manifest import NAME, Written, has_manifest, manifest_bytes, read_manifest, written
from analysis.outputs.whole_files import locked, part_of, parts_of, settle
from scoring.errors import FileError, Place, Problem

#: `renameat2` of Linux, from the working folder, with the flag that exchanges; `renamex_np` of macOS, with its flag.
AT_WORKING_FOLDER, LINUX_EXCHANGE, MACOS_SWAP = -100, 2, 2


def exchange(one: Path, other: Path) -> bool:
    """Give each of two folders the other's name, at once; False where system or file system cannot: nothing is done then."""
    if sys.platform not in ("linux", "darwin"):
        return False
    system = ctypes.CDLL(None)
    first, second = os.fsencode(one), os.fsencode(other)
    if hasattr(system, "renameat2"):
        failed = system.renameat2(AT_WORKING_FOLDER, first, AT_WORKING_FOLDER, second, LINUX_EXCHANGE)
    elif hasattr(system, "renamex_np"):
        failed = system.renamex_np(first, second, MACOS_SWAP)
    else:
        return False
    return bool(failed == 0)


EXPECTED = "a folder that can be written"
OWN = "Name a folder of its own, which may be new."
#: Names of strange files that a fault shows.
MOST_NAMED = 3


def write_folder(folder: Path, files: Mapping[str, bytes], guard: Guard, *, by: str) -> None:
    """Write all files of a command and a manifest into a folder, which is made where it is not there.

    Parameters
    ----------
    files : name to content, names without folders
    by : the command's name

    Raises
    ------
    FileError : the folder holds what must stay (see `check_folder_of_output`), or cannot be made, written or put in place
    """
    target = Path(os.path.realpath(folder))
    with told_as_faults(folder, EXPECTED):
        target.parent.mkdir(parents=True, exist_ok=True)
        with locked(target):
            before = check_folder_of_output(folder, guard, by=by, names=(NAME, *files))
            part = part_of(target)
            try:
                _fill(part, target, files, before, by)
                _put_in_place(part, target)
            finally:
                for left in parts_of(
                    target
                ):  # this one, and those of runs that were killed: nobody else holds the lock
                    _clear(left, target)
            settle(target.parent)


def check_folder_of_output(folder: Path, guard: Guard, *, by: str, names: Sequence[str] = ()) -> tuple[Written, ...]:
    """What the folder's manifest lists; a folder is refused that holds what must stay, or that cannot be replaced.

    Parameters
    ----------
    names : the files that are to be written, as far as they are known

    Raises
    ------
    FileError
        It holds a file that the command read. Or, but for `force`: it holds something and no manifest, or a file in the
        way that steelyard did not write or that was edited since. Or it is no folder of its own: a mounted one, or the
        working folder.
    """
    if not folder.exists():
        return ()
    place = Place(str(folder))
    entries = sorted(folder.iterdir())
    read = [entry.name for entry in entries if entry.is_file() and guard.was_read(entry)]
    if read:
        found = f"{read[0]} in it is a file that this command reads"
        raise FileError([Problem(place, found, "a folder without its inputs", OWN)])
    if os.path.ismount(folder) or Path(os.path.realpath(folder)) in (cwd := Path.cwd(), *cwd.parents):
        found = "the folder that you are in, or one mounted: it cannot be replaced as a whole"
        raise FileError([Problem(place, found, "a folder that can", "Name a folder in it.")])
    if not guard.force and entries and not has_manifest(folder):
        named = ", ".join(entry.name for entry in entries[:MOST_NAMED]) + (", ..." if len(entries) > MOST_NAMED else "")
        found = f"a folder that steelyard did not write, with {named}"
        more = f"{OWN} With `--force` what is in it stays, but for files of the same name."
        raise FileError([Problem(place, found, "a folder that is new, empty or its own", more)])
    listed = _listed(folder, guard)
    _check_in_the_way(folder, listed, guard, [*names, *(one.name for one in listed if one.by == by)])
    return listed


def _listed(folder: Path, guard: Guard) -> tuple[Written, ...]:
    """What the manifest lists; a manifest that was edited counts for nothing where files may be written over."""
    if not has_manifest(folder):
        return ()
    try:
        return read_manifest(folder)
    except FileError:
        if guard.force:
            return ()
        raise


def _check_in_the_way(folder: Path, listed: Sequence[Written], guard: Guard, names: Sequence[str]) -> None:
    """Refuse to write over, or take away, what is not as steelyard wrote it."""
    lines = {one.name: one for one in listed}
    for name in dict.fromkeys(names):
        path = folder / name
        is_as_written = name in lines and lines[name].stands_in(folder)
        if is_as_written or not os.path.lexists(path) or (name == NAME and has_manifest(folder)):
            continue
        problem = guard.problem(path)
        if problem is None and name in lines and not guard.force:
            hint = f"{OWN} With `--force` it is written over."
            problem = Problem(Place(str(path)), "a file that was changed since it was written", "one as written", hint)
        if problem is not None:
            raise FileError([problem])


def _fill(part: Path, target: Path, files: Mapping[str, bytes], before: Sequence[Written], by: str) -> None:
    """The new folder beside the old: its manifest first, the new files, then all that stays."""
    part.mkdir()
    others = [one for one in before if one.by != by and one.name not in files]
    new = [written(name, by, content) for name, content in files.items()]
    contents = {NAME: manifest_bytes([*others, *new]), **files}
    for name, content in contents.items():
        with (part / name).open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    if target.exists():
        gone = {one.name for one in before if one.by == by}
        for entry in os.scandir(target):
            if entry.name not in contents and entry.name not in gone:
                _carry(Path(entry.path), part / entry.name)
        shutil.copymode(target, part)
    settle(part)


def _carry(there: Path, here: Path) -> None:
    """What stays, under a second name, so that it is never gone; copied where files have one name only."""
    if there.is_dir() and not there.is_symlink():
        shutil.copytree(there, here, symlinks=True, copy_function=_second_name)
    else:
        _second_name(there, here)


def _second_name(there: Path | str, here: Path | str) -> None:
    try:
        os.link(there, here, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(there, here, follow_symlinks=False)


def _put_in_place(part: Path, target: Path) -> None:
    """The new folder takes the old one's name; the old one, where there is one, then bears a name of a part."""
    if not target.exists() or not any(target.iterdir()):
        with suppress(FileNotFoundError):
            target.rmdir()
        part.rename(target)
    elif not exchange(part, target):  # two steps: killed between them, both are there, whole, under names of parts
        target.rename(part_of(target))
        part.rename(target)


def _clear(left: Path, target: Path) -> None:
    """Take away an unfinished or a replaced folder: what its manifest lists and what stays in the target too.

    Whatever else came into it meanwhile is moved to the target.
    """
    if left.is_symlink() or not left.is_dir():
        return
    ours = {NAME}
    with suppress(FileError):  # killed while it wrote its manifest, which is its first file
        ours |= {one.name for one in read_manifest(left)}
    for entry in sorted(left.iterdir()):
        if entry.name in ours or os.path.lexists(target / entry.name):
            _take_away(entry)
        elif target.is_dir():
            entry.rename(target / entry.name)
    with suppress(OSError):
        left.rmdir()


def _take_away(entry: Path) -> None:
    if entry.is_dir() and not entry.is_symlink():
        shutil.rmtree(entry)
    else:
        entry.unlink()
