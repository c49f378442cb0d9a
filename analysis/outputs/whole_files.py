"""Single files, written whole or not at all: beside the target first, then put into its place.

Locks are the system's, on open files: given back by themselves when their holder ends, however it ends.
"""

from __future__ import annotations

import os
import secrets
import stat
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from analysis.outputs.guard import Guard, check_folder, check_writable, told_as_faults
from scoring.errors import FileError, Place, Problem

LOCK = ".steelyard-lock"
#: Characters of a target's name that stand in the names of its lock and of what is half-written beside it.
MOST_OF_A_NAME = 40

if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_LOCK, 1)

    def take_at_once(descriptor: int) -> bool:
        """Whether the lock of an open file was free, and is now held."""
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX)

    def take_at_once(descriptor: int) -> bool:
        """Whether the lock of an open file was free, and is now held."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextmanager
def locked(target: Path) -> Iterator[None]:
    """Hold the lock of what is to be replaced at `target`; whoever else wants it waits.

    The lock is a file beside the target, since the target itself is replaced. It is taken away before it is given back, so
    that a lock on a file which is not there any more counts for nothing.

    Raises
    ------
    OSError : the folder takes no file, or its file system knows no locks
    """
    path = target.with_name(f".{target.name[:MOST_OF_A_NAME]}{LOCK}")
    while True:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
        try:
            _take(descriptor)
            if _is_at(descriptor, path):
                break
        except BaseException:
            os.close(descriptor)
            raise
        os.close(descriptor)
    try:
        yield
    finally:
        with suppress(OSError):  # where an open file cannot be taken away, it stays, and means nothing
            path.unlink()
        os.close(descriptor)


def _is_at(descriptor: int, path: Path) -> bool:
    """Whether an open file is the one that stands at `path` now."""
    try:
        return os.path.samestat(os.fstat(descriptor), path.stat())
    except FileNotFoundError:
        return False


#: The end of the name of what is half-written.
PART = ".steelyard-part"


def write_whole(path: Path, content: bytes | Iterable[bytes], guard: Guard) -> None:
    """Write a file that may take the place of an older one of steelyard's; a link is followed, and a mode kept.

    `content` may come in pieces.

    Raises
    ------
    FileError
        The folder is not there, something stands there that must stay (see `Guard`), or the file cannot be written.
    """
    target = Path(os.path.realpath(path))
    guard.check(path)
    with told_as_faults(path), _beside(target, content) as part:
        while not _put_new(part, target):
            guard.check(path)  # it may have come since
            if target.exists():
                _keep_mode(part, target)
                os.replace(part, target)
                break
        settle(target.parent)


def create_whole(path: Path, content: bytes, hint: str) -> None:
    """Write a file that must be new, even where somebody else is writing it at the same moment.

    Raises
    ------
    FileError
        Something stands there (`hint` says what to do), the folder is not there, or the file cannot be written.
    """
    check_folder(path)
    with told_as_faults(path):
        there = os.path.lexists(path)
        if not there:
            with _beside(path, content) as part:
                there = not _put_new(part, path)
                settle(path.parent)
    if there:
        raise FileError([Problem(Place(str(path)), "a file that is there already", "a new file", hint)])


def replace_whole(path: Path, content: bytes) -> None:
    """Write what takes the place of a file that is there: a link is followed, mode and owner are kept.

    Raises
    ------
    FileError : it is read-only, its owner cannot be kept, or it cannot be written
    """
    target = Path(os.path.realpath(path))
    with told_as_faults(path), _beside(target, content) as part:
        check_writable(path)
        _keep_owner(part, target)
        _keep_mode(part, target)
        os.replace(part, target)
        settle(target.parent)


@contextmanager
def _beside(target: Path, content: bytes | Iterable[bytes]) -> Iterator[Path]:
    """The content in a file of its own beside the target, on the disk; it is gone at the end, unless it was moved.

    It is locked as long as it is written, which tells it from what a run that was killed left behind.
    """
    remove_parts(target)
    descriptor, part = _open_part(target)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.writelines([content] if isinstance(content, bytes) else content)
            stream.flush()
            os.fsync(stream.fileno())
            if os.name == "nt":  # an open file cannot be moved there
                stream.close()
            yield part
    finally:
        part.unlink(missing_ok=True)


def _open_part(target: Path) -> tuple[int, Path]:
    """A new file beside the target, open and locked."""
    while True:
        part = part_of(target)
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        if take_at_once(descriptor) and part.exists():  # else somebody who cleans up was quicker
            return descriptor, part
        os.close(descriptor)


def part_of(target: Path) -> Path:
    """A name beside the target for what is not whole yet, which nothing else has."""
    return target.with_name(f"{_beginning(target)}{secrets.token_hex(6)}{PART}")


def parts_of(target: Path) -> list[Path]:
    """What bears such a name beside the target; nothing in a folder that may be written into and not looked into."""
    beginning = _beginning(target)
    try:
        names = os.listdir(target.parent)
    except PermissionError:
        return []
    return [target.with_name(name) for name in sorted(names) if name.startswith(beginning) and name.endswith(PART)]


def _beginning(target: Path) -> str:
    return f".{target.name[:MOST_OF_A_NAME]}."


def remove_parts(target: Path) -> None:
    """Take away the half-written files of runs that were killed while they wrote `target`; not those of running ones."""
    for part in parts_of(target):
        if part.is_symlink() or not part.is_file():
            continue
        with suppress(FileNotFoundError, PermissionError):  # another run took it away, or it is another user's
            descriptor = os.open(part, os.O_RDWR)
            if take_at_once(descriptor):
                part.unlink()
            os.close(descriptor)


def _put_new(part: Path, target: Path) -> bool:
    """Give the finished file the target's name, unless something has it; whether that was done."""
    try:
        os.link(part, target)
    except FileExistsError:
        return False
    except OSError:  # a file system without second names: the name is taken first, and empty for a moment
        try:
            os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            return False
        os.replace(part, target)
    return True


def _keep_mode(part: Path, target: Path) -> None:
    os.chmod(part, stat.S_IMODE(target.stat().st_mode))


def _keep_owner(part: Path, target: Path) -> None:
    there, here = target.stat(), part.stat()
    if (there.st_uid, there.st_gid) != (here.st_uid, here.st_gid):
        os.chown(part, there.st_uid, there.st_gid)


def settle(folder: Path) -> None:
    """Have the system put the folder's names on the disk, where it can be asked to."""
    if os.name != "nt" and os.access(folder, os.R_OK):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
