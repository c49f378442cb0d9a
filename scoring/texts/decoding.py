"""Bytes of a text file as text: UTF-8, and what to say where they are something else."""

from __future__ import annotations

from scoring.errors import Place, Problem

_MARKS = (b"\xff\xfe", b"\xfe\xff")


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
