"""Locks of the system on open files: given back by themselves when their holder ends, however it ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

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
