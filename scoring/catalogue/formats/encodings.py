"""How the bytes of a text file are letters: UTF-8, UTF-16 by its mark, or what is said; never guessed."""

from __future__ import annotations

import codecs

from scoring.catalogue.formats.grid import TableFile
from scoring.errors import Place, Problem

_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
#: What Python calls encodings, and nobody writes files in.
_NO_FILES = frozenset(
    {"idna", "punycode", "unicode_escape", "unicode-escape", "raw_unicode_escape", "raw-unicode-escape"}
)
_SOME = b"    "
_TRY = "A recipe says in which encoding the file is: `encoding: windows-1252`, for example. Or save it in UTF-8."


def encoding_of(file: TableFile, problems: list[Problem]) -> str:
    """The encoding of a file, as Python calls it, once all of the file is known to be written in it; "" where it is not."""
    encoding = _named(file, problems) if file.options.encoding else _by_mark(file.content)
    if not encoding:
        return ""
    fault = _without_mark(file) if encoding == "utf-8-sig" else None
    fault = fault or _first_bad_byte(file, encoding)
    if fault is not None:
        problems.append(fault)
        return ""
    return encoding


def _by_mark(content: bytes) -> str:
    return "utf-16" if content.startswith(_UTF_16) else "utf-8-sig"


def _named(file: TableFile, problems: list[Problem]) -> str:
    """The encoding that is asked for; a mark before UTF-8 is none of its letters."""
    given = file.options.encoding
    if not _is_known(given):
        expected = "one that Python knows, as `utf-8`, `utf-16`, `windows-1252`, `iso-8859-15`, `mac-roman`"
        problems.append(Problem(Place(file.source), f"the encoding `{given}`", expected))
        return ""
    name = codecs.lookup(given).name
    return "utf-8-sig" if name == "utf-8" else name


def _is_known(encoding: str) -> bool:
    """Whether it is an encoding of letters."""
    try:
        name = codecs.lookup(encoding).name
        _SOME.decode(encoding)
    except UnicodeDecodeError:  # an encoding, of other bytes
        return True
    except (LookupError, ValueError):  # ValueError: a nought in its name
        return False
    return name not in _NO_FILES


def _without_mark(file: TableFile) -> Problem | None:
    """UTF-16 or UTF-32 that does not begin with its mark: a nought in every other byte."""
    if file.content[:4].count(0) != 2:
        return None
    written = "utf-16-be" if file.content[:1] == b"\0" else "utf-16-le"
    hint = f"A recipe says in which: `encoding: {written}`. Or save it in UTF-8."
    return Problem(Place(file.source), "text in UTF-16 without its mark", "text in UTF-8", hint)


def _first_bad_byte(file: TableFile, encoding: str) -> Problem | None:
    """What is wrong with a file that is not written in the encoding: the first byte, and its line."""
    try:
        file.content.decode(encoding)
    except UnicodeError as fault:
        start = fault.start if isinstance(fault, UnicodeDecodeError) else 0
        before = file.content[:start].decode(encoding, "replace")
        name = "UTF-8" if encoding == "utf-8-sig" else encoding
        found = f"the byte 0x{file.content[start]:02x}, which is not {name}"
        return Problem(Place(file.source, before.count("\n") + 1), found, f"text in {name}", _TRY)
    return None
