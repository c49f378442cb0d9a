"""A file that is read: its bytes, of a regular one and no more than a limit says, and these as text, in UTF-8."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

from scoring.errors import Place, Problem

#: What a path may be that is no regular file, by its kind.
_KINDS = {
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFSOCK: "a socket",
    stat.S_IFDIR: "a folder",
}
#: How a text in UTF-16 begins.
_MARKS = (b"\xff\xfe", b"\xfe\xff")


class TooLarge(OSError):
    """A file of more bytes than are read; `size` is how many, as far as that is known."""

    def __init__(self, size: int, most: int) -> None:
        super().__init__(errno.EFBIG, f"{size:_} bytes, and at most {most:_} are read".replace("_", " "))
        self.size = size


def file_bytes(path: Path, most: int) -> bytes:
    """The bytes of a regular file.

    Parameters
    ----------
    most : bytes

    Raises
    ------
    OSError : it cannot be read, or is a pipe, a device, a socket or a folder; `strerror` says which
    TooLarge : it holds more than `most` bytes
    ValueError : the path cannot be one

    Notes
    -----
    A pipe without a writer is opened without waiting for one, so that it is refused and nothing hangs.
    """
    _refuse_irregular(os.stat(path).st_mode)  # before it is opened: to open some devices is to use them
    with open(path, "rb", opener=_without_waiting) as stream:
        found = os.fstat(stream.fileno())
        _refuse_irregular(found.st_mode)
        if found.st_size > most:
            raise TooLarge(found.st_size, most)
        content = stream.read(found.st_size + 1)
        if len(content) > found.st_size:  # it grew, or is of those that do not say how long they are
            content += stream.read(most + 1 - len(content))
    if len(content) > most:
        raise TooLarge(len(content), most)
    return content


def _refuse_irregular(mode: int) -> None:
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, f"{_KINDS.get(stat.S_IFMT(mode), 'no regular file')}, where a file belongs")


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def decoded(content: bytes, source: str, hint: str) -> str | Problem:
    """The text of a UTF-8 file as it stands, a byte order mark included, or what is wrong with it.

    Other encodings are named where that is certain, and never guessed: the same bytes are other letters in each.
    """
    if content.startswith(_MARKS) or content[:4].count(0) == 2:
        return Problem(Place(source), "text in UTF-16", "text in UTF-8", hint)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        found = f"the byte 0x{content[fault.start]:02x}, which is not UTF-8"
        return Problem(Place(source, line), found, "text in UTF-8", hint)
