"""Standard output as commands need it: a reader may go away, a disk may be full, and letters may not be known there."""

from __future__ import annotations

import codecs
import errno
import io
import os
import sys

#: Typographic signs, and what stands for each where they cannot be written; any other letter is written as `\\u017c`.
PLAIN = {"–": "-", "−": "-", "—": "-", "’": "'", "“": '"', "”": '"', "×": "x", "·": ".", "…": "...", "\u00a0": " "}
#: How those are looked up by the encoder.
PLAINER = "steelyard-plainer"
#: How a stream treats such letters where nobody said how.
UNSAID = ("strict", "surrogateescape")
#: What the system says of a pipe whose reader has gone.
GONE = {errno.EPIPE} if os.name != "nt" else {errno.EPIPE, errno.EINVAL}


class OutputFault(Exception):
    """Standard output cannot be written."""


class Descriptor(io.RawIOBase):
    """Standard output's own file. Once its reader has gone, or it failed, what is still written goes nowhere."""

    def __init__(self, number: int) -> None:
        self._number = number
        self._is_lost = False

    def writable(self) -> bool:
        """Yes."""
        return True

    def fileno(self) -> int:
        """Its number."""
        return self._number

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return os.isatty(self._number)

    def write(self, content: bytes) -> int:  # type: ignore[override]
        """Write what can be written.

        Raises
        ------
        OutputFault : the system's reason, once; a reader that has gone is none, and changes nothing of the work
        """
        if self._is_lost:
            return len(content)
        try:
            return os.write(self._number, content)
        except OSError as fault:
            self._is_lost = True
            if fault.errno in GONE:
                return len(content)
            raise OutputFault(fault.strerror or str(fault)) from None


def plainer(fault: UnicodeError) -> tuple[str, int]:
    """What is written for the letters that an encoding does not have."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    letters = fault.object[fault.start : fault.end]
    return "".join(PLAIN.get(c, c.encode("ascii", "backslashreplace").decode()) for c in letters), fault.end


def take_standard_output() -> None:
    """Put such a stream in the place of `sys.stdout`; where there is none, what is printed goes nowhere."""
    codecs.register_error(PLAINER, plainer)
    given = sys.stdout
    if given is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
        return
    given.flush()
    raw = Descriptor(given.fileno())
    sys.stdout = io.TextIOWrapper(
        io.BufferedWriter(raw),
        encoding=given.encoding,
        errors=PLAINER if given.errors in UNSAID else given.errors,
        line_buffering=raw.isatty(),
    )


def knows_every_letter() -> bool:
    """Whether standard output's encoding has a code for every letter, as UTF-8 has."""
    return codecs.lookup(sys.stdout.encoding or "utf-8").name.startswith("utf")
